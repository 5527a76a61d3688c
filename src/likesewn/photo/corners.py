"""Finds a kind's corners on the outline of a garment that lies flat.

The outline is turned upright about the line that halves it most evenly. Along each side, corners of the
silhouette are assigned to points of the outline in their order, both sides together, so that turns, places
and the runs between them agree best with the kind's description and with one another. That is a shortest
path through pairs of candidate points (dynamic programming), so the best assignment is found, not a local
one.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from operator import itemgetter
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

from likesewn.garment.silhouette import Silhouette, SilhouetteCorner
from likesewn.photo.outline import resampled
from likesewn.photo.smoothing import mean_along

if TYPE_CHECKING:
    from likesewn.photo.drawn_line import DrawnLine

__all__ = ["EVEN", "FoundCorners", "find_corners", "middle_line", "run_between"]

Array = NDArray[np.float64]

SAMPLES = 700
"""Points along the outline: one each half per cent of its height or so."""

ARMS = (0.02, 0.045)
"""Lengths of the arms between which a turn is measured, shares of the height: a sharp corner and a round
one."""

TILT = 30
"""Farthest tilt of a garment in the picture that is looked for, degrees."""

MOST_CANDIDATES = 22
"""Candidate points on one side that turn outward, and as many that turn inward; pairs of them grow with the
square, steps between pairs with the fourth power."""

FEWEST_CANDIDATES = 8
"""With fewer, as on an outline that hardly turns, points at even distances are added."""

LEAST_TURN = 8.0
"""Turn of a candidate, degrees: what turns less is straight."""

SOFT = 8.0
"""Cost of one figure of the description from which it grows but slowly, so that one odd place does not decide
the whole."""

SHARPEST = 190.0
"""Sharpest turn of a corner, degrees: a fold goes straight back; only a speck at the edge turns more."""

SHARPER = 20.0
"""Spread of turns beyond it, degrees."""

CHANCE = 36.0
"""Spread of turns that are no corner but a crumple or a fold, degrees."""

CHANCE_WEIGHT = 0.6
"""What it tells for a corner that a turn so sharp would hardly come about by chance."""

UNEVEN = 4.0
"""Most that one difference between the sides may cost: a sleeve may lie quite otherwise than its fellow."""

EVEN = 0.04
"""Usual difference between the two sides, as a share of the height."""

STAY = 16.0
"""What it costs a corner to leave its place when another one is put right."""

NEAR = 0.01
"""Distance, as a share of the height, within which a place is the same place."""


NOT_DRAWN = 9.0
"""What it costs a corner at most that a drawn line does not turn there."""

ONE_FOR_TWO = 4.0
"""What it costs two corners that one corner of a drawn line stands for both: they may lie that close."""

ROUNDED = 0.01
"""Spread between a garment's corner and the sharpest point of its outline, as a share of the height."""

UNLIKE_DRAWN = 45.0
"""How much more sharply an outline turns at a corner than the line that was drawn round it, degrees; what
turns more is a crumple, or a stripe of the table's colour."""


@dataclass(frozen=True, slots=True)
class FoundCorners:
    """Corners on an outline.

    Attributes:
        px: Corners by name, (x, y) px.
        index: Nearest point of the outline for each corner that lies on it.
        cost: How badly the description fits, per corner: usually 0 to 4; more deserves a look.
        middle: A point on the middle line and its direction downward, px.
    """

    px: Mapping[str, tuple[float, float]]
    index: Mapping[str, int]
    cost: float
    middle: tuple[Array, Array]


