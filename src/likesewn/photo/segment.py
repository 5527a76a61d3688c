"""Tells the garment from what it lies on, at a reduced size; ``outline`` then refines the edge at full size.

Several first guesses (``seeds``) are each settled by graph cuts over colour mixtures, and the result that
looks most like one whole garment is taken: different from its surroundings in colour and along its whole
edge, nearly the same left and right, with nothing strange left lying outside it. Where a person drew a line
round the garment no guess is needed: what is open within the line's band is settled there (``drawn_cut``).

Source of the cut: Rother, Kolmogorov, Blake, "GrabCut", ACM Transactions on Graphics 23(3), 2004, as OpenCV
has it.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from likesewn.photo.colours import COARSE, FINE, ColourTable, Counting
from likesewn.photo.hints import BAND, NO_HINT, Hint
from likesewn.photo.seeds import FARTHEST, border_distance, cell_contrast, split_in_two, to_lab

__all__ = ["Segmentation", "longest_boundary", "segment", "segment_otherwise"]

Mask = NDArray[np.bool_]
Array = NDArray[Any]

WORKING_SIDE = 256
"""Longer side, px, at which garment and table are told apart: enough for a cuff, quick enough for five
tries."""

FINE_SIDE = 480
"""Longer side, px, at which the best try is settled once more: narrow gaps between sleeve and body open
up."""

ROUNDS = 3
"""Times that colours are learnt anew within a drawn line's band: further ones change hardly a pixel."""

SAME = 0.85
"""Overlap below which settling again has run astray and the first answer stands."""

SURELY = 2.0
"""How much a colour must tell for the table (natural logarithm) to open a gap against the cut's
smoothness."""

AGREED = 0.97
"""Overlap at which the first two tries, which rest on different cues, need no further ones."""

ALIKE = 0.9
"""Overlap above which a try is no other than one before."""

FLAT, GRAIN = 0.6, 1.0
"""Share of pixels just like the next one beyond which a picture is given some grain, and its spread, 8-bit
levels: over a picture without any (a covered lens, a cut-out on pure white) the graph cut takes minutes."""

FEWEST_PIXELS = 50
"""Pixels of the smallest thing that may be a garment."""

EDGE_STRIP = 3
"""Width, px, of the picture's edge that is always table: a garment that is cut off cannot be copied."""

LOOSE = 0.08
"""Distance that a rectangle may keep from the garment on a side, as a share of its own size that way."""

SHORT = 2.0
"""What it tells against a try that it ends short of the rectangle, for each such share beyond that."""

SMALLEST_DETAIL = 0.012
"""Radius of what is opened away, as a share of the square root of the area: labels, drawstrings, stray
hairs."""


@dataclass(frozen=True, slots=True)
class Segmentation:
    """Where the garment lies.

    Attributes:
        mask: True on the garment, at the working size, one piece without holes.
        scale: Working pixels for each pixel of the photograph.
        score: How much it looks like one whole garment; about 1 to 2, and below ``DOUBTFUL`` it is worth a
        look.
        touches: Share of its boundary that runs along the picture's edge.
        colours: What colours tell for the table.
    """

    mask: Mask
    scale: float
    score: float
    touches: float
    colours: ColourTable


DOUBTFUL = 1.2
"""Score below which the boundary should be looked at."""


def segment(rgb: NDArray[np.uint8], hint: Hint = NO_HINT, keep_out: Mask | None = None) -> Segmentation:
    """Tell the garment from the table.

    Args:
        rgb: The photograph, shape (h, w, 3), 8 bits.
        hint: What a person showed.
        keep_out: Where something else lies for certain, such as a reference sheet; shape (h, w).

    Returns:
        The most garment-like of several segmentations.
    """
    if hint.drawn is not None:
        return _within_band(rgb, hint, keep_out)
    coarse = _Picture.of(rgb, WORKING_SIDE, hint, keep_out)
    best = _best_try(coarse, hint)
    if best is None:
        best = coarse.anything()
    return _settled_finely(rgb, hint, keep_out, best)


def segment_otherwise(
    rgb: NDArray[np.uint8], unlike: Segmentation, hint: Hint = NO_HINT, keep_out: Mask | None = None
) -> Segmentation | None:
    """Tell the garment from the table in another way than before, where that does not look like a garment.

    Args:
        rgb: The photograph, shape (h, w, 3), 8 bits.
        unlike: What was found before, without a line drawn round the garment.
        hint: What a person showed.
        keep_out: Where something else lies for certain; shape (h, w).

    Returns:
        The most garment-like of the segmentations that are unlike that one, or None where all are alike.
    """
    coarse = _Picture.of(rgb, WORKING_SIDE, hint, keep_out)
    best = _best_try(coarse, hint, _enlarged(unlike.mask, coarse.known.shape))
    return None if best is None else _settled_finely(rgb, hint, keep_out, best)


