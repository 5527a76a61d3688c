"""Geometry is imported by every command, so that it must not bring the heavy libraries with it."""

import subprocess
import sys


def test_importing_geometry_loads_neither_scipy_nor_shapely():
    ask = "import sys, likesewn.geometry; print(sorted({'scipy', 'shapely'} & sys.modules.keys()))"
    found = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "[]"
