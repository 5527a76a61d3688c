"""What stands in for measures that were not taken."""

from collections.abc import Mapping

from likesewn.garment import Kind
from likesewn.garment.kind import Measure, StandIn

__all__ = ["stand_ins"]


def stand_ins(kind: Kind, given: Mapping[str, float]) -> dict[str, tuple[float, StandIn]]:
    """Return a value for every measure that was not taken and has something to stand in for it.

    Stand-ins may rest on one another; a measure takes the first of its own whose terms are known,
    those that rest on taken measures alone before those that rest on other stand-ins.

    Args:
        kind: The garment's kind.
        given: Measures taken, by key, mm.

    Returns:
        Value in mm and the stand-in used, by key.
    """
    found: dict[str, tuple[float, StandIn]] = {}
    waiting = [m for m in kind.measures.values() if m.key not in given and m.stand_in]
    taken = dict(given)
    for measure in waiting:
        _try(measure, given, found)
    while True:
        known = taken | {key: value for key, (value, _) in found.items()}
        left = [m for m in waiting if m.key not in found]
        for measure in left:
            if _try(measure, known, found):
                break
        else:
            return found


def _try(measure: Measure, known: Mapping[str, float], found: dict[str, tuple[float, StandIn]]) -> bool:
    for stand_in in measure.stand_in:
        if {*stand_in.terms, *stand_in.at_least} <= set(known):
            value = stand_in.plus + sum(f * known[k] for k, f in stand_in.terms.items())
            if stand_in.at_least:
                value = max(value, sum(f * known[k] for k, f in stand_in.at_least.items()))
            found[measure.key] = (min(max(value, measure.least), measure.most), stand_in)
            return True
    return False