def middle_line(outline: Array) -> tuple[Array, Array]:
    """Return a point on the line that halves an outline most evenly, and the line's direction downward.

    Args:
        outline: Closed polygon, shape (n, 2), px; its garment stands upright within ``TILT`` degrees.
    """
    low, high = outline.min(axis=0), outline.max(axis=0)
    scale = 160.0 / max(float((high - low).max()), 1e-9)
    small = np.zeros((224, 224), np.uint8)
    centre = (low + high) / 2
    drawn = np.round(((outline - centre) * scale + 111.5) * 16).astype(np.int32)
    cv2.fillPoly(small, [drawn.reshape(-1, 1, 2)], 255, shift=4)
    y, x = np.nonzero(small)
    mass = np.array([x.mean(), y.mean()])

    def overlap(degrees: float) -> tuple[float, float]:
        turn = cv2.getRotationMatrix2D((0.0, 0.0), degrees, 1.0)
        turn[:, 2] = 111.5 - turn[:, :2] @ mass
        turned = cv2.warpAffine(small, turn, (224, 224), flags=cv2.INTER_LINEAR) > 127
        return max((_mirrored_overlap(turned, shift), shift) for shift in range(-16, 17))

    coarse = max(range(-TILT, TILT + 1, 5), key=lambda degrees: overlap(degrees)[0] - 1e-4 * abs(degrees))
    degrees = max((coarse + 0.5 * k for k in range(-8, 9)), key=lambda d: overlap(d)[0])
    shift = overlap(degrees)[1]
    angle = np.radians(degrees)
    down = np.array([-np.sin(angle), np.cos(angle)])  # turned by +degrees about the centre, this points down
    across = np.array([np.cos(angle), np.sin(angle)])
    point = (mass - 111.5) / scale + centre + across * (shift / 2) / scale
    return point, down


def _mirrored_overlap(turned: NDArray[np.bool_], shift: int) -> float:
    mirrored = np.roll(turned[:, ::-1], shift, axis=1)
    return float((turned & mirrored).sum()) / max(float((turned | mirrored).sum()), 1.0)


def find_corners(
    outline: Array,
    silhouette: Silhouette,
    fixed: Mapping[str, tuple[float, float]] | None = None,
    drawn: "DrawnLine | None" = None,
) -> FoundCorners:
    """Find the corners of a silhouette on an outline.

    Args:
        outline: Closed polygon, shape (n, 2), px, the garment on its right hand (as ``Outline.px``).
        silhouette: The kind's description.
        fixed: Corners put in place by hand, by name with their side, px.
        drawn: The line that a person drew round the garment, or None.

    Returns:
        All corners that lie on the outline, each ``name_left`` and ``name_right`` as the viewer sees them,
        and the closing corner where the silhouette has one.
    """
    point, down = middle_line(outline)
    right = np.array([down[1], -down[0]])
    places = resampled(outline, SAMPLES)
    upright = np.stack([(places - point) @ right, (places - point) @ down], axis=1)
    top = float(upright[:, 1].min())
    height = max(float(np.ptp(upright[:, 1])), 1e-9)
    upright = (upright - [0.0, top]) / height
    sides = _sides(upright)
    wanted = dict(fixed or {})
    held = [
        {
            c.name: _upright(wanted[f"{c.name}_{side}"], point, right, down, top, height) * [sign, 1.0]
            for c in silhouette.corners
            if f"{c.name}_{side}" in wanted
        }
        for side, sign in (("left", -1.0), ("right", 1.0))
    ]
    # a corner put in place on one side tells where to look for its mirror image, too
    shown = [*held[0].values(), *held[1].values()]
    hand = _Hand.of(drawn, point, right, down, top, height) if drawn else None
    boards = [_Board(upright, side, sign, shown, hand) for side, sign in zip(sides, (-1.0, 1.0), strict=True)]
    looks = silhouette.looks()
    as_shown = [tuple(_as_shown(corner, boards, held) for corner in look) for look in looks]
    stay: list[dict[str, Array]] = [{}, {}]
    if shown:
        # who moves one corner has seen the others: they stay unless what was shown speaks against them
        before = [
            _Board(upright, side, sign, [], hand) for side, sign in zip(sides, (-1.0, 1.0), strict=True)
        ]
        seen, _ = _assign_best(before, looks, stay, stay)
        stay = [
            {c.name: b.place[k] for c, k in zip(silhouette.corners, ours, strict=True)}
            for b, ours in zip(before, seen, strict=True)
        ]
    picked, cost = _assign_best(boards, as_shown, held, stay)
    px: dict[str, tuple[float, float]] = {}
    index: dict[str, int] = {}
    for side, board, ours in zip(("left", "right"), boards, picked, strict=True):
        for corner, at in zip(silhouette.corners, ours, strict=True):
            name = f"{corner.name}_{side}"
            where = (
                np.asarray(wanted[name])
                if name in wanted
                else _sharpened(places, int(board.index[at]), height)
            )
            nearest = int(np.argmin(((outline - where) ** 2).sum(axis=1)))
            index[name] = nearest
            x, y = where if name in wanted else outline[nearest]
            px[name] = (float(x), float(y))
    if silhouette.closing_corner:
        nearest = _closing(outline, point, right, down, index, silhouette)
        index[silhouette.closing_corner] = nearest
        px[silhouette.closing_corner] = (float(outline[nearest, 0]), float(outline[nearest, 1]))
    return FoundCorners(px, index, cost, (point, down))


