"""The lay command as it is called from a shell."""

import json
import os
import re
import signal
import subprocess
import sys

import pytest

from likesewn.examples import example_text
from patience import PATIENCE
from test_cli import call

CLOTHS = """
[cloth.linen]
width = 140
length = 160

[cloth.scrap]
outline = [[0, 0], [60, 0], [60, 60], [0, 60]]
folding = "open"
"""


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    path = tmp_path_factory.mktemp("lay") / "top.toml"
    path.write_text(example_text("throwing-top") + CLOTHS, encoding="utf-8")
    return path


def test_a_plan_is_said_and_written(file, tmp_path):
    done = call("lay", str(file), "--steps", "40", "--out", str(tmp_path / "plan"))
    assert done.returncode == 0, done.stderr
    assert "buy 1.5 m" in done.stdout
    assert {path.name for path in (tmp_path / "plan").iterdir()} == {"lay-plan.svg", "lay-plan.pdf"}


def test_the_same_steps_give_the_same_answer(file):
    one, other = (call("lay", str(file), "--steps", "60", "--seed", "7", "--json") for _ in range(2))
    assert one.returncode == 0, one.stderr
    assert one.stdout == other.stdout
    (plan,) = json.loads(one.stdout)["plans"]
    assert plan["fits"]
    assert plan["bound_mm"] < plan["length_mm"] < plan["buy_mm"]


def test_foldings_are_ranked(file):
    done = call("lay", str(file), "--foldings", "--steps", "20", "--json")
    assert done.returncode == 0, done.stderr
    ranked = json.loads(done.stdout)["main"]
    assert len(ranked) == 6
    bought = [one["buy_mm"] for one in ranked if one["fits"]]
    assert bought == sorted(bought)
    assert any("in one cut" in one["reason"] for one in ranked)


def test_each_cloth_is_tried(file):
    done = call("lay", str(file), "--each-cloth", "--steps", "20", "--json")
    assert done.returncode == 0, done.stderr
    fits = {one["cloth"]: one for one in json.loads(done.stdout)["cloths"]}
    assert set(fits) == {"main", "linen", "scrap"}
    assert not fits["scrap"]["fits"]
    assert any(finding["weight"] == "stop" for finding in fits["scrap"]["findings"])


def test_cloth_that_does_not_do_ends_with_1(file, tmp_path):
    short = tmp_path / "short.toml"
    short.write_text(file.read_text(encoding="utf-8").replace("width = 150", "width = 150\nlength = 60"))
    done = call("lay", str(short), "--steps", "10")
    assert done.returncode == 1
    assert "does not fit" in done.stdout
    assert "Traceback" not in done.stderr


def test_cloth_that_cannot_be_ends_with_2(file, tmp_path):
    crossed = tmp_path / "crossed.toml"
    text = file.read_text(encoding="utf-8")
    text = text.replace("width = 150", "width = 150\noutline = [[0, 0], [9, 9], [9, 0], [0, 9]]")
    crossed.write_text(text, encoding="utf-8")
    done = call("lay", str(crossed), "--steps", "10")
    assert done.returncode == 2
    assert "crosses itself" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.skipif(sys.platform == "win32", reason="a signal cannot be sent to one process there")
def test_a_search_that_is_broken_off_keeps_its_best_plan(file, tmp_path):
    out = tmp_path / "plan"
    command = [sys.executable, "-m", "likesewn.cli", "lay", str(file), "--time", "300", "--cores", "1"]
    watching, screen = os.openpty()  # the search tells of each shorter lay where a person watches
    with subprocess.Popen(
        [*command, "--out", str(out)], stdout=subprocess.PIPE, stderr=screen, text=True
    ) as process:
        os.close(screen)
        seen = ""
        told = []
        while not told or told[-1] > told[0] - 5.0:
            seen += os.read(watching, 1024).decode()
            told = [float(length) for length in re.findall(r": ([\d.]+) cm ", seen)]
        process.send_signal(signal.SIGINT)
        said, _ = process.communicate(timeout=PATIENCE)
    os.close(watching)
    assert process.returncode == 0
    kept = re.search(r"folded: ([\d.]+) cm, buy", said)
    # both are told to 1 mm, one of them rounded up so that the cloth is enough
    assert float(kept[1]) < told[-1] + 0.15
    assert (out / "lay-plan.svg").exists()
