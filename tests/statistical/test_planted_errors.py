"""Is a planted error named? 200 sets of a full tape and a few points, one figure off by 4 to 10 sigma."""

from dataclasses import replace

import numpy as np

from likesewn.garment import Figure
from remeasured import TAPE_SIGMA, measured, true_figures
from tops import trued

SETS = 200
POINTS_EACH = 8

UNCHECKED = {"waist_level"}
"""Nothing else says how high the waist was measured, so nobody could find an error in it."""


def named(pattern) -> list[list[str]]:
    return [f.where.split(", ") for f in pattern.findings if f.code == "figures-disagree"]


def test_the_planted_figure_is_named_first_nine_times_in_ten(record_property):
    rng = np.random.default_rng(21)
    keys = [key for key in true_figures() if key not in UNCHECKED]
    first = anywhere = 0
    for _ in range(SETS):
        record = measured(rng, each=POINTS_EACH)
        key = keys[rng.integers(len(keys))]
        error = rng.uniform(4.0, 10.0) * rng.choice([-1.0, 1.0]) * TAPE_SIGMA
        wrong = Figure(true_figures()[key] + error, TAPE_SIGMA)
        groups = named(trued(replace(record, tape={**record.tape, key: wrong})))
        first += bool(groups) and groups[0][0] == key
        anywhere += any(key in group for group in groups)
    record_property("named", f"first {first / SETS:.3f}, at all {anywhere / SETS:.3f}")
    assert first >= 0.90 * SETS
    assert anywhere >= first


def test_right_figures_are_seldom_blamed(record_property):
    rng = np.random.default_rng(22)
    blamed = sum(bool(named(trued(measured(rng, each=POINTS_EACH)))) for _ in range(SETS))
    record_property("blamed", blamed / SETS)
    # stated: 5 in 100 for the local tests and 1 in 100 for the global one
    assert blamed <= 0.10 * SETS