def _as_shown(
    corner: SilhouetteCorner, boards: list["_Board"], held: list[dict[str, Array]]
) -> SilhouetteCorner:
    """Return a corner's description as this garment shows it, where it was put in place on one side or both.

    It lies there, give or take what two sides differ by, and it may turn as little as it does there.
    """
    if not any(corner.name in ours for ours in held):
        return corner
    board, place = next((b, h[corner.name]) for b, h in zip(boards, held, strict=True) if corner.name in h)
    at = int(np.argmin(np.hypot(*(board.place - place).T)))
    sign = np.sign(corner.turn[0])
    turn = float(np.clip(np.max(sign * board.turns[:, at]), 0.0, abs(corner.turn[0])))
    out, down = ((float(value), EVEN) for value in place)
    return replace(corner, turn=(sign * turn, corner.turn[1]), out=out, down=down)


def _upright(
    place: tuple[float, float], point: Array, right: Array, down: Array, top: float, height: float
) -> Array:
    off = np.asarray(place) - point
    return np.array([off @ right, off @ down - top]) / height


def _sides(upright: Array) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the points of the left and of the right side, each from the middle line's top to its bottom."""
    x, y = upright.T
    crosses = np.nonzero((x <= 0) != (np.roll(x, -1) <= 0))[0]
    if len(crosses) < 2:
        crosses = np.array([int(np.argmin(y)), int(np.argmax(y))])
    top, bottom = int(crosses[np.argmin(y[crosses])]), int(crosses[np.argmax(y[crosses])])
    n = len(upright)
    clockwise = (
        top + 1 + np.arange((bottom - top) % n)
    ) % n  # the garment lies on the right: first the right side
    other = (top - np.arange((top - bottom) % n)) % n
    return other, clockwise


def _headings(upright: Array) -> Array:
    """Return the direction of the outline at each point, degrees, wound on over three rounds without a jump.

    Turns taken as differences of it tell a narrow gap from a thin spur, which the angle between two arms
    cannot.
    """
    step = np.roll(upright, -1, axis=0) - np.roll(upright, 1, axis=0)
    thrice = np.tile(step, (3, 1))
    return np.degrees(np.unwrap(np.arctan2(thrice[:, 1], thrice[:, 0])))


def _turns(upright: Array, at: NDArray[np.int64]) -> list[Array]:
    """Return how far a closed line, shape (n, 2), turns at some of its points over either arm, degrees."""
    spacing = float(np.hypot(*np.diff(upright, axis=0, append=upright[:1]).T).mean())
    heading = _headings(upright)
    turns: list[Array] = []
    for arm in ARMS:
        k = max(2, round(arm / spacing))
        # a mirrored walk the other way turns the same way, so both sides read alike
        ahead = mean_along(heading, k, first=0, ends="nearest")
        behind = mean_along(heading, k, first=k - 1, ends="nearest")
        middle = len(upright) + at
        turns.append(ahead[middle + 1] - behind[middle - 1])
    return turns


