"""Killed at any moment, nothing is lost: a short run of the script, and a proof that it would tell."""

import importlib.util
import subprocess
import sys
from pathlib import Path

import pytest

from shelves import PNG, a_library, top

SCRIPT = Path(__file__).parents[2] / "scripts" / "kill_nine.py"

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="there is no SIGKILL")


@pytest.fixture(scope="module")
def script():
    spec = importlib.util.spec_from_file_location("kill_nine", SCRIPT)
    module = importlib.util.module_from_spec(spec)
    sys.modules["kill_nine"] = module
    spec.loader.exec_module(module)
    return module


def test_fifteen_kills_lose_nothing():
    done = subprocess.run(
        [sys.executable, SCRIPT, "--times", "15", "--seed", "4"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert "none lost" in done.stdout


LOSSES = ["nothing", "change", "text", "made up", "version", "make", "garment", "half a photo", "photo"]


@pytest.mark.parametrize("loss", LOSSES)
def test_a_loss_would_be_told(script, tmp_path, loss):
    with a_library(tmp_path) as library:
        photo = library.keep_photo(PNG, "png")
        garment = library.add(top(), {"photo": photo}).garment
        document = library.save(garment, 1, top(54), {"photo": photo}, said="54")
        library.keep_version(garment, 2)
        place = library.photo_path(photo)
    reports = script.Reports(newest={garment: (2, script.digest(document))})
    reports.versions[garment, 1] = script.digest(document)
    if loss == "nothing":
        assert script.check(tmp_path, 0, reports) == 1
        return
    {
        "change": lambda: reports.newest.update({garment: (3, "x")}),
        "text": lambda: reports.newest.update({garment: (2, "x")}),
        "made up": lambda: reports.newest.update({garment: (1, "x")}),
        "version": lambda: reports.versions.update({(garment, 1): "x"}),
        "make": lambda: reports.makes.update({(garment, 3): "longer"}),
        "garment": lambda: reports.newest.update({"0123456789abcdef": (1, "x")}),
        "half a photo": lambda: place.write_bytes(PNG[:-1]),
        "photo": place.unlink,
    }[loss]()
    with pytest.raises((SystemExit, LookupError)):
        script.check(tmp_path, 0, reports)
