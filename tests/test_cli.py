import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from likesewn.cli import common
from likesewn.errors import OutputError

FIGURES = {"body_length": "66", "chest_width": "52"}


def call(*arguments: str, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "PYTHONWARNINGS": "error", "COLUMNS": "100"}
    return subprocess.run(
        [sys.executable, "-m", "likesewn.cli", *arguments],
        capture_output=True,
        text=True,
        check=False,
        cwd=cwd,
        env=environment,
    )


@pytest.fixture(scope="module")
def filled(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("garment")
    file = folder / "top.toml"
    assert call("new", "set-in-sleeve-top", "--name", "Work top", "--out", str(file)).returncode == 0
    text = file.read_text(encoding="utf-8")
    for key, value in FIGURES.items():
        assert f'{key} = ""' in text
        text = text.replace(f'{key} = ""', f"{key} = {value}")
    file.write_text(text, encoding="utf-8")
    return file


@pytest.mark.parametrize("command", ["new", "make", "check", "buy", "lay", "demo"])
def test_each_command_helps_with_an_example(command):
    done = call(command, "--help")
    assert done.returncode == 0
    assert "Example: likesewn " + command in done.stdout
    assert "--json" in done.stdout


def test_new_unfilled_names_what_to_measure(tmp_path):
    file = tmp_path / "top.toml"
    call("new", "set-in-sleeve-top", "--unit", "in", "--out", str(file))
    done = call("make", str(file), "--out", str(tmp_path / "out"))
    assert done.returncode == 2
    for key in FIGURES:
        assert f"tape.{key}" in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "out").exists()


def test_new_does_not_overwrite(filled):
    before = filled.read_bytes()
    done = call("new", "set-in-sleeve-top", "--out", str(filled))
    assert done.returncode == 2
    assert "there already" in done.stderr
    assert filled.read_bytes() == before


def test_make_writes_everything(filled, tmp_path):
    out = tmp_path / "deep" / "out"
    done = call("make", str(filled), "--out", str(out), "--paper", "letter", "--json")
    assert done.returncode == 0, done.stderr
    names = {
        "pattern.svg",
        "pattern-letter.pdf",
        "truing.svg",
        "lay-plan.svg",
        "lay-plan.pdf",
        "sewing-plan.html",
        "summary.json",
    }
    assert {path.name for path in out.iterdir()} == names
    data = json.loads(done.stdout)
    assert json.loads((out / "summary.json").read_text(encoding="utf-8"))["measures"] == data["measures"]
    for key, asked in FIGURES.items():
        assert data["measures"][key]["asked_mm"] == pytest.approx(10 * float(asked))
        assert data["measures"][key]["value_mm"] == pytest.approx(10 * float(asked), abs=0.1)
    assert all(abs(seam["difference_mm"]) <= 0.01 for seam in data["seams"])
    assert {"true", "cut", "lay", "sew"} <= set(data["elapsed_s"])
    assert {a["key"] for a in data["assumptions"]} >= {"shoulder_width", "neck_width"}


def test_check_fails_on_figures_that_disagree(filled, tmp_path):
    text = filled.read_text(encoding="utf-8")
    bad = tmp_path / "bad.toml"
    figures = "shoulder_width = 42\nneck_width = 18\nshoulder_length = 16\nshoulder_drop = 4\n"
    bad.write_text(text.replace("body_length = 66", f"{figures}body_length = 66"), encoding="utf-8")
    done = call("check", str(bad))
    assert done.returncode == 1
    assert "cannot all be right" in done.stdout
    assert call("check", str(filled)).returncode == 0


def test_buy_answers_from_a_few_measures():
    given = [f"{key}={value}" for key, value in FIGURES.items()]
    done = call("buy", "set-in-sleeve-top", *given, "--width", "150", "--json")
    assert done.returncode == 0, done.stderr
    data = json.loads(done.stdout)
    assert 1000 <= data["buy_mm"] <= 2000
    assert data["buy_mm"] % 100 == pytest.approx(0)
    wrong = call("buy", "set-in-sleeve-top", "body_lenth=66")
    assert wrong.returncode == 2
    assert "body_length" in wrong.stderr


def test_errors_as_json_have_one_shape(tmp_path):
    done = call("make", str(tmp_path / "none.toml"), "--out", str(tmp_path / "o"), "--json")
    assert done.returncode == 2
    (problem,) = json.loads(done.stdout)["error"]["problems"]
    assert set(problem) == {"message", "found", "file", "line", "key", "allowed", "nearest", "todo"}
    assert call("new", "set-in-sleeve-tops").stderr.count("set-in-sleeve-top") >= 2


