"""Places along the seam lines of an answer, and how each moves sideways with the unknowns."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from likesewn.geometry import bezier
from likesewn.truing.answer import Answer
from likesewn.truing.matrices import Sparse
from likesewn.truing.unknowns import EdgeRun

Array = NDArray[np.float64]

__all__ = ["Places", "places"]

ON_A_SPAN = 8
"""Places on each span: what is asked of them (how unsure, how far moved) changes slowly along a span."""


@dataclass(frozen=True, slots=True)
class Places:
    """Places along the seam lines, edge after edge.

    Attributes:
        runs: The edges.
        run: Place in ``runs`` of each place's edge, shape (n,).
        at: Where they stand in their panel's frame, shape (n, 2), mm.
        normal: Unit normals there, out of the piece, shape (n, 2).
        length: Length of seam line that each stands for, shape (n,), mm.
        rows: How far each moves along its normal, by the unknowns, shape (n, unknowns).
    """

    runs: tuple[EdgeRun, ...]
    run: NDArray[np.int64]
    at: Array
    normal: Array
    length: Array
    rows: Sparse


def places(found: Answer) -> Places:
    """Return places along every seam line, folds left out.

    Args:
        found: The answer of a solve.
    """
    problem = found.problem
    ctrl = problem.bezier_points(found.solution.x)
    runs = tuple(run for run in problem.unknowns.runs.values() if run.panel.piece.fold is not run.edge)
    segment = np.concatenate([np.arange(run.first, run.first + run.count) for run in runs])
    run = np.repeat(np.arange(len(runs)), [run.count for run in runs])
    share = (np.arange(ON_A_SPAN) + 0.5) / ON_A_SPAN
    segment, run = np.repeat(segment, ON_A_SPAN), np.repeat(run, ON_A_SPAN)
    t = np.tile(share, len(segment) // ON_A_SPAN)
    own = ctrl[segment]
    d = bezier.derivative(own, t)
    speed = np.hypot(d[:, 0], d[:, 1])
    normal = np.stack([d[:, 1], -d[:, 0]], axis=1) / np.maximum(speed, 1e-9)[:, None]
    by_curve = bezier.basis(t)[:, :, None] * normal[:, None, :]
    slopes = problem.unknowns.by_controls(by_curve, segment).reshape(-1, 8)
    rows = problem.by_unknowns(problem.unknowns.columns[segment], slopes)
    return Places(runs, run, bezier.position(own, t), normal, speed / ON_A_SPAN, rows)
