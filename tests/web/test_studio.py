"""The studio: what it says of photographs, and what happens to one that breaks it or takes too much."""

import asyncio
import io
import os
import signal
import subprocess
import sys

import cv2
import numpy as np
import pytest
from PIL import Image

from likesewn.errors import InputError
from likesewn.garment import load_kind, new_garment, read_garment
from likesewn.photo.seams import follow_seam
from likesewn.web.studio import BusyError, Studio
from patience import PATIENCE
from photo.drawn import HALF, picture, top
from photo.scene import Shape, photograph, random_scene

KIND = "set-in-sleeve-top"
RIGHT = np.array(list(HALF.values()), dtype=float)
TOP = np.concatenate([RIGHT, RIGHT[-2:0:-1] * [-1, 1]]) - [0, 300]
ASKED = {"kind": KIND, "face": "front", "thickness": "0 mm +- 0.5 mm"}


def jpeg(rgb, **more):
    out = io.BytesIO()
    Image.fromarray(rgb).save(out, "JPEG", quality=95, **more)
    return out.getvalue()


@pytest.fixture(scope="module")
def laid():
    """A photograph of a top among sheets, half a phone's resolution."""
    scene = random_scene(np.random.default_rng(1), count=4)
    scene.shapes = [Shape(TOP)]
    return jpeg(cv2.resize(photograph(scene, seed=1), None, fx=0.6, fy=0.6, interpolation=cv2.INTER_AREA))


@pytest.fixture(scope="module")
def plain():
    return jpeg(picture(top()[0]))


def with_studio(work, **limits):
    async def run():
        async with Studio(**limits) as studio:
            return await work(studio)

    return asyncio.run(run())


