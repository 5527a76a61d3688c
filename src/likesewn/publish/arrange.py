"""Arranging pieces on a grid of sheets so that few sheets are printed.

The plane is cut into cells of about 5 mm that fit the grid of sheets a whole number of times. A piece
is the set of cells that it touches, its clearance included. Pieces are placed one after another, each
where it needs the fewest sheets that are not in use yet, in the best of four turns; this is repeated
for several orders of the pieces, and the arrangement with the fewest sheets is kept. Where pieces
collide is found for all places at once, as the correlation of occupied cells with the piece's cells
by the fast Fourier transform. The number of orders is fixed, not the time, so that the same pattern
always gives the same pages.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice, permutations
from math import ceil, sqrt

import numpy as np
import shapely
from numpy.typing import NDArray

from likesewn.publish.tiles import Tiling

__all__ = ["CLEARANCE_MM", "Placement", "arrange"]

Array = NDArray[np.float64]

CLEARANCE_MM = 2.0
"""Kept free round every piece, mm: scissors go between, and a line at a sheet's rim prints whole."""

_CELL_MM = 5.0
_CELLS_MOST = 150  # cells along the side of a square as large as all pieces together
_TRIALS = 24  # orders of the pieces that are tried
_WORK_MOST = 200  # pieces placed in all, over all trials: bounds the time for large patterns
_TURNS = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))  # cosine and sine of 0, 90, 180, 270 degrees


@dataclass(frozen=True, slots=True)
class Placement:
    """How a piece is moved on to the plane: turned by ``angle`` degrees about 0, then moved by ``by``."""

    angle: float
    by: tuple[float, float]


@dataclass(frozen=True, slots=True)
class _Grid:
    """The cells of the plane; the first ``lead`` rows and columns lie before the first join's cores."""

    cell: tuple[float, float]
    per_sheet: tuple[int, int]
    lead: tuple[int, int]
    origin: tuple[float, float]

    def size(self, rows: int, columns: int) -> tuple[int, int]:
        return (
            self.lead[1] + rows * self.per_sheet[1],
            self.lead[0] + columns * self.per_sheet[0],
        )

    def sheet_starts(self, count: int, axis: int) -> NDArray[np.intp]:
        """First cell of each sheet's core along an axis, and one past the last."""
        starts = self.lead[axis] + np.arange(count + 1) * self.per_sheet[axis]
        starts[0] = 0
        return starts