@dataclass(frozen=True, slots=True)
class _Hand:
    """Where a drawn line turns.

    Attributes:
        place: Places, upright, shape (m, 2).
        turns: How far it turns there over either arm, degrees, shape (arms, m).
        slack: How much farther the garment may turn there, degrees, shape (m,): the nearer the next of the
            line's corners, the less its turn tells.
        spread: Spread of its error there.
    """

    place: Array
    turns: Array
    slack: Array
    spread: float

    @classmethod
    def of(
        cls, drawn: "DrawnLine", point: Array, right: Array, down: Array, top: float, height: float
    ) -> "_Hand":
        line, place = (
            np.stack([(px - point) @ right, (px - point) @ down - top], axis=1) / height
            for px in (resampled(drawn.px, SAMPLES), drawn.corners)
        )
        at = np.hypot(*(line[:, None] - place[None]).transpose(2, 0, 1)).argmin(axis=0)
        spread = float(np.hypot(drawn.spread / height, ROUNDED))
        beside = np.hypot(*(place - np.roll(place, 1, axis=0)).T)
        shortest = np.minimum(beside, np.roll(beside, -1))
        slack = UNLIKE_DRAWN + np.degrees(np.arctan2(1.5 * drawn.spread / height, shortest))
        return cls(place, np.stack(_turns(line, at)), slack, spread)


class _Board:
    """One side of the outline with its candidate points; x counts outward."""

    def __init__(
        self, upright: Array, side: NDArray[np.int64], sign: float, shown: list[Array], hand: _Hand | None
    ) -> None:
        """Choose the candidates: where the outline turns most, and nearest to places that were shown.

        Args:
            upright: The outline upright, shape (n, 2).
            side: Its points on this side.
            sign: -1 on the left, 1 on the right.
            shown: Places of corners that were put right, x outward.
            hand: Where a drawn line turns, or None without one.
        """
        self.at = upright[side] * [sign, 1.0]
        spacing = float(np.hypot(*np.diff(self.at, axis=0).T).mean())
        turns = _turns(upright, side)
        self.turn_all = turns
        drawn = hand.place * [sign, 1.0] if hand else np.zeros((0, 2))
        near = [int(np.argmin(((self.at - place) ** 2).sum(axis=1))) for place in (*shown, *drawn)]
        chosen = np.union1d(self._candidates(spacing), np.array(near, dtype=np.int64))
        self.chosen = chosen
        self.index = side[chosen]
        self.place = self.at[chosen]
        self.turns = np.stack([t[chosen] for t in turns])
        self.bow = self._bows()
        self.hand = hand
        apart = np.hypot(*(self.place[:, None] - drawn[None]).transpose(2, 0, 1))
        self.astray = np.minimum((apart / hand.spread) ** 2, NOT_DRAWN) if hand else apart

    def blunt(self, corner: SilhouetteCorner) -> Array:
        """Return what it costs each candidate that no such turn is there, and none was drawn, shape (m,)."""
        if self.hand is None:
            return _blunt(self.turns, corner.turn)
        sign = np.sign(corner.turn[0])
        most = (sign * self.hand.turns).max(axis=0) + self.hand.slack
        turns = sign * np.minimum(sign * self.turns[:, :, None], most)
        return (self.astray + _blunt(turns, corner.turn)).min(axis=1)

    def _candidates(self, spacing: float) -> NDArray[np.int64]:
        """Return where the outline turns most, outward and inward each: a hollow may lie beside a corner."""
        apart = max(2, round(0.012 / spacing))
        found: list[NDArray[np.int64]] = []
        for sign in (1.0, -1.0):
            score = np.maximum(sign * self.turn_all[0], sign * self.turn_all[1])
            score = score + 1e-6 * np.arange(len(score))
            peak = score > LEAST_TURN
            for k in range(1, apart + 1):
                peak[k:] &= score[k:] >= score[:-k]
                peak[:-k] &= score[:-k] >= score[k:]
            peaks = np.nonzero(peak)[0]
            found.append(peaks[np.argsort(-score[peaks])][:MOST_CANDIDATES])
        chosen = np.unique(np.concatenate(found))
        if len(chosen) < FEWEST_CANDIDATES:
            even = np.linspace(0, len(self.at) - 1, FEWEST_CANDIDATES).astype(np.int64)
            chosen = np.union1d(chosen, even)
        return chosen

    def _bows(self) -> Array:
        """Return the greatest distance of the outline from the chord between each two candidates, (m, m)."""
        m = len(self.chosen)
        bows = np.zeros((m, m))
        for i in range(m):
            for j in range(i + 1, m):
                run = self.at[self.chosen[i] : self.chosen[j] + 1]
                chord = run[-1] - run[0]
                length = float(np.hypot(*chord)) + 1e-9
                off = (run[:, 0] - run[0, 0]) * chord[1] - (run[:, 1] - run[0, 1]) * chord[0]
                bows[i, j] = float(np.abs(off).max()) / length
        return bows


