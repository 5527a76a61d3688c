"""Do the stated 95 % intervals hold the truth 93 to 97 times in 100? A known top, measured 500 times over.

The figures measured are kept as properties of the tests (``pytest --junitxml``); docs/method.md shows them.
"""

import numpy as np
import pytest

from likesewn.truing.answer import Untrued, answer
from likesewn.truing.explain import corner_places, edge_lengths
from likesewn.truing.pattern import pattern_of
from likesewn.truing.problem import Problem
from remeasured import known, measured, true_figures
from tops import TOP

TIMES = 500

KEYS = [key for key in true_figures() if key != "across_back"]
"""Front and back of the known top are alike: measured apart, chance would now and then tell them apart."""


def held(each: int, seed: int) -> dict[str, list[bool]]:
    """Return, for every figure told of the garment, whether its interval held the truth, each time."""
    rng = np.random.default_rng(seed)
    truth, figures = known(), true_figures()
    found: dict[str, list[bool]] = {}

    def note(name: str, error: float, sigma: float) -> None:
        if sigma > 1e-6:  # a corner on the fold has no x to be unsure of
            found.setdefault(name, []).append(abs(error) <= 1.96 * sigma)

    for _ in range(TIMES):
        told = answer(Problem(TOP, measured(rng, each=each, keys=KEYS)))
        assert not isinstance(told, Untrued), told
        for m in pattern_of(told).measures:
            note(f"measure {m.key}", m.value_mm - figures[m.key], m.sigma_mm)
        for edge in edge_lengths(told):
            piece, name = edge.name.split(".")
            note(
                f"edge {edge.name}", edge.length_mm - truth.piece(piece).edge(name).path.length, edge.sigma_mm
            )
        for c in corner_places(told):
            error = np.array(c.at) - truth.piece(c.piece).corners[c.corner]
            for axis in (0, 1):
                note(f"corner {c.piece} {c.corner} {'xy'[axis]}", error[axis], c.sigma_mm[axis])
    return found


@pytest.mark.parametrize(("each", "seed"), [(0, 11), (8, 12)], ids=["tape alone", "tape and points"])
def test_95_in_100_intervals_hold_the_truth(each, seed, record_property):
    found = held(each, seed)
    shares = {name: float(np.mean(times)) for name, times in found.items()}
    for sort in ("measure", "edge", "corner"):
        own = {name: share for name, share in shares.items() if name.startswith(sort)}
        mean, least, most = np.mean(list(own.values())), min(own.values()), max(own.values())
        record_property(sort, f"mean {mean:.3f}, least {least:.3f}, most {most:.3f} of {len(own)}")
        assert 0.93 <= mean <= 0.97, sort
    # three standard deviations of a share of 500, for each single figure
    low = 0.95 - 3.5 * (0.95 * 0.05 / TIMES) ** 0.5
    assert min(shares.values()) >= low, min(shares.items(), key=lambda pair: pair[1])
