"""A garment whose halves differ, copied as it is."""

from dataclasses import replace
from datetime import date
from time import perf_counter

import numpy as np
import pytest

from likesewn.garment import Record
from likesewn.garment.uneven import uneven_kind
from likesewn.geometry import closest, point_at
from likesewn.job import Job, run
from remeasured import HALF, NEEDED, known, points, tape, traced
from tops import TOP, assert_met, assert_sewn, basis, record, trued
from tops import tape as figures

LOWER = 8.0
"""How much lower the left shoulder lies, square to it, mm."""


def uneven(**more) -> Record:
    entries = traced("front", "left", lay="", push={"shoulder": -LOWER}) + traced("front", "right", lay="")
    entries += [p for p in points(np.random.default_rng(4), 30) if p.piece != "front"]
    given = Record("Uneven", TOP.name, tape=figures(**NEEDED), points=tuple(entries), symmetric=False)
    return replace(given, **more)


def off(pattern, edge: str, *, left: bool, push: float = 0.0) -> float:
    """Return how far an edge of the front lies from the known one, mirrored and pushed out where asked."""
    path = known().piece("front").edge(edge).path
    at = point_at(path, np.linspace(0.0, path.length, 100))
    step = np.gradient(at, axis=0)
    at = at + push * np.stack([step[:, 1], -step[:, 0]], axis=1) / np.hypot(*step.T)[:, None]
    own = pattern.piece("front").edge(f"left_{edge}" if left else edge).path
    at = at * [-1.0 if left else 1.0, 1.0]
    return float(np.sqrt(np.mean(closest(own, at[8:-8]).distance ** 2)))


def test_what_differs_is_kept_and_sews_together():
    pattern = trued(uneven())
    assert_sewn(pattern)
    assert off(pattern, "shoulder", left=True, push=-LOWER) <= 0.6
    for edge in HALF:
        assert off(pattern, edge, left=False) <= 0.6, edge
        if edge not in {"shoulder", "armhole", "neckline"}:  # these end on the shoulder
            assert off(pattern, edge, left=True) <= 0.6, edge
    seams = {seam.name: seam for seam in pattern.seams}
    assert len(seams) == 2 * len(TOP.seams)
    for name in ("front armhole", "back armhole"):
        # each side has a sleeve of its own, which its front and back armhole must both meet
        assert seams[name].left_mm - seams[f"left {name}"].left_mm > 1.0


def test_each_half_is_sewn_to_the_one_it_is_worn_with():
    kind = uneven_kind(TOP)
    ends = {seam.name: {seam.left, seam.right} for seam in kind.seams}
    # seen right side up, the right half of the front is worn with the left half of the back
    assert ends["side"] == {"front.side", "back.left_side"}
    assert ends["left side"] == {"front.left_side", "back.side"}
    assert ends["front armhole"] == {"front.armhole", "sleeve.cap"}
    assert ends["back armhole"] == {"back.left_armhole", "sleeve.cap"}
    assert ends["left back armhole"] == {"back.armhole", "left_sleeve.cap"}
    (neck,) = kind.finishes
    assert neck.edges == ("front.neckline", "back.left_neckline", "back.neckline", "front.left_neckline")


def test_an_even_record_gives_an_even_garment():
    kept = trued(replace(record(**basis()), symmetric=False))
    assert_sewn(kept)
    assert_met(kept)
    for piece in ("front", "back"):
        corners = kept.piece(piece).corners
        for corner in TOP.piece(piece).corners:
            if corner.name not in TOP.piece(piece).fold_corners:
                mirrored = corners[f"left_{corner.name}"] * [-1.0, 1.0]
                assert corners[corner.name] == pytest.approx(mirrored, abs=0.05), corner.name
    lengths = [sum(e.path.length for e in kept.piece(n).edges) for n in ("sleeve", "left_sleeve")]
    assert lengths[0] == pytest.approx(lengths[1], abs=0.05)


def test_front_and_back_that_differ_open_both_sleeves_out():
    pattern = trued(uneven(tape=tape(np.random.default_rng(1), ["body_length", "chest_width"])
                           | figures(front_armhole_curve=250.0, back_armhole_curve=264.0)))  # fmt: skip
    assert_sewn(pattern)
    for name in ("sleeve", "left_sleeve"):
        assert not pattern.piece(name).on_fold


def test_the_whole_job_is_done_with_it():
    job = run(uneven(), TOP, today=date(2026, 11, 25), clock=perf_counter)
    assert isinstance(job, Job)
    assert not job.stopped, [f.message for f in job.findings]
    copies = {piece.name: piece.copies for piece in job.cut_list.pieces}
    assert copies == {"front": 1, "back": 1, "sleeve": 1, "left_sleeve": 1, "neckband": 1}
    (band,) = job.cut_list.bands
    necklines = [e.path.length for p in job.pattern.pieces for e in p.edges if "neckline" in e.name]
    assert band.edge_mm == pytest.approx(sum(necklines), abs=0.1)
    assert job.sewing.steps