def _grid(tiles: Tiling, cell: float) -> _Grid:
    per = [max(4, round(s / cell)) for s in tiles.step]
    size = [s / n for s, n in zip(tiles.step, per, strict=True)]
    lead = [int(tiles.overlap // c) for c in size]
    origin = [tiles.overlap - n * c for n, c in zip(lead, size, strict=True)]
    return _Grid((size[0], size[1]), (per[0], per[1]), (lead[0], lead[1]), (origin[0], origin[1]))


@dataclass(frozen=True, slots=True)
class _Shape:
    """A piece in one turn: its cells, and where its frame lies from the cells' left top corner."""

    turn: int
    cells: NDArray[np.bool_]
    shift: tuple[float, float]


def _shape(outline: Array, turn: int, grid: _Grid) -> _Shape:
    c, s = _TURNS[turn]
    points = outline @ np.array([[c, s], [-s, c]])
    polygon = shapely.make_valid(shapely.Polygon(points)).buffer(CLEARANCE_MM)
    left, top, right, bottom = polygon.bounds
    (w, h) = grid.cell
    columns, rows = ceil((right - left) / w - 1e-9), ceil((bottom - top) / h - 1e-9)
    x, y = left + np.arange(columns) * w, top + np.arange(rows) * h
    boxes = shapely.box(x[None, :], y[:, None], x[None, :] + w, y[:, None] + h)
    shapely.prepare(polygon)
    return _Shape(turn, shapely.intersects(polygon, boxes), (-left, -top))


class _Plane:
    """Places pieces on a plane of so many rows and columns of sheets."""

    def __init__(self, grid: _Grid, rows: int, columns: int, shapes: list[list[_Shape]]) -> None:
        self.grid = grid
        self.rows, self.columns = rows, columns
        self.size = grid.size(rows, columns)
        self._padded = (_smooth(self.size[0]), _smooth(self.size[1]))
        self.shapes = [
            [s for s in turns if all(a <= b for a, b in zip(s.cells.shape, self.size, strict=True))]
            for turns in shapes
        ]
        self._spectra = [[np.conj(self._spectrum(s.cells)) for s in turns] for turns in self.shapes]
        self._touched: dict[tuple[int, int], NDArray[np.bool_]] = {}
        self._chosen: dict[tuple[int, ...], tuple[int, int, int] | None] = {}
        self._taste: dict[tuple[int, int], NDArray[np.float32]] = {}

    def _spectrum(self, cells: NDArray[np.bool_] | NDArray[np.float32]) -> NDArray[np.complexfloating]:
        return np.fft.rfft2(cells.astype(np.float32), self._padded)

    def taste(self, piece: int, turn: int) -> NDArray[np.float32]:
        """What decides between places that need equally many new sheets; less is better."""
        key = (piece, turn)
        if key not in self._taste:
            touched = self.touched(piece, turn)
            down, across = touched.shape[1:]
            height, width = self.shapes[piece][turn].cells.shape
            # fewest sheets in all, then high up, then to the left, then upright
            far = (np.arange(down)[:, None] + height) + 0.02 * (np.arange(across) + width)
            taste = touched.sum(axis=0) * 1e-1 + far * 1e-4 + turn % 2 * 1e-3
            self._taste[key] = taste.astype(np.float32)
        return self._taste[key]

    def touched(self, piece: int, turn: int) -> NDArray[np.bool_]:
        """Which sheets the piece touches at each place: shape (sheets, places down, places across)."""
        key = (piece, turn)
        if key not in self._touched:
            cells = self.shapes[piece][turn].cells
            height, width = cells.shape
            down = np.arange(self.size[0] - height + 1)
            across = np.arange(self.size[1] - width + 1)
            total = np.zeros((height + 1, width + 1), dtype=np.int32)
            total[1:, 1:] = cells.cumsum(axis=0).cumsum(axis=1)
            y = np.clip(self.grid.sheet_starts(self.rows, 1)[:, None] - down, 0, height)
            x = np.clip(self.grid.sheet_starts(self.columns, 0)[:, None] - across, 0, width)
            bands = np.diff(total[y], axis=0)
            counts = np.diff(bands[:, :, x], axis=2).transpose(0, 2, 1, 3)
            self._touched[key] = (counts > 0).reshape(-1, len(down), len(across))
        return self._touched[key]

    def place(self, order: Sequence[int], most: int) -> list[tuple[int, int, int]] | None:
        """Place the pieces in that order; returns (turn, row, column of cells) for each piece.

        None where a piece finds no room or ``most`` sheets are reached.
        """
        occupied = np.zeros(self.size, dtype=np.float32)
        unused = np.ones(self.rows * self.columns, dtype=np.bool_)
        found: list[tuple[int, int, int]] = [(0, 0, 0)] * len(self.shapes)
        for number, piece in enumerate(order):
            # where a piece goes depends only on those before it, and orders begin alike
            key = tuple(order[: number + 1])
            if key not in self._chosen:
                self._chosen[key] = self._choose(piece, occupied, unused)
            choice = self._chosen[key]
            if choice is None:
                return None
            turn, y, x = found[piece] = choice
            cells = self.shapes[piece][turn].cells
            occupied[y : y + cells.shape[0], x : x + cells.shape[1]] += cells
            unused &= ~self.touched(piece, turn)[:, y, x]
            if np.count_nonzero(~unused) >= most:
                return None
        return found

    def _choose(
        self, piece: int, occupied: NDArray[np.float32], unused: NDArray[np.bool_]
    ) -> tuple[int, int, int] | None:
        """The turn and place at which a piece needs the fewest new sheets, or None."""
        spectrum = self._spectrum(occupied)
        best, chosen = np.inf, None
        for turn, shape in enumerate(self.shapes[piece]):
            height, width = shape.cells.shape
            down, across = self.size[0] - height + 1, self.size[1] - width + 1
            hits = np.fft.irfft2(spectrum * self._spectra[piece][turn], self._padded)[:down, :across]
            new = self.touched(piece, turn)[unused].sum(axis=0, dtype=np.float32)
            cost = np.where(hits < 0.5, new * 1e3 + self.taste(piece, turn), np.inf)
            y, x = divmod(int(cost.argmin()), across)
            if cost[y, x] < best:
                best, chosen = float(cost[y, x]), (turn, y, x)
        return chosen

    def sheets(self, found: list[tuple[int, int, int]]) -> int:
        """How many sheets an arrangement touches."""
        used = [self.touched(i, turn)[:, y, x] for i, (turn, y, x) in enumerate(found)]
        return int(np.count_nonzero(np.any(used, axis=0)))


def _smooth(n: int) -> int:
    """The next whole number without prime factors above 5: lengths that the transform is quick for."""
    while True:
        rest = n
        for prime in (2, 3, 5):
            while rest % prime == 0:
                rest //= prime
        if rest == 1:
            return n
        n += 1


def _orders(areas: list[float]) -> Iterator[tuple[int, ...]]:
    """Large pieces first, then other orders; the same ones every time."""
    large_first = tuple(sorted(range(len(areas)), key=lambda i: -areas[i]))
    if len(areas) <= 4:
        yield from permutations(large_first)
        return
    yield large_first
    rng = np.random.default_rng(len(areas))
    while True:
        # large pieces stay likely to come early: small ones then fill what is left
        weights = np.array([areas[i] for i in large_first]) ** -0.5
        keys = rng.exponential(size=len(areas)) * weights
        yield tuple(large_first[i] for i in np.argsort(keys, kind="stable"))


def _block(shape: _Shape, grid: _Grid) -> tuple[int, int]:
    """Rows and columns of sheets that hold a piece by itself."""
    (down, across), (per_x, per_y) = shape.cells.shape, grid.per_sheet
    return (
        max(1, ceil((down - grid.lead[1]) / per_y)),
        max(1, ceil((across - grid.lead[0]) / per_x)),
    )


def _by_sheets(block: tuple[int, int]) -> tuple[int, int]:
    return block[0] * block[1], block[0]


def _planes(blocks: list[tuple[int, int]]) -> Iterator[tuple[int, int]]:
    """Rows and columns of planes to try; each has room for all pieces, one block of sheets each."""
    least = max(columns for _, columns in blocks)
    start = max(least, ceil(sqrt(sum(r * c for r, c in blocks))))
    for columns in (start, start + 1, start + 2):
        rows = used = tall = 0
        for height, width in sorted(blocks, reverse=True):
            if used + width > columns:
                rows, used, tall = rows + tall, 0, 0
            used, tall = used + width, max(tall, height)
        yield rows + tall, columns


def arrange(outlines: Sequence[Array], tiles: Tiling) -> tuple[Placement, ...]:
    """Return where to put pieces so that they need few sheets.

    Args:
        outlines: Cut lines as closed polygons in the pieces' own frames, each shape (n, 2), mm.
        tiles: The sheets.

    Returns:
        A placement for each outline: no two pieces come within twice ``CLEARANCE_MM`` of each other,
        and none within ``CLEARANCE_MM`` of the rim of the sheets that ``sheets_needed`` gives.
    """
    if not outlines:
        return ()
    areas = [float(shapely.Polygon(o).area) for o in outlines]
    boxes = sum(float(np.prod(np.ptp(o, axis=0))) for o in outlines)
    grid = _grid(tiles, max(_CELL_MM, sqrt(boxes) / _CELLS_MOST))
    shapes = [[_shape(o, turn, grid) for turn in range(4)] for o in outlines]
    blocks = [min((_block(s, grid) for s in turns), key=_by_sheets) for turns in shapes]
    trials = max(1, min(_TRIALS, _WORK_MOST // len(outlines)))
    most, found, winner = 10**9, None, None
    for rows, columns in _planes(blocks):
        plane = _Plane(grid, rows, columns, shapes)
        for order in islice(_orders(areas), trials):
            trial = plane.place(order, most)
            if trial is not None:
                most, found, winner = plane.sheets(trial), trial, plane
    if found is None or winner is None:
        return _one_under_another(shapes, grid)
    return tuple(_placement(winner.shapes[i][turn], y, x, grid) for i, (turn, y, x) in enumerate(found))


def _placement(shape: _Shape, y: int, x: int, grid: _Grid) -> Placement:
    return Placement(
        90.0 * shape.turn,
        (
            grid.origin[0] + x * grid.cell[0] + shape.shift[0],
            grid.origin[1] + y * grid.cell[1] + shape.shift[1],
        ),
    )


def _one_under_another(shapes: list[list[_Shape]], grid: _Grid) -> tuple[Placement, ...]:
    """The plainest arrangement, for pieces that no trial found room for."""
    y, placements = 0, list[Placement]()
    for turns in shapes:
        placements.append(_placement(turns[0], y, 0, grid))
        y += turns[0].cells.shape[0]
    return tuple(placements)
