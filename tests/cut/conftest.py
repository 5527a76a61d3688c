"""Pieces drawn by hand, for checks that want closed forms instead of a garment."""

from collections.abc import Callable, Sequence

import numpy as np
import pytest

from likesewn.garment import Edge, PatternPiece
from likesewn.geometry import Path

PieceMaker = Callable[..., PatternPiece]


@pytest.fixture
def make_piece() -> PieceMaker:
    """Return a maker of pieces from corners, straight between them unless a path is given by edge number."""

    def make(
        corners: Sequence[tuple[float, float]], *, on_fold: bool = False, paths: dict[int, Path] | None = None
    ) -> PatternPiece:
        count = len(corners)
        edges = tuple(
            Edge(
                name=f"e{i}",
                base=f"e{i}",
                side="",
                start=f"c{i}",
                end=f"c{(i + 1) % count}",
                path=(paths or {}).get(i) or Path.line(corners[i], corners[(i + 1) % count]),
                fold=on_fold and i == count - 1,
            )
            for i in range(count)
        )
        return PatternPiece(
            "piece", "Piece", 1, on_fold, edges, {f"c{i}": np.array(at) for i, at in enumerate(corners)}
        )

    return make