def _best_try(coarse: "_Picture", hint: Hint, unlike: Mask | None = None) -> Mask | None:
    """Return the try that looks most like a garment, of those that are unlike another one."""
    best: Mask | None = None
    best_score = -np.inf
    first: Mask | None = None
    for count, seed in enumerate(coarse.seeds(hint)):
        mask = coarse.settled(seed)
        if mask.sum() < FEWEST_PIXELS or (unlike is not None and _overlap(unlike, mask) > ALIKE):
            continue
        short = coarse.short_of_rectangle(mask)
        score = coarse.score(mask)[0] - SHORT * short
        if best is None or score > best_score:
            best, best_score = mask, score
        agreed = count == 1 and first is not None and _overlap(first, mask) > AGREED
        if agreed and unlike is None and short == 0.0:
            break
        first = mask
    return best


def _settled_finely(rgb: NDArray[np.uint8], hint: Hint, keep_out: Mask | None, coarse: Mask) -> Segmentation:
    fine = _Picture.of(rgb, FINE_SIDE, hint, keep_out)
    best = _enlarged(coarse, fine.known.shape)
    mask = fine.settled(best, steps=2, gaps=True)
    if _overlap(best, mask) < SAME or mask.sum() < FEWEST_PIXELS:
        mask = best
    score, touches = fine.score(mask)
    return Segmentation(mask, fine.scale, score, touches, fine.colours(mask, FINE))


def _within_band(rgb: NDArray[np.uint8], hint: Hint, keep_out: Mask | None) -> Segmentation:
    """Tell the garment from the table where a line was drawn round it."""
    fine = _Picture.of(rgb, FINE_SIDE, hint, keep_out)
    mask = fine.depth > 0
    for _ in range(ROUNDS):
        mask = fine.settled_by_line(mask)
    mask = _one_piece(mask, fine.known == cv2.GC_FGD)
    if mask.sum() < FEWEST_PIXELS:
        mask = fine.anything()
    score, touches = fine.score(mask)
    return Segmentation(mask, fine.scale, score, touches, fine.colours(mask, FINE))


def _enlarged(mask: Mask, shape: tuple[int, ...]) -> Mask:
    return cv2.resize(mask.astype(np.float32), (shape[1], shape[0]), interpolation=cv2.INTER_LINEAR) > 0.5


def _known(shape: tuple[int, int], scale: float, hint: Hint, depth: Array) -> NDArray[np.uint8]:
    """Return what is certain, in GrabCut's marks: table at the edge, what a line says, the strokes."""
    known = np.full(shape, cv2.GC_PR_BGD, np.uint8)
    if hint.rectangle is not None:
        left, top, right, bottom = (v * scale for v in hint.rectangle)
        inside = np.zeros(shape, bool)
        inside[max(0, int(top)) : int(bottom) + 2, max(0, int(left)) : int(right) + 2] = True
        known[~inside] = cv2.GC_BGD
    else:
        known[:EDGE_STRIP] = known[-EDGE_STRIP:] = cv2.GC_BGD
        known[:, :EDGE_STRIP] = known[:, -EDGE_STRIP:] = cv2.GC_BGD
    known[(depth > BAND) & (known != cv2.GC_BGD)] = cv2.GC_FGD
    known[depth < -BAND] = cv2.GC_BGD
    for strokes, mark in ((hint.table, cv2.GC_BGD), (hint.garment, cv2.GC_FGD)):
        for stroke in strokes:
            line = np.round(np.asarray(stroke) * scale).astype(np.int32).reshape(-1, 1, 2)
            cv2.polylines(known, [line], isClosed=False, color=int(mark), thickness=5)
    return known