def test_a_preview_stands_upright_and_says_nothing_but_the_picture():
    exif = Image.Exif()
    exif[0x0112] = 6  # the camera was held on its side
    exif[0x010F] = "Maker"
    exif.get_ifd(0x8825).update({1: "N", 2: (52.0, 31.0, 12.0)})  # where it was taken
    rgb = np.full((1500, 3000, 3), 120, np.uint8)
    rgb[:, :300] = (250, 20, 20)
    data = jpeg(rgb, exif=exif, icc_profile=b"profile" * 20, comment=b"a remark") + b"PK\x03\x04 behind"
    looked = with_studio(lambda s: s.look(data, "../lay/front.jpg"))
    assert (looked.name, looked.width, looked.height) == ("front.jpg", 1500, 3000)
    assert (looked.preview_width, looked.preview_height, looked.scale) == (1200, 2400, 1.25)
    shown = Image.open(io.BytesIO(looked.preview))
    assert shown.size == (1200, 2400)
    red = np.asarray(shown)[100, 600]
    assert red[0] > red[1] + 100  # the left of the file is the top of the picture
    assert set(shown.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
    for hidden in (b"Exif", b"Maker", b"profile", b"remark", b"PK\x03\x04"):
        assert hidden not in looked.preview


def test_a_tracing_writes_a_garment_file_and_can_be_mended(laid):
    kind = load_kind(KIND)
    text = new_garment(kind, "cm")

    async def work(studio):
        first = await studio.trace([("front.jpg", laid)], ASKED, text)
        again = await studio.trace([("front.jpg", laid)], ASKED, first["text"], first["filled"])
        side = next(edge for edge in again["edges"] if edge["name"] == "front.side.left")
        drawn = [[x + 8.0, y] for x, y in side["px"][::6]]
        mended = {
            **ASKED,
            "edges": {"front.side.left": drawn, "front.neckline.right": drawn},
            "seams": [{"piece": "front", "edge": "armhole", "picked": [drawn[0], drawn[2]]}],
        }
        last = await studio.trace([("front.jpg", laid)], mended, again["text"], again["filled"])
        moved = await studio.trace([("front.jpg", laid)], {**mended, "seams": []})
        return first, again, drawn, last, moved

    first, again, drawn, last, moved = with_studio(work)
    assert first["filled"].keys() == {"body_length", "chest_width"}
    assert again["text"] == first["text"]  # tracing anew replaces what was traced
    assert again["filled"] == first["filled"]
    assert len(first["sheets"]) == 4
    assert first["mm_per_px"] == pytest.approx(0.9, abs=0.3)
    assert set(first["corners_px"]) == set(first["corner_names"])
    for edge in first["edges"]:
        assert len(edge["px"]) == len(edge["mm"])
        assert np.min(np.hypot(*(np.array(edge["px"])[0] - np.array(first["outline_px"])).T)) < 0.1
    edges = {edge["name"]: edge for edge in last["edges"]}
    own = edges["front.side.left"]
    assert own["placed"]
    assert not edges["front.side.right"]["placed"]
    assert np.allclose(own["px"], drawn, atol=0.01)  # there and back through the plane
    was = np.array(next(e for e in first["edges"] if e["name"] == "front.side.left")["mm"])[::6]
    shift = np.hypot(*(np.array(own["mm"]) - was).T)
    assert shift == pytest.approx(8.0 * last["mm_per_px"], rel=0.1)
    assert own["sigma_mm"] > 1.5 * last["mm_per_px"]
    assert edges["front.neckline.right"]["placed"]  # one that the tracing did not find
    record = read_garment(last["text"])
    assert [photo.file for photo in record.photos] == ["front.jpg"]
    points = {(p.piece, p.edge, p.side): p for p in record.points}
    assert len(points) == len(record.points) == len(last["edges"])
    assert np.allclose(points["front", "side", "left"].at, own["mm"], atol=0.01)
    assert ("front", "armhole", edges_side(last)) in points
    assert moved["text"] is None
    assert "front.armhole" not in {f"{e['piece']}.{e['edge']}" for e in moved["edges"]}


def edges_side(data):
    return next(edge["side"] for edge in data["edges"] if edge["edge"] == "armhole")


def test_a_seam_is_followed_in_the_picture_that_is_kept_open(plain):
    picked = [[150.0, 100.0], [230.0, 220.0]]

    async def work(studio):
        first = await studio.follow(plain, picked)
        kept = studio._workers[0].kept
        return first, await studio.follow(plain, picked), kept

    first, second, kept = with_studio(work)
    rgb = np.asarray(Image.open(io.BytesIO(plain)))
    assert first == second == follow_seam(rgb, picked).round(2).tolist()
    assert len(kept) == 1


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"kind": "sock"}, "no such kind"),
        ({"colour": "red"}, "no such key"),
        ({**ASKED, "corners": {"elbow": [3, 4]}}, "no such corner"),
        ({**ASKED, "corners": {"underarm_left": [3, 40_000]}}, "outside the photograph"),
        ({**ASKED, "corners": {"underarm_left": [float("nan"), 4]}}, "not points"),
        ({**ASKED, "corners": [1, 2]}, "not a table"),
        ({**ASKED, "face": "sleeve"}, "does not face up"),
        ({**ASKED, "edges": {"front.side.left": [[1, 2], [3, 4]]}}, "not points"),
        ({**ASKED, "edges": {"front.side.left": [[1, 2], [3, 4], [5, 9_000]]}}, "outside the photograph"),
        ({**ASKED, "edges": {"front.brim.left": [[1, 2], [3, 4], [5, 6]]}}, "no such edge"),
        ({**ASKED, "edges": {"front.side.up": [[1, 2], [3, 4], [5, 6]]}}, "left or right"),
        ({**ASKED, "seams": [{"piece": "front", "edge": "armhole", "picked": [[1, 2]]}]}, "not points"),
        ({**ASKED, "garment": [[[1, 2]] * 6000]}, "not points"),
        ({**ASKED, "rectangle": [5, 5, 6, 6]}, "not a rectangle"),
        ({**ASKED, "thickness": "thick"}, "length"),
        ({**ASKED, "rulers": ["3 cm"]}, "200 mm ruler"),
        ({**ASKED, "thing": {"what": "hat", "corners": []}}, "known size"),
        ({**ASKED, "photo": 1}, "no such photograph"),
        ({**ASKED, "photo": "first"}, "not a photograph's place"),
        ({**ASKED, "known": {"measure": "hem_colour", "length": "3 cm"}}, "no two corners"),
    ],
)
def test_what_cannot_be_asked_is_refused_in_words(studio_in_a_loop, plain, asked, words):
    with pytest.raises(InputError, match=words):
        studio_in_a_loop(lambda studio: studio.trace([("a.jpg", plain)], asked))


@pytest.fixture(scope="module")
def studio_in_a_loop():
    """A studio that stays open over several tests."""
    with asyncio.Runner() as runner:
        studio = runner.run(_opened())
        yield lambda work: runner.run(_called(work, studio))
        runner.run(studio.close())


async def _opened():
    return Studio()


async def _called(work, studio):
    return await work(studio)


@pytest.mark.skipif(sys.platform == "win32", reason="Windows cannot halt a process by a signal")
def test_one_that_takes_too_long_is_ended_and_the_next_is_served(plain):
    async def work(studio):
        await studio.start()
        halted = studio._workers[0]._process
        os.kill(halted.pid, signal.SIGSTOP)
        with pytest.raises(InputError, match="more than 4 seconds"):
            await studio.trace([("slow.jpg", plain)], ASKED)
        studio._workers[0]._seconds = PATIENCE  # the next may take its time
        return halted.returncode, await studio.follow(plain, [[10, 10], [20, 20]])

    ended, path = with_studio(work, seconds=4)
    assert ended == -signal.SIGKILL
    assert len(path) > 5


