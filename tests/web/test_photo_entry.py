"""What a garment keeps of its photographs: read back as it was written, and nothing that does not fit."""

import json

import numpy as np
import pytest

from likesewn.garment import load_kind
from likesewn.web.photo_entry import Hint, PhotoEntry, Pictured, Seam, entries_of, free_name
from likesewn.web.studio.asking import read_lay

KIND = load_kind("set-in-sleeve-top")
DIGEST = "ab" * 32
PLAIN = PhotoEntry(digest=DIGEST, name="front.jpg", width=4000, height=3000)
FULL = PLAIN.but(
    face="back",
    thickness="3 mm",
    rulers=("199.2 mm", ""),
    hint=Hint(
        rectangle=(1, 2, 300, 400),
        round=((5, 6), (290, 8), (150, 390)),
        garment=(((1, 2), (3, 4)),),
        corners={"underarm_left": (10.5, 20.0)},
    ),
    edges={"back.side.left": ((0, 0), (50, 4), (100, 0))},
    seams=(Seam(piece="back", edge="armhole", picked=((1, 1), (9, 9))),),
    traced={"sheets": 4, "mm_per_px": None},
    used={"mark": "x", "filled": {}},
)


@pytest.mark.parametrize("entry", [PLAIN, FULL], ids=["plain", "full"])
def test_an_entry_comes_back_from_the_aside(entry):
    aside = {"photos": [json.loads(json.dumps(entry.data()))]}
    assert entries_of(aside) == (entry,)


def test_an_untouched_photograph_takes_four_words():
    assert set(PLAIN.data()) == {"digest", "name", "width", "height"}


@pytest.mark.parametrize(
    "wrong",
    [
        {"photos": "x"},
        {"photos": [1, None, {}, {"digest": "../x", "name": "a", "width": 1, "height": 1}]},
        {"photos": [PLAIN.data() | {"hint": {"corners": {"a": [1e9, 2]}}}]},
        {"photos": [PLAIN.data() | {"thing": [[1, 1]] * 9}]},
        {},
    ],
)
def test_what_does_not_fit_is_passed_over(wrong):
    assert entries_of(wrong) == ()


def test_the_studio_understands_what_is_asked():
    lay = read_lay(FULL.asked(KIND, "knit"))
    assert (lay.face, lay.thickness[0], lay.rulers_mm) == ("back", 3.0, (199.2,))
    assert lay.hint.rectangle == (1.0, 2.0, 300.0, 400.0)
    assert lay.hint.corners == {"underarm_left": (10.5, 20.0)}
    assert lay.hint.drawn.tolist() == [[5, 6], [290, 8], [150, 390]]
    edge = lay.placed["back", "side", "left"]
    np.testing.assert_allclose(edge[[0, -1]], [(0, 0), (100, 0)])
    assert len(edge) == 40
    assert [(seam.piece, seam.edge) for seam in lay.seams] == [("back", "armhole")]


def test_what_gives_the_scale_is_asked_for_alone():
    corners = ((0, 0), (300, 0), (300, 200), (0, 200))
    card = PLAIN.but(scale="card", thing=corners, measure="chest_width", length="52 cm")
    assert read_lay(card.asked(KIND, "")).thing.name == "card"
    assert read_lay(card.asked(KIND, "")).measure == ("", "")
    assert read_lay(card.but(scale="a4").asked(KIND, "")).thing.name == "a4 paper"
    assert read_lay(card.but(scale="measure").asked(KIND, "")).measure == ("chest_width", "52 cm")
    assert read_lay(card.but(scale="card", thing=()).asked(KIND, "")).thing is None


def test_a_mark_tells_of_every_change():
    marks = {
        entry.mark(entry.asked(KIND, construction))
        for entry in (PLAIN, FULL, FULL.but(edges={}), PLAIN.but(face="back"), PLAIN.but(more=(PLAIN,)))
        for construction in ("", "knit")
    }
    assert len(marks) == 10


def test_every_photograph_has_a_name_of_its_own():
    assert free_name("front.jpg", []) == "front.jpg"
    assert free_name("front.jpg", [PLAIN]) == "front (2).jpg"
    assert free_name("front.jpg", [PLAIN, PLAIN.but(name="front (2).jpg")]) == "front (3).jpg"
    assert free_name("front", [PLAIN.but(name="front")]) == "front (2)"


def test_what_was_drawn_holds_its_photograph():
    other = Pictured(digest="cd" * 32, name="side.jpg", width=4000, height=3000)
    lay = PLAIN.but(more=(other,), hint=FULL.hint, drawn_in=other.digest)
    assert lay.held == 1
    assert lay.asked(KIND, "")["photo"] == 1
    assert lay.but(more=()).held is None  # that photograph is gone
    assert "photo" not in PLAIN.but(more=(other,)).asked(KIND, "")
    assert lay.undrawn().held is None


@pytest.mark.parametrize(
    ("scale", "by_thing"), [("sheets", False), ("measure", False), ("card", True), ("a4", True)]
)
def test_only_a_thing_that_gives_the_scale_is_asked_for(scale, by_thing):
    entry = PLAIN.but(scale=scale, thing=((0, 0), (90, 0), (90, 50), (0, 50)))
    assert entry.by_thing is by_thing
    assert ("thing" in entry.asked(KIND, "")) is by_thing


def test_what_was_traced_without_a_line_is_asked_for_as_before_there_were_lines():
    # the mark in the garment's aside tells whether the file holds this very tracing
    assert "round" not in PLAIN.asked(KIND, "knit")
