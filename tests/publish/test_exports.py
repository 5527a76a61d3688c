import subprocess
import sys

import pytest

import likesewn.publish


def test_every_name_that_is_offered_is_there() -> None:
    for name in likesewn.publish.__all__:
        assert callable(getattr(likesewn.publish, name))


def test_a_name_that_is_not_offered_is_refused() -> None:
    with pytest.raises(AttributeError, match="no attribute 'hologram'"):
        _ = likesewn.publish.hologram


def test_formats_load_only_when_they_are_used() -> None:
    code = (
        "import sys, likesewn.publish\n"
        "heavy = {'reportlab', 'shapely', 'numpy', 'scipy'} & set(sys.modules)\n"
        "sys.exit(', '.join(heavy) or None)\n"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stderr
