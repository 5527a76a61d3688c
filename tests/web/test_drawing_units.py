"""The drawing component's arithmetic, tested where it runs: by node, without a browser."""

import os
import shutil
import subprocess
from pathlib import Path

import pytest

from patience import PATIENCE

HERE = Path(__file__).parent


def test_the_pure_modules_of_the_drawing() -> None:
    node = shutil.which("node")
    if node is None:
        if os.environ.get("CI"):
            pytest.fail("node is not installed, and the drawing's modules cannot be tested without it")
        pytest.skip("node is not installed")
    files = sorted((HERE / "drawing").glob("*.test.mjs"))
    assert files
    done = subprocess.run(
        [node, "--test", *map(str, files)], capture_output=True, text=True, timeout=PATIENCE, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert f"# pass {done.stdout.count('# Subtest: ')}" in done.stdout
