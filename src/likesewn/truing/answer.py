"""The answer of the solve: the unknowns that fit best, reached from the template, or why there are none."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property, partial
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from shapely import LinearRing

from likesewn.garment import PatternPiece
from likesewn.geometry import Path, bezier, self_crossings
from likesewn.truing.matrices import StepMatrix
from likesewn.truing.pieces import panel_paths, pattern_pieces
from likesewn.truing.problem import Problem
from likesewn.truing.solve import Linearised, Solution, minimise
from likesewn.truing.sureness import Prior, Sureness

if TYPE_CHECKING:
    from likesewn.truing.traced import Feet

Array = NDArray[np.float64]

__all__ = ["WEAK", "Answer", "Untrued", "answer", "prior_weight", "solved"]

WEAK = 1e-3
"""Weight of the prior against tape figures alone: what was observed moves by less than a thousandth of the
way to the usual shape, and what was not is still decided."""

POINTS_AT_FULL = 400
"""Traced points at which the prior gets its full weight. Every point brings noise, which would otherwise
shape whatever hangs on a traced edge and was not observed itself: an end tangent turned by a millimetre of
noise swings a whole seam."""

GENTLE = (1.0, 3e-2)
"""Weights gone through first where the direct way fails: from firm usual shapes on."""

CLOSE = 5.0
"""Points' feet are sought from where they were last, unless something moved further than this, mm."""

FOUGHT = 0.01
"""A condition whose gap is greater than this, mm, is named where no answer is reached."""


@dataclass(frozen=True, slots=True)
class Untrued:
    """No pattern: the conditions and figures cannot be brought together.

    Attributes:
        reason: Why, in words.
        conditions: The conditions and figures that fight, the worst first.
    """

    reason: str
    conditions: tuple[str, ...]


@dataclass(frozen=True)
class Answer:
    """Where the solve of a problem ended.

    Attributes:
        problem: The problem.
        solution: The unknowns and the problem linearised there.
        matrix: Layout of the solve's matrix.
        prior: Matrix and vector of the prior's terms.
        weight: The prior's weight.
    """

    problem: Problem
    solution: Solution
    matrix: StepMatrix
    prior: Prior
    weight: float

    @cached_property
    def paths(self) -> Mapping[tuple[str, str], Path]:
        """The edges by (panel, edge)."""
        return panel_paths(self.problem.unknowns, self.problem.bezier_points(self.solution.x))

    @cached_property
    def pieces(self) -> tuple[PatternPiece, ...]:
        """The pieces in the kind's order."""
        return pattern_pieces(self.problem.panels, self.paths)

    @cached_property
    def crossed(self) -> Mapping[str, int]:
        """How often each piece's outline crosses itself, where it does."""
        counted = {piece.name: _crossings(piece) for piece in self.pieces}
        return {name: count for name, count in counted.items() if count}

    @cached_property
    def feet(self) -> "Feet | None":
        """The traced points' feet; None without points."""
        return self.problem.feet(self.solution.x)

    @cached_property
    def sureness(self) -> Sureness:
        """How sure everything is."""
        return Sureness(self.problem, self.matrix, self.solution, self.prior, self.weight)


def answer(problem: Problem) -> Answer | Untrued:
    """Solve a problem.

    Args:
        problem: The problem.

    Returns:
        The answer, or why the figures and what sewing demands cannot be brought together.
    """
    start, weight = problem.start(), prior_weight(problem)
    prior = problem.prior(start, weight)
    matrix = problem.matrix(prior[0])
    direct = Answer(problem, solved(problem, matrix, prior, start, (weight,)), matrix, prior, weight)
    if direct.solution.converged and not direct.crossed:
        return direct
    weights = *GENTLE, weight
    gentle = Answer(problem, solved(problem, matrix, prior, start, weights), matrix, prior, weight)
    chosen = gentle if gentle.solution.converged or not direct.solution.converged else direct
    return chosen if chosen.solution.converged else _refusal(problem, chosen.solution)


def prior_weight(problem: Problem) -> float:
    """Return the weight of the prior for this problem."""
    return max(WEAK, min(1.0, problem.traced.count / POINTS_AT_FULL))


def solved(
    problem: Problem, matrix: StepMatrix, prior: Prior, start: Array, weights: Iterable[float]
) -> Solution:
    """Return the solution reached by going through the prior's weights one after another."""
    x, steps = start, 0
    solution: Solution | None = None
    walk = _Walk(problem, matrix)
    for weight in weights:
        solution = minimise(partial(walk.evaluate, weight), matrix, prior, weight, x)
        x, steps = solution.x, steps + solution.steps
    if solution is None:
        raise ValueError("no weights were given")
    return solution


class _Walk:
    """Evaluates a problem along the way of its solve: points' feet are sought from where they were last."""

    def __init__(self, problem: Problem, matrix: StepMatrix) -> None:
        self._problem, self._matrix = problem, matrix
        self._x: Array | None = None
        self._feet: Feet | None = None

    def evaluate(self, weight: float, x: Array) -> Linearised:
        """Return the problem linearised at ``x``."""
        close = self._x is not None and float(np.abs(x - self._x).max(initial=0.0)) < CLOSE
        self._feet = self._problem.feet(x, self._feet if close else None)
        self._x = x
        return self._problem.evaluate(x, weight, self._matrix, self._feet)


def _crossings(piece: PatternPiece) -> int:
    """Return how often the outline crosses itself; most do not, which a polygon tells at once."""
    outline = Path.join([edge.path for edge in piece.edges])
    sampled = bezier.position(outline.segments[:, None], np.linspace(0.0, 1.0, 24, endpoint=False))
    if LinearRing(sampled.reshape(-1, 2)).is_simple:
        return 0
    return len(self_crossings(outline, closed=True))


def _refusal(problem: Problem, solution: Solution) -> Untrued:
    conditions = zip(solution.at.gaps, problem.conditions, strict=True)
    gaps = [(abs(g), f"{c.name} ({c.sort})") for g, c in conditions]
    pulls = [
        (abs(r), o.title)
        for r, o in zip(solution.at.residuals, problem.observed, strict=False)
        if abs(r) > 1.0
    ]
    worst = [name for size, name in sorted(gaps, reverse=True)[:3] if size > FOUGHT]
    fighting = [name for _, name in sorted(pulls, reverse=True)[:4]]
    named = tuple(worst + fighting) or tuple(name for _, name in sorted(gaps, reverse=True)[:2])
    return Untrued(
        "the figures describe no garment of this kind that can be sewn: "
        f"these cannot be brought together: {', '.join(named)}. Measure them again.",
        named,
    )