def test_unknown_paper_writes_nothing(filled, tmp_path):
    done = call("make", str(filled), "--out", str(tmp_path / "out"), "--paper", "papyrus")
    assert done.returncode == 2
    assert "a4" in done.stderr
    assert not (tmp_path / "out").exists()


def test_out_is_a_file(filled, tmp_path):
    taken = tmp_path / "taken"
    taken.write_text("mine", encoding="utf-8")
    done = call("make", str(filled), "--out", str(taken))
    assert done.returncode == 2
    assert "nothing was written" in done.stderr
    assert taken.read_text(encoding="utf-8") == "mine"


def test_a_full_disk_leaves_what_was_there(tmp_path, monkeypatch):
    (tmp_path / "a.txt").write_bytes(b"old")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(common.os, "fsync", full)
    with pytest.raises(OutputError, match="No space left"):
        common.write_all(tmp_path, {"a.txt": b"new", "b.txt": b"new"})
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == {"a.txt": b"old"}


def test_a_folder_that_takes_no_files(tmp_path, monkeypatch):
    import tempfile  # noqa: PLC0415

    def refused(**_: object) -> str:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(tempfile, "mkdtemp", refused)
    with pytest.raises(OutputError, match="Permission denied"):
        common.write_all(tmp_path, {"a.txt": b"new"})
    assert list(tmp_path.iterdir()) == []


def test_demo_writes_its_example_too(tmp_path):
    done = call("demo", "--out", "demo", "--no-open", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "demo" / "throwing-top.toml").exists()
    again = call("make", "demo/throwing-top.toml", "--out", "again", cwd=tmp_path)
    assert again.returncode == 0, again.stderr
    for name in ("pattern.svg", "pattern-a4.pdf", "truing.svg", "lay-plan.svg", "sewing-plan.html"):
        assert (tmp_path / "demo" / name).read_bytes() == (tmp_path / "again" / name).read_bytes()


def test_help_loads_no_heavy_package():
    code = (
        "import sys\nfrom typer.testing import CliRunner\nfrom likesewn.cli import app\n"
        "assert CliRunner().invoke(app, ['make', '--help']).exit_code == 0\n"
        "print([m for m in ('numpy', 'scipy', 'shapely', 'reportlab') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_the_whole_job_loads_only_what_it_needs():
    # images are read for photographs and the long search for open lays, neither of which is asked for
    heavy = ("cv2", "skimage", "scipy.optimize")
    code = f"import sys, likesewn.job\nprint([m for m in {heavy} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_what_stops_the_work_has_the_shape_of_every_finding(filled, tmp_path):
    text = filled.read_text(encoding="utf-8")
    figures = "neck_width = 50\nshoulder_width = 30\n"
    bad = tmp_path / "bad.toml"
    bad.write_text(text.replace("body_length = 66", f"{figures}body_length = 66"), encoding="utf-8")
    done = call("make", str(bad), "--out", str(tmp_path / "out"), "--json")
    assert done.returncode == 1
    data = json.loads(done.stdout)
    assert data["wrote"] == []
    assert any(finding["weight"] == "stop" for finding in data["findings"])
    for finding in data["findings"]:
        assert set(finding) == {"code", "weight", "where", "message", "amount", "limit", "unit", "todo"}
    assert not (tmp_path / "out").exists()


def test_check_walks_the_seams_and_draws_them(filled, tmp_path):
    done = call("check", str(filled), "--all", "--picture", str(tmp_path / "truing.svg"))
    assert done.returncode == 0, done.stderr
    for title in ("Sewn pairs", "Square corners", "What truing moved", "What to measure next", "Corners"):
        assert title in done.stdout
    picture = (tmp_path / "truing.svg").read_text(encoding="utf-8")
    for line in ("recorded", "trued", "fold"):
        assert f'data-line="{line}"' in picture
    told = json.loads(call("check", str(filled), "--json").stdout)
    before = {seam["name"]: abs(seam["difference_mm"]) for seam in told["before_truing"]["seams"]}
    after = {seam["name"]: abs(seam["difference_mm"]) for seam in told["seams"]}
    assert before.keys() == after.keys()
    assert max(after.values()) <= 0.01 < max(before.values())
    assert len(told["measure_next"]) == 3
    assert all(edge["sigma_mm"] > 0 for edge in told["edges"])