def test_one_that_takes_too_much_memory_is_refused_and_the_next_is_served(plain):
    rgb = np.zeros((9000, 12_000, 3), np.uint8)
    data = cv2.imencode(".jpg", rgb)[1].tobytes()

    async def work(studio):
        with pytest.raises(InputError, match="too large to open"):
            await studio.look(data, "huge.jpg")
        return await studio.look(plain, "plain.jpg")

    assert with_studio(work, memory_mb=900).width == 420


@pytest.mark.skipif(sys.platform == "win32", reason="Windows cannot halt a process by a signal")
def test_a_worker_that_dies_is_replaced(plain, laid):
    async def work(studio):
        await studio.look(plain, "a.jpg")
        worker = studio._workers[0]
        first = worker._process.pid
        os.kill(first, signal.SIGSTOP)  # so that it cannot be done before it dies
        job = asyncio.create_task(studio.trace([("b.jpg", laid)], ASKED))
        await asyncio.sleep(0.3)
        os.kill(first, signal.SIGKILL)
        with pytest.raises(InputError, match="could not be worked on"):
            await job
        # one that died while nothing was asked of it does not even show
        looked = await studio.look(plain, "a.jpg")
        os.kill(worker._process.pid, signal.SIGKILL)
        await worker._process.wait()
        return first, worker, looked, await studio.look(plain, "a.jpg")

    _, _, looked, again = with_studio(work)
    assert looked == again


@pytest.mark.skipif(sys.platform == "win32", reason="Windows cannot halt a process by a signal")
def test_a_caller_that_goes_away_leaves_no_wrong_answer_behind(plain, laid):
    async def work(studio):
        await studio.start()
        halted = studio._workers[0]._process
        os.kill(halted.pid, signal.SIGSTOP)  # so that it cannot be done before its caller goes
        job = asyncio.create_task(studio.trace([("b.jpg", laid)], ASKED))
        await asyncio.sleep(0.2)
        job.cancel()
        os.kill(halted.pid, signal.SIGCONT)
        with pytest.raises(asyncio.CancelledError):
            await job
        return await studio.look(plain, "a.jpg")

    assert with_studio(work).width == 420


def test_more_than_may_wait_are_told_so(plain):
    async def work(studio):
        jobs = [asyncio.create_task(studio.look(plain, f"{i}.jpg")) for i in range(5)]
        return await asyncio.gather(*jobs, return_exceptions=True)

    done = with_studio(work, waiting=2)
    assert [isinstance(one, BusyError) for one in done] == [False] * 3 + [True] * 2


def test_two_workers_work_at_the_same_time(plain):
    async def work(studio):
        await asyncio.gather(*(studio.look(plain, f"{i}.jpg") for i in range(4)))
        return {worker._process.pid for worker in studio._workers if worker._process is not None}

    assert len(with_studio(work, workers=2)) == 2


HARM = """
import sys
from likesewn.web.studio import worker
worker._limit_process(2500)
sys.addaudithook(worker._refuse)
import os, pathlib, socket, subprocess
harm = {
    "connect": lambda: socket.create_connection(("127.0.0.1", int(sys.argv[1])), 2),
    "write": lambda: open(sys.argv[2], "w"),
    "remove": lambda: os.remove(sys.argv[2]),
    "rename": lambda: os.rename(sys.argv[2], sys.argv[2] + "x"),
    "system": lambda: os.system("true"),
    "start": lambda: subprocess.run(["true"]),
    "fork": os.fork,
    "descriptor": lambda: os.write(os.open(sys.argv[2], os.O_WRONLY | os.O_APPEND), b"more"),
    "memory": lambda: bytearray(4_000_000_000),
}
for name, act in harm.items():
    try:
        act()
    except (OSError, MemoryError) as error:
        print(name, type(error).__name__)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such limits")
def test_a_worker_cannot_reach_out(tmp_path):
    mine = tmp_path / "mine.txt"
    mine.write_text("mine", encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-c", HARM, "9", str(mine)],
        capture_output=True,
        text=True,
        check=True,
        timeout=PATIENCE,
    )
    refused = dict(line.split() for line in done.stdout.splitlines())
    assert refused == {
        **dict.fromkeys(
            ("connect", "write", "remove", "rename", "system", "start", "fork"), "PermissionError"
        ),
        "descriptor": "OSError",
        "memory": "MemoryError",
    }
    assert mine.read_text(encoding="utf-8") == "mine"