def _softened(squares: Array) -> Array:
    """Return squared deviations, in spreads, as costs: the same while small, then their logarithm."""
    return SOFT * np.log1p(squares / SOFT)


def _off(value: Array, usual: tuple[float, float]) -> Array:
    return _softened(((value - usual[0]) / usual[1]) ** 2)


def _blunt(turns: Array, usual: tuple[float, float]) -> Array:
    """Return the cost of corners that turn less than usual over either arm; a sharper one costs nothing.

    What a turn would cost if it were there by chance is taken off, so that a sharp one is not passed by.

    Args:
        turns: Turns over each arm, shape (arms, ...), degrees.
        usual: The usual turn and its spread, degrees.
    """
    turn = (np.sign(usual[0]) * turns).max(axis=0)
    lack = np.maximum(abs(usual[0]) - turn, 0.0) / usual[1]
    over = np.maximum(np.abs(turns).max(axis=0) - SHARPEST, 0.0) / SHARPER
    chance = _softened((np.maximum(turn, 0.0) / CHANCE) ** 2)
    return _softened(lack**2 + over**2) - CHANCE_WEIGHT * chance


def _unary(
    board: _Board, corner: SilhouetteCorner, held: Mapping[str, Array], stay: Mapping[str, Array]
) -> Array:
    if corner.name in held:  # a person's word: nothing else counts
        gap = np.hypot(*(board.place - held[corner.name]).T)
        return (gap / NEAR) ** 2
    cost = board.blunt(corner) + _off(board.place[:, 0], corner.out)
    cost = cost + _off(board.place[:, 1], corner.down)
    if corner.name in stay:
        gap = np.hypot(*(board.place - stay[corner.name]).T)
        cost = cost + np.minimum((gap / NEAR) ** 2, STAY)
    return cost


def _step(board: _Board, corner: SilhouetteCorner) -> tuple[Array, Array]:
    """Return the cost of each run between two candidates that would lead to ``corner``, and its length."""
    chord = board.place[None] - board.place[:, None]
    length = np.hypot(chord[..., 0], chord[..., 1])
    heading = np.degrees(np.arctan2(chord[..., 0], chord[..., 1]))
    cost = (
        _off(length, corner.run)
        + _off((heading - corner.heading[0] + 180.0) % 360.0 - 180.0, (0.0, corner.heading[1]))
        + _off(board.bow, (0.0, corner.bend))
    )
    if board.hand is not None:
        one = board.astray.argmin(axis=1)
        cost = cost + np.where(one[:, None] == one, ONE_FOR_TWO, 0.0)
    forward = np.arange(len(length))[:, None] < np.arange(len(length))
    return np.where(forward, cost, np.inf), length


def _assign_best(
    boards: list[_Board],
    looks: Iterable[tuple[SilhouetteCorner, ...]],
    held: list[dict[str, Array]],
    stay: list[dict[str, Array]],
) -> tuple[list[list[int]], float]:
    """Return what ``_assign`` does for the look of the garment that costs least."""
    return min((_assign(boards, look, held, stay) for look in looks), key=itemgetter(1))


