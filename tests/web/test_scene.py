import json
import re

import pytest

from likesewn.web.scene import LOOKS, TONES, Area, Backdrop, Handle, Line, Part, Scene, Text, lines_of
from top_scenes import scenes

PATH = re.compile(r"(M-?[\d.]+(e-\d+)? -?[\d.]+(e-\d+)?([LC][-\d. e]+)+Z?)+")
MOST_BYTES = 60_000


def parts_of(scene: Scene) -> list[Part]:
    return [item for item in scene.items if isinstance(item, Part)]


def everything(items: tuple) -> list:
    return [
        one
        for item in items
        for one in ([item, *everything(item.items)] if isinstance(item, Part) else [item])
    ]


@pytest.mark.parametrize("name", scenes())
def test_every_scene_keeps_the_rules_of_scenes(name: str) -> None:
    scene = scenes()[name]()
    assert scene.title
    assert scene.summary.endswith(".")
    left, top, right, bottom = scene.bounds
    assert right > left
    assert bottom > top
    ids = [h.id for h in scene.handles]
    for item in everything(scene.items):
        match item:
            case Line():
                assert item.look in LOOKS
                assert PATH.fullmatch(item.d), item.d[:80]
                assert not item.pick or (item.id and item.says)
                ids += [item.id] if item.pick else []
            case Area():
                assert item.tone in TONES
                assert PATH.fullmatch(item.d), item.d[:80]
            case Text():
                assert item.text
                assert item.tone in TONES
            case Part():
                assert item.says
                assert item.d or not item.pick
                ids.append(item.id)
    assert len(ids) == len(set(ids))
    assert all(h.says for h in scene.handles)


@pytest.mark.parametrize("name", scenes())
def test_every_scene_is_small_and_plain(name: str) -> None:
    data = scenes()[name]().to_data()
    text = json.dumps(data, separators=(",", ":"), allow_nan=False)
    assert len(text.encode()) < MOST_BYTES
    assert json.loads(text) == data


def test_what_is_usual_is_left_out() -> None:
    line = Line("M0 0L1 1", "cut")
    part = Part("front", "Front", (line, Text((1.234, 5.678), "x", 3.0)))
    data = Scene("A", "B.", (0.0, 0.0, 1.0, 1.0), (part, Area("M0 0L1 1Z", "piece"))).to_data()
    assert data == {
        "title": "A",
        "summary": "B.",
        "bounds": [0.0, 0.0, 1.0, 1.0],
        "unit": "cm",
        "scale": 1.0,
        "items": [
            {
                "is": "part",
                "id": "front",
                "says": "Front",
                "items": [
                    {"is": "line", "d": "M0 0L1 1", "look": "cut"},
                    {"is": "text", "at": [1.23, 5.68], "text": "x", "size": 3.0},
                ],
            },
            {"is": "area", "d": "M0 0L1 1Z", "tone": "piece"},
        ],
        "handles": [],
    }


def test_what_is_said_is_there() -> None:
    line = Line("M0 0L1 1Z", "shown", "seam", "A seam", closed=True, pick=True, faint=True)
    words = Text(
        (0.0, 0.0), "x", 15.0, "middle", -90.0, bold=True, tone="slate", fixed=True, room=40.0, id="t"
    )
    scene = Scene(
        "A",
        "B.",
        (0.0, 0.0, 1.0, 1.0),
        (line, words, Part("p", "P", (), "M0 0L1 1Z", "cloth", pick=True)),
        unit="in",
        scale=None,
        backdrop=Backdrop("/x.jpg", 10.0, 20.0, -0.5, -0.5, "A table"),
        handles=(Handle("h", (1.0, 2.0), "Corner", "picked", movable=False),),
        clip=(0.0, 0.0, 5.0, 5.0),
        paper=(-1.0, -1.0, 6.0, 6.0),
    )
    data = scene.to_data()
    assert (
        data["items"][0] | {"id": "seam", "says": "A seam", "closed": True, "pick": True, "faint": True}
        == (data["items"][0])
    )
    assert data["items"][1]["angle"] == -90.0
    assert data["items"][1]["room"] == 40.0
    assert data["items"][2] == {
        "is": "part",
        "id": "p",
        "says": "P",
        "d": "M0 0L1 1Z",
        "tone": "cloth",
        "pick": True,
        "items": [],
    }
    assert data["handles"] == [
        {"id": "h", "at": [1.0, 2.0], "says": "Corner", "look": "picked", "movable": False}
    ]
    assert data["backdrop"]["left"] == -0.5
    assert data["clip"] == [0.0, 0.0, 5.0, 5.0]
    assert data["paper"] == [-1.0, -1.0, 6.0, 6.0]
    assert data["scale"] is None


def test_lines_of_parts_are_lines_too() -> None:
    one, two = Line("M0 0L1 1", "cut"), Line("M0 0L2 2", "seam")
    assert list(lines_of((Part("p", "P", (one,)), two))) == [one, two]
