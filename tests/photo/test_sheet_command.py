"""The command that writes reference sheets."""

import json
import subprocess
import sys

import pytest

from likesewn.publish.sheet_pdf import sheet_pdf


def call(*arguments):
    return subprocess.run(
        [sys.executable, "-m", "likesewn.cli", "sheet", *arguments],
        capture_output=True,
        text=True,
        check=False,
    )


def test_it_writes_the_sheets(tmp_path):
    file = tmp_path / "sheets.pdf"
    done = call("--paper", "letter", "--count", "2", "--out", str(file), "--json")
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout) == {"wrote": [str(file)]}
    assert file.read_bytes() == sheet_pdf("letter", 2)


@pytest.mark.parametrize(
    ("option", "value", "allowed"), [("--paper", "a3", "letter"), ("--count", "12", "1 to 8")]
)
def test_it_refuses_in_words(tmp_path, option, value, allowed):
    done = call(option, value, "--out", str(tmp_path / "sheets.pdf"))
    assert done.returncode == 2
    assert option in done.stderr
    assert allowed in done.stderr
    assert "Traceback" not in done.stderr
    assert not list(tmp_path.iterdir())


def test_help_has_an_example():
    assert "Example: likesewn sheet" in call("--help").stdout