def _assign(
    boards: list[_Board],
    corners: tuple[SilhouetteCorner, ...],
    held: list[dict[str, Array]],
    stay: list[dict[str, Array]],
) -> tuple[list[list[int]], float]:
    """Return the candidate of each corner on each side on the cheapest path, and the cost for each corner."""
    left, right = boards

    def pairs(corner: SilhouetteCorner) -> Array:
        apart = left.place[:, None] - right.place[None]
        uneven = np.minimum((apart**2).sum(axis=2) / EVEN**2, UNEVEN)
        own = _unary(left, corner, held[0], stay[0])[:, None] + _unary(right, corner, held[1], stay[1])[None]
        return own + uneven

    total = pairs(corners[0])
    steps: list[NDArray[np.int64]] = []
    shape = total.shape
    for corner in corners[1:]:
        (cost_l, long_l), (cost_r, long_r) = _step(left, corner), _step(right, corner)
        best = np.full(shape, np.inf)
        back = np.zeros(shape, np.int64)
        for j in range(shape[0]):
            before = np.nonzero(np.isfinite(cost_l[:, j]))[0]
            if not len(before):
                continue
            uneven = np.minimum(((long_l[before, j][:, None, None] - long_r[None]) / EVEN) ** 2, UNEVEN)
            way = (total[before] + cost_l[before, j][:, None])[:, :, None] + cost_r[None] + uneven
            flat = way.reshape(-1, shape[1])
            pick = np.argmin(flat, axis=0)
            best[j] = flat[pick, np.arange(shape[1])]
            back[j] = before[pick // shape[1]] * shape[1] + pick % shape[1]
        steps.append(back)
        total = best + pairs(corner)
    last = int(np.argmin(total))
    cost = float(total.ravel()[last]) / (2 * len(corners))
    chain = [last]
    for back in reversed(steps):
        chain.append(int(back.ravel()[chain[-1]]))
    chain.reverse()
    return [[at // shape[1] for at in chain], [at % shape[1] for at in chain]], cost


def _sharpened(places: Array, index: int, height: float) -> Array:
    """Return where the two runs beside a corner meet, each drawn as a line a little away from it.

    The point stays where it is when the lines are nearly one line or meet far away.
    """
    n = len(places)
    spacing = float(np.hypot(*(places[1] - places[0])))
    near, far = max(1, round(0.008 * height / spacing)), max(4, round(0.04 * height / spacing))
    reach = 0.02 * height
    lines = []
    for sign in (-1, 1):
        run = places[(index + sign * np.arange(near, far + 1)) % n]
        middle = run.mean(axis=0)
        lines.append((middle, np.linalg.svd(run - middle)[2][0]))
    (p, u), (q, v) = lines
    cross = float(u[0] * v[1] - u[1] * v[0])
    if abs(cross) < np.sin(np.radians(20.0)):
        return places[index]
    off = q - p
    meet = p + u * (off[0] * v[1] - off[1] * v[0]) / cross
    return meet if float(np.hypot(*(meet - places[index]))) < reach else places[index]


def run_between(count: int, start: int, end: int, sign: int = 1) -> NDArray[np.int64]:
    """Return the points of a closed line of ``count`` from ``start`` to ``end``, both counted.

    Args:
        count: Points of the line.
        start: The first.
        end: The last.
        sign: 1 onward, which is down the right side of an outline, or -1 back, which is down the left.
    """
    return (start + sign * np.arange((sign * (end - start)) % count + 1)) % count


def _closing(
    outline: Array, point: Array, right: Array, down: Array, index: Mapping[str, int], silhouette: Silhouette
) -> int:
    """Return the highest point of the outline between the two last corners, near the middle line."""
    last = silhouette.corners[-1].name
    start, end = index[f"{last}_right"], index[f"{last}_left"]
    run = run_between(len(outline), start, end)
    off = outline[run] - point
    return int(run[np.argmin(off @ down + 0.3 * np.abs(off @ right))])
