"""Does the measure that is advised help more than one taken at random? Random tops, against their truth."""

import numpy as np

from likesewn.garment import Figure, Record
from likesewn.truing.answer import Untrued, answer
from likesewn.truing.next_measure import next_measures
from likesewn.truing.places import places
from likesewn.truing.problem import Problem
from tops import TOP, basis, record

GARMENTS = 120
TAPE_SIGMA = 3.0


def solved(of: Record):
    found = answer(Problem(TOP, of))
    assert not isinstance(found, Untrued), found
    return found


def random_top(rng: np.random.Generator):
    """Return a top with figures of its own, each some way off from what is usual."""
    usual = basis(rng.uniform(420.0, 620.0))
    more = {"sleeve_width": 0.36, "cuff_width": 0.21, "hem_width": 1.02, "armhole_curve": 0.49}
    usual |= {key: share * usual["chest_width"] for key, share in more.items()}
    off = {key: mm * float(np.clip(rng.normal(1.0, 0.05), 0.9, 1.1)) for key, mm in usual.items()}
    return solved(record(**off))


def miss(found, truth) -> float:
    """Return the root mean square distance of the seam lines from the true ones, square to them, mm."""
    at = places(truth)
    off = at.rows @ (found.solution.x[: truth.problem.size] - truth.solution.x)
    return float(np.sqrt((at.length @ off**2) / at.length.sum()))


def test_the_advised_measure_beats_a_random_one(record_property):
    rng = np.random.default_rng(31)
    misses = {"before": [], "advised": [], "random": []}
    stated = []
    for _ in range(GARMENTS):
        truth = random_top(rng)
        true = dict(zip(truth.problem.derived_keys, truth.problem.measure(truth.solution.x)[0], strict=True))
        keys = list(true)
        taken = {"body_length", "chest_width", *rng.choice(keys, 3, replace=False)}
        read = {key: Figure(mm + rng.normal(0.0, TAPE_SIGMA), TAPE_SIGMA) for key, mm in true.items()}
        start = solved(Record("Top", TOP.name, tape={key: read[key] for key in taken}))
        untaken = [key for key in keys if key not in taken]
        advised = next(n for n in next_measures(start, places(start)) if n.key in untaken)
        stated.append((advised.before_mm, advised.after_mm))
        for name, key in (("advised", advised.key), ("random", untaken[rng.integers(len(untaken))])):
            tape = {k: read[k] for k in (*taken, key)}
            misses[name].append(miss(solved(Record("Top", TOP.name, tape=tape)), truth))
        misses["before"].append(miss(start, truth))
    rms = {name: float(np.sqrt(np.mean(np.square(values)))) for name, values in misses.items()}
    record_property("misses", ", ".join(f"{name} {mm:.1f} mm" for name, mm in rms.items()))
    before, after = np.sqrt(np.mean(np.square(stated), axis=0))
    record_property("stated", f"before {before:.1f} mm, after {after:.1f} mm")
    better = np.array(misses["random"]) - np.array(misses["advised"])
    record_property("advised beats random", f"{np.mean(better > 0):.2f}, as good {np.mean(better == 0):.2f}")
    assert rms["advised"] < 0.9 * rms["random"] < rms["before"]
