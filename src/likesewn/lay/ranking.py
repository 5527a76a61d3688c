"""Which folding is best: all of them tried, the least cloth first, each with its reason."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from likesewn.cut.cutlist import CutList
from likesewn.garment import Cloth
from likesewn.lay.choices import Choices
from likesewn.lay.laying import lay
from likesewn.lay.plan import Plan
from likesewn.lay.remarks import folding_words
from likesewn.lay.ways import PLANNED
from likesewn.units import format_length

__all__ = ["Ranked", "rank_foldings"]


@dataclass(frozen=True, slots=True, eq=False)
class Ranked:
    """One folding.

    Attributes:
        folding: How the cloth is folded.
        plan: Its plan; one that is stopped takes no pieces.
        reason: What speaks for it or against it, in words.
    """

    folding: str
    plan: Plan
    reason: str

    @property
    def cuts(self) -> int:
        """How many outlines are cut; pieces cut together count once."""
        return sum(not (placed.along_with and placed.top > 1) for placed in self.plan.placed)


def rank_foldings(
    cut_list: CutList, name: str, cloth: Cloth, choices: Choices | None = None
) -> tuple[Ranked, ...]:
    """Return every folding, the one that takes least cloth first; arguments as for ``lay``.

    Where two take the same length to buy, the one with fewer outlines to cut comes first.
    """
    choices = choices or Choices()
    pieces = tuple(piece for piece in cut_list.pieces if piece.cloth == name)
    titles = {piece.name: piece.title for piece in pieces}
    ranked: list[Ranked] = []
    for folding in PLANNED:
        other = {name: replace(cloth, folding=folding)}
        (plan,) = lay(replace(cut_list, pieces=pieces), other, choices, compare=False)
        ranked.append(Ranked(folding, plan, ""))
    ranked.sort(key=lambda one: (one.plan.stopped, one.plan.buy_mm, one.cuts, one.plan.length_mm))
    return tuple(replace(one, reason=_reason(one, ranked, titles, choices.unit)) for one in ranked)


def _reason(one: Ranked, others: Sequence[Ranked], titles: Mapping[str, str], unit: str) -> str:
    words = folding_words(one.folding)
    if one.plan.stopped:
        why = next((f.message for f in one.plan.findings if f.weight.value == "stop"), "")
        return f"{words}: does not fit. {why}".strip()
    parts = [format_length(one.plan.length_mm, unit)]
    fewest = min(other.cuts for other in others if not other.plan.stopped)
    joint = [p for p in one.plan.placed if p.along_with and p.top == 1]
    parts += [
        f"{titles[placed.piece].lower()} and {titles[placed.along_with].lower()} in one cut"
        for placed in joint
    ]
    parts.append(f"{one.cuts} outlines to cut" + (", the fewest" if one.cuts == fewest else ""))
    return f"{words}: {', '.join(parts)}"
