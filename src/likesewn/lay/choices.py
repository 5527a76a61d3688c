"""What is chosen for a lay, whatever the cloth."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from likesewn.errors import Problem
from likesewn.garment.matching import MatchPoint
from likesewn.lay.effort import Effort

__all__ = ["Choices"]

_PART = re.compile(r"\[\d+\]$")
"""The end of a key that means one entry of a list; the file has a line for the whole list."""


@dataclass(frozen=True, slots=True)
class Choices:
    """What every lay of a garment is asked with: on its own cloths, on others, folded in other ways.

    Attributes:
        unit: Unit for lengths in findings and for the length to buy.
        effort: How hard to look.
        leans: Angles off the grain at which a piece may lie besides 0, degrees, by piece.
        pairs: Names of pieces that can be cut together and trimmed (see ``alike_pairs``).
        points: Points at which stripes can be matched (see ``match_points``); a cloth names those that are.
        shrinkage: Share of its length that cloth loses in its first wash, where the cloth does not say.
        file: Name of the garment file that describes the cloths, or empty.
        lines: 1-based line of each dotted key in that file, for what is wrong with a cloth; may be empty.
    """

    unit: str = "cm"
    effort: Effort = field(default_factory=Effort)
    leans: Mapping[str, Sequence[float]] = field(default_factory=dict[str, Sequence[float]])
    pairs: Sequence[tuple[str, str]] = ()
    points: Sequence[MatchPoint] = ()
    shrinkage: float = 0.0
    file: str = ""
    lines: Mapping[str, int] = field(default_factory=dict[str, int])

    def placed(self, problem: Problem) -> Problem:
        """Return a problem of a cloth with the file and line that it comes from, where these are known."""
        listed = _PART.sub("", problem.key)
        for key in (listed, listed.replace("cloth.main.", "cloth.", 1)):
            part = problem.key[len(listed) :]
            if key in self.lines:
                return replace(problem, file=self.file, line=self.lines[key], key=key + part)
            # what is missing has the line of its table
            table = key.rpartition(".")[0]
            if table in self.lines:
                return replace(problem, file=self.file, line=self.lines[table], key=key + part)
        return problem
