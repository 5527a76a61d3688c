"""A plain lay in rows, found at once: what many pieces are laid by first.

Each outline drops along the cloth until it meets those that already lie, at the place across the cloth where
it lands nearest to the start. That gives rows whose edges interlock a little; nothing is slipped into a gap
left behind. It needs no keep-outs, so that forty outlines take some hundredths of a second.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from likesewn.lay.board import Layout, Spot, Turn
from likesewn.lay.folds import Folded
from likesewn.lay.profile import COLUMN, Profile, drop, raise_front
from likesewn.lay.ways import Lie

Array = NDArray[np.float64]

__all__ = ["Rows"]


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """The starts of a lie that lie alike in their columns: its profile, first columns and shifts along y."""

    profile: Profile
    columns: NDArray[np.intp]
    shifts: Array


@dataclass(slots=True)
class Rows:
    """Lays outlines in rows on cloth without flaws.

    Attributes:
        cloth: The cloth as it lies.
        limit: Length there is, as it lies, mm.
    """

    cloth: Folded
    limit: float = math.inf
    _tracks: dict[int, tuple[Lie, tuple[Track, ...]]] = field(
        default_factory=dict[int, tuple[Lie, tuple[Track, ...]]]
    )

    def lay(self, turns: Sequence[Turn], within: float = math.inf) -> Layout | None:
        """Lay outlines in turn; see ``Board.lay``."""
        front = np.zeros(math.ceil(self.cloth.width / COLUMN) + 1)
        within = min(within, self.limit)
        spots: list[Spot] = []
        for turn in turns:
            best = (math.inf, math.inf)
            chosen, raised = None, front
            for lie in turn.unit.lies if turn.lie < 0 else (turn.unit.lies[turn.lie % len(turn.unit.lies)],):
                for track in self._of(lie):
                    x = drop(front, track.profile, track.columns)
                    at = len(x) - 1 - int(np.argmin(x[::-1])) if turn.rule % 2 else int(np.argmin(x))
                    end = float(x[at]) + lie.length
                    if end > best[0]:
                        continue
                    after = raise_front(front, track.profile, int(track.columns[at]), float(x[at]))
                    score = end, float(after.sum())
                    if score < best:
                        best, raised = score, after
                        chosen = Spot(turn.unit, lie, float(x[at]), float(track.shifts[at]))
            if chosen is None or chosen.end > within:
                return None
            spots.append(chosen)
            front = raised
        return Layout(tuple(spots), max(spot.end for spot in spots))

    def _of(self, lie: Lie) -> tuple[Track, ...]:
        if id(lie) not in self._tracks:
            low = float(lie.outline[:, 1].min())
            at = (lie.starts + low) / COLUMN
            columns = np.floor(at + 1e-9).astype(np.intp)
            phases = np.round((at - columns) * COLUMN, 6)
            level = lie.outline - np.array([0.0, low])
            tracks = tuple(
                Track(
                    Profile.of(level, max(float(phase), 0.0)),
                    columns[phases == phase],
                    lie.starts[phases == phase],
                )
                for phase in np.unique(phases)
            )
            self._tracks[id(lie)] = lie, tracks
        return self._tracks[id(lie)][1]
