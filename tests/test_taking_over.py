"""What truing made is taken over just where a record says the same to truing."""

from dataclasses import fields, replace
from datetime import date

import numpy as np
import pytest

from likesewn.examples import example_text
from likesewn.garment import Cloth, Fabric, Photo, Record, Wearer, load_kind, read_garment
from likesewn.job import NOT_TRUED, Stages, trued_alike
from likesewn.truing import explain

RECORD = read_garment(example_text("throwing-top"), "throwing-top.toml")
KIND = load_kind(RECORD.kind)
OTHERS = {
    "name": "Another",
    "size": "XL",
    "photos": (Photo("one.jpg", "front"),),
    "allowances": {"seam": 17.0, "front.hem": 40.0},
    "finish": {"neck": {"recorded_at": "finished edge", "finish": "facing"}},
    "finish_lengths": {"neck": {"old_width": 22.0}},
    "fabric": Fabric("woven", 0.1),
    "cloths": {"main": Cloth(900.0)},
    "grain": {"front": "bias"},
    "wearer": Wearer("another", 480.0),
    "machine": "zigzag",
    "for_child": True,
    "lines": {},
    "file": "another.toml",
}


def _stages(record: Record) -> Stages:
    return Stages(record, KIND, today=date(2026, 11, 25), clock=lambda: 0.0)


def test_what_is_said_to_be_no_matter_to_truing_is_none():
    assert set(OTHERS) == NOT_TRUED
    other = replace(RECORD, **OTHERS)
    assert all(getattr(other, f.name) != getattr(RECORD, f.name) for f in fields(Record) if f.name in OTHERS)
    one, two = explain(RECORD, KIND).pattern, explain(other, KIND).pattern
    for piece, same in zip(one.pieces, two.pieces, strict=True):
        for edge, alike in zip(piece.edges, same.edges, strict=True):
            assert np.array_equal(edge.path.segments, alike.path.segments)
    assert one.findings == two.findings
    assert one.measures == two.measures


def test_truing_is_taken_over_where_it_would_be_the_same():
    earlier, later = _stages(RECORD), _stages(replace(RECORD, **OTHERS))
    later.take_over(earlier)  # nothing is done yet, so nothing is there to be taken
    assert "explained" not in vars(later)
    done = earlier.explained
    later.take_over(earlier)
    assert later.explained is done


@pytest.mark.parametrize(
    "changed",
    [
        {"unit": "in"},
        {"symmetric": False},
        {"ease": {"side": 4.0}},
        {"tape": {**RECORD.tape, "hem_width": RECORD.tape["chest_width"]}},
    ],
)
def test_truing_is_done_afresh_where_it_might_differ(changed):
    earlier, later = _stages(RECORD), _stages(replace(RECORD, **changed))
    assert earlier.explained
    later.take_over(earlier)
    assert "explained" not in vars(later)
    assert not trued_alike(RECORD, later.record)