def _border(shape: tuple[int, ...], hint: Hint, scale: float, depth: Array) -> Mask:
    """Return the strip in which the table surely shows: round the picture, or round what was drawn."""
    height, width = shape[:2]
    strip = max(EDGE_STRIP + 1, max(height, width) // 40)
    rim = np.ones((height, width), bool)
    rim[strip:-strip, strip:-strip] = False
    wide = 3 * strip
    if hint.drawn is not None:
        border = depth < -BAND
        box = cv2.getStructuringElement(cv2.MORPH_RECT, (2 * wide + 1, 2 * wide + 1))
        near = cv2.dilate((~border).astype(np.uint8), box) > 0
    elif hint.rectangle is not None:
        left, top, right, bottom = (round(v * scale) for v in hint.rectangle)
        border = np.ones((height, width), bool)
        border[max(0, top) : bottom + 1, max(0, left) : right + 1] = False
        near = np.zeros_like(border)
        near[max(0, top - wide) : bottom + wide, max(0, left - wide) : right + wide] = True
    else:
        return rim
    ring = border & near
    return ring if ring.sum() > 4 * strip * strip else rim  # else what was drawn fills the picture


def _cut(rgb: NDArray[np.uint8], seed: Mask, known: NDArray[np.uint8], steps: int) -> Mask:
    """Settle a seed by GrabCut; the seed itself where there is nothing to learn from."""
    marks = known.copy()
    marks[seed & (known == cv2.GC_PR_BGD)] = cv2.GC_PR_FGD
    garment = (marks == cv2.GC_FGD) | (marks == cv2.GC_PR_FGD)
    if garment.sum() < 20 or (~garment).sum() < 20:
        return seed
    cv2.setRNGSeed(1)  # its mixtures start from random clusters
    cv2.grabCut(rgb, marks, None, np.zeros((1, 65)), np.zeros((1, 65)), steps, cv2.GC_INIT_WITH_MASK)  # pyright: ignore[reportCallIssue, reportArgumentType]
    return (marks & 1) == 1


def _grained(rgb: NDArray[Any]) -> NDArray[Any]:
    """Return a picture with some grain where it has next to none."""
    if float((rgb[:, 1:] == rgb[:, :-1]).all(axis=2).mean()) <= FLAT:
        return rgb
    grain = np.random.default_rng(0).normal(0.0, GRAIN, rgb.shape)
    return np.clip(np.round(rgb + grain), 0, 255).astype(np.uint8)


def _gaps_opened(mask: Mask, telling: Array) -> Mask:
    """Return the mask without what is surely table by its colour and joins the table outside.

    The cut pays for boundary length, so it closes narrow gaps between a sleeve and the body.
    """
    surely = (telling > SURELY) & mask
    count, drawn = cv2.connectedComponents((surely | ~mask).astype(np.uint8), connectivity=4)
    labels = np.asarray(drawn, dtype=np.int64)
    outside = np.zeros(count, bool)
    outside[np.unique(labels[~mask])] = True
    outside[0] = False
    return mask & ~(outside[labels] & surely)


def _one_piece(mask: Mask, wanted: Mask) -> Mask:
    """Return the largest piece (or the one that a stroke wants), without thin spurs and without holes."""
    radius = max(1, round(SMALLEST_DETAIL * float(mask.sum()) ** 0.5))
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * radius + 1, 2 * radius + 1))
    padded = cv2.copyMakeBorder(mask.astype(np.uint8), *[2 * radius] * 4, borderType=cv2.BORDER_REPLICATE)
    opened = cv2.morphologyEx(padded, cv2.MORPH_OPEN, disc)[
        2 * radius : -2 * radius, 2 * radius : -2 * radius
    ]
    count, drawn, stats, _ = cv2.connectedComponentsWithStats(opened)
    if count < 2:
        return mask
    labels = np.asarray(drawn, dtype=np.int64)
    weight = stats[:, cv2.CC_STAT_AREA].astype(float)
    weight[0] = 0.0
    chosen = np.zeros(count, bool)
    chosen[int(np.argmax(weight))] = True
    if wanted.any():
        chosen[np.unique(labels[wanted])] = True
    chosen[0] = False
    piece = np.zeros(mask.shape, np.uint8)
    outer, _ = cv2.findContours(chosen[labels].astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    cv2.drawContours(piece, outer, -1, 1, cv2.FILLED)
    return piece > 0


def longest_boundary(mask: Mask) -> NDArray[np.float64]:
    """Return the pixels along the outer boundary of the largest piece of a mask, shape (n, 2), px."""
    outer, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    if not outer:
        return np.zeros((0, 2))
    return max(outer, key=len)[:, 0].astype(np.float64)


class _Picture:
    """One picture at working size, with what all tries share."""

    def __init__(
        self,
        rgb: NDArray[Any],
        known: NDArray[np.uint8],
        border: Mask,
        painted: Mask,
        scale: float,
        depth: Array,
        rectangle: Array | None,
    ) -> None:
        self.rgb = _grained(rgb)
        self.rectangle = rectangle
        self.depth = depth
        self.around = border | (depth > -BAND)
        self.scale = scale
        self.lab = to_lab(rgb)
        self.known = known
        self.painted = painted
        self.blurred = cv2.GaussianBlur(self.lab, (0, 0), 0.7)
        self.smooth = cv2.GaussianBlur(self.lab, (0, 0), 1.2)
        strange = border_distance(self.lab, border)
        self.strange = cv2.GaussianBlur(np.minimum(strange, FARTHEST), (0, 0), 2.0)
        self.colour = _colour_bins(self.smooth)

    @classmethod
    def of(cls, rgb: NDArray[np.uint8], side: int, hint: Hint, keep_out: Mask | None) -> "_Picture":
        """Return a photograph at a longer side of ``side`` px, what must be left out painted over."""
        scale = min(1.0, side / max(rgb.shape[:2]))
        size = max(8, round(rgb.shape[1] * scale)), max(8, round(rgb.shape[0] * scale))
        small = cv2.resize(rgb, size, interpolation=cv2.INTER_AREA)
        depth = np.zeros(small.shape[:2])
        drawn = hint.line()
        if drawn is not None:
            factor = np.array(size) / rgb.shape[1::-1]
            depth = drawn.scaled(factor).depth_of_pixels(small.shape[:2])
        known = _known(small.shape[:2], scale, hint, depth)
        border = _border(known.shape, hint, scale, depth)
        out = np.zeros(known.shape, bool)
        if keep_out is not None and keep_out.any():
            out = cv2.resize(keep_out.astype(np.uint8), size, interpolation=cv2.INTER_AREA) > 0
            out = cv2.dilate(out.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
            known[out & (known != cv2.GC_FGD)] = cv2.GC_BGD
            table = border & ~out
            if table.any():  # else the sheet's white would be learnt as a colour of the table
                small[out] = np.median(small[table], axis=0)
        rectangle = None if hint.rectangle is None else np.array(hint.rectangle) * scale
        return cls(small, known, border, out, scale, depth, rectangle)

    def anything(self) -> Mask:
        """Return all that may be garment, for where nothing stands out."""
        free = self.known != cv2.GC_BGD
        return free if free.sum() >= FEWEST_PIXELS else np.ones_like(free)

    def settled(self, seed: Mask, steps: int = 5, *, gaps: bool = False) -> Mask:
        """Return the one piece of garment that a first guess leads to."""
        mask = _cut(self.rgb, seed, self.known, steps)
        if gaps:
            told = [self.colours(mask, counting).telling(self.blurred) for counting in (COARSE, FINE)]
            mask = _gaps_opened(mask, np.maximum(*told))
        return _one_piece(mask, self.known == cv2.GC_FGD)

    def settled_by_line(self, mask: Mask) -> Mask:
        """Return the garment with a drawn line's band settled, by colours as a mask tells them apart."""
        from likesewn.photo.drawn_cut import MOST_TELLING, line_tells, settled_in_band  # noqa: PLC0415

        telling = -self.colours(mask, COARSE).telling(self.blurred)
        told = np.clip(telling, -MOST_TELLING, MOST_TELLING) + line_tells(self.depth)
        return settled_in_band(
            self.lab, told, self.known == cv2.GC_FGD, self.known == cv2.GC_PR_BGD, self.depth
        )

    def colours(self, mask: Mask, counting: Counting) -> ColourTable:
        """Return what colours tell for the table.

        A mixture would not do: it learns the colour of a closed gap as one of the garment's. Where a line was
        drawn round the garment, colours are learnt near it alone.
        """
        return ColourTable.learnt(self.blurred, mask, ~mask & ~self.painted & self.around, counting)

    def seeds(self, hint: Hint) -> Iterator[Mask]:
        """Yield first guesses at the garment."""
        free = self.known != cv2.GC_BGD
        contrast = cell_contrast(self.lab)
        together = contrast + self.strange / max(float(self.strange.max()), 1e-9)
        guesses = [split_in_two(self.strange), split_in_two(contrast), split_in_two(together)]
        for margin in (0.05, 0.15):
            inner = np.zeros(free.shape, bool)
            rows, columns = np.nonzero(free.any(axis=1))[0], np.nonzero(free.any(axis=0))[0]
            if len(rows) and len(columns):
                dy, dx = round(margin * len(rows)), round(margin * len(columns))
                inner[rows[0] + dy : rows[-1] + 1 - dy, columns[0] + dx : columns[-1] + 1 - dx] = True
            guesses.append(inner)
        if hint.rectangle is not None:
            guesses.append(free)
        for guess in guesses:
            yield (guess & free) | (self.known == cv2.GC_FGD)

    def score(self, mask: Mask) -> tuple[float, float]:
        """Return how much a mask looks like one whole garment, and how much of it runs along the edge."""
        area = float(mask.sum())
        if area < FEWEST_PIXELS or area > 0.97 * mask.size:
            return -1.0, 1.0
        weakest, touches = self._edge(mask)
        inside = np.bincount(self.colour[mask], minlength=2560) / area
        outside = np.bincount(self.colour[~mask], minlength=2560) / (mask.size - area)
        apart = 1.0 - float(np.sqrt(inside * outside).sum())
        left = ((self.strange > 4.0) & ~mask & (self.known != cv2.GC_BGD)).astype(np.uint8)
        left = cv2.morphologyEx(left, cv2.MORPH_OPEN, np.ones((7, 7), np.uint8))
        leftover = min(float(left.sum()) / area, 1.0)
        score = 0.15 * np.log(weakest + 2.0) + apart + 2.0 * _evenness(mask) - 2.0 - 0.5 * leftover - touches
        return float(score), touches

    def short_of_rectangle(self, mask: Mask) -> float:
        """Return how far a mask ends short of the rectangle on its four sides, beyond what it may."""
        if self.rectangle is None:
            return 0.0
        rows, columns = (np.nonzero(mask.any(axis=axis))[0] for axis in (1, 0))
        left, top, right, bottom = self.rectangle
        across = np.array([columns[0] - left, right - columns[-1]]) / max(right - left, 1.0)
        along = np.array([rows[0] - top, bottom - rows[-1]]) / max(bottom - top, 1.0)
        return float(np.maximum(np.concatenate([across, along]) - LOOSE, 0.0).sum())

    def _edge(self, mask: Mask) -> tuple[float, float]:
        """Return the step that four fifths of the boundary exceed, CIELAB, and the share at the edge.

        The step is taken between 3.5 px inside and 3.5 px outside, beyond a pixel or two of blur and error.
        """
        height, width = mask.shape
        own = mask.astype(np.uint8)
        signed = cv2.distanceTransform(own, cv2.DIST_L2, 5) - cv2.distanceTransform(1 - own, cv2.DIST_L2, 5)
        signed = cv2.GaussianBlur(signed, (0, 0), 2.0)
        boundary = longest_boundary(mask)
        x, y = boundary.astype(np.int64).T
        inward = np.stack(
            [cv2.Sobel(signed, cv2.CV_32F, 1, 0)[y, x], cv2.Sobel(signed, cv2.CV_32F, 0, 1)[y, x]], axis=1
        )
        inward /= np.linalg.norm(inward, axis=1, keepdims=True) + 1e-6
        at_edge = (x < EDGE_STRIP + 1) | (y < EDGE_STRIP + 1)
        at_edge |= (x > width - EDGE_STRIP - 2) | (y > height - EDGE_STRIP - 2)
        step = self._at(boundary + 3.5 * inward) - self._at(boundary - 3.5 * inward)
        height_of_step = np.where(at_edge, 0.0, np.linalg.norm(step, axis=1))
        return float(np.percentile(height_of_step, 20)), float(at_edge.mean())

    def _at(self, px: NDArray[np.float64]) -> Array:
        x, y = px.astype(np.float32).T
        return cv2.remap(
            self.smooth,
            x[:, None].copy(),
            y[:, None].copy(),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )[:, 0]


def _colour_bins(lab: Array) -> NDArray[np.int64]:
    """Return the bin of each pixel's colour: 10 of lightness by 16 each of the two colour axes."""
    light = np.clip(lab[..., 0] / 10, 0, 9).astype(np.int64)
    red, yellow = (np.clip((lab[..., axis] + 60) / 8, 0, 15).astype(np.int64) for axis in (1, 2))
    return (light * 16 + red) * 16 + yellow


def _evenness(mask: Mask) -> float:
    """Return how well the mask covers its own mirror image about the best axis, 0 to 1."""
    y, x = np.nonzero(mask)
    scale = 96.0 / max(float(np.ptp(x)), float(np.ptp(y)), 1.0)
    best = 0.0
    for degrees in range(-24, 25, 4):
        turn = cv2.getRotationMatrix2D((0.0, 0.0), degrees, scale)
        turn[:, 2] = 63.5 - turn[:, :2] @ np.array([x.mean(), y.mean()])
        turned = cv2.warpAffine(mask.astype(np.uint8), turn, (128, 128), flags=cv2.INTER_AREA) > 0
        for shift in (-3, 0, 3):
            mirrored = np.roll(turned[:, ::-1], shift, axis=1)
            best = max(best, _overlap(turned, mirrored))
    return best


def _overlap(one: Mask, other: Mask) -> float:
    """Return intersection over union."""
    return float((one & other).sum()) / max(float((one | other).sum()), 1.0)
