"""A renderer of its own: photographs of flat shapes and reference sheets whose truth is known exactly.

It shares with the package only what a sheet looks like (its cells); lens, pose and projection are written
here a second time, by the textbook and with OpenCV, so that a fault in the package cannot hide in it.
"""

from dataclasses import dataclass, field

import cv2
import numpy as np

from likesewn.photo.sheet import CELL_MM, FIELD_MM, sheet

PAPER_MM = (210.0, 297.0)


@dataclass
class Shape:
    """A flat shape that lies on the table: outline (n,2) mm, colour 0 to 255, its thickness in mm."""

    outline: np.ndarray
    colour: tuple[float, float, float] = (70.0, 90.0, 150.0)
    weave: float = 4.0


@dataclass
class Scene:
    """What lies on the table and how it is photographed. Lengths in mm, angles in degrees."""

    size: tuple[int, int] = (4000, 3000)
    f: float = 2900.0
    centre: tuple[float, float] = (1999.5, 1499.5)
    distortion: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    distance: float = 1500.0
    tilt: float = 0.0
    tilt_towards: float = 0.0
    roll: float = 0.0
    aim: tuple[float, float] = (0.0, 0.0)
    sheets: list = field(default_factory=list)  # (number, x, y, angle) of each sheet's paper centre
    print_scale: tuple[float, float] = (1.0, 1.0)
    shapes: list = field(default_factory=list)
    thickness: float = 0.0
    table: tuple[float, float, float] = (176.0, 160.0, 138.0)
    pattern: str = "plain"
    light: float = 0.2
    blur: float = 0.9
    noise: float = 2.0
    quality: int = 92
    bend: float = 0.0  # mm that a sheet's middle stands above the table

    @property
    def matrix(self):
        return np.array([[self.f, 0, self.centre[0]], [0, self.f, self.centre[1]], [0, 0, 1.0]])

    @property
    def pose(self):
        """Rotation and translation from the table frame (z down) to the camera frame."""
        about = np.radians(self.tilt_towards)
        axis = np.array([np.cos(about), np.sin(about), 0.0]) * np.radians(self.tilt)
        tilt, _ = cv2.Rodrigues(axis)
        roll, _ = cv2.Rodrigues(np.array([0.0, 0.0, np.radians(self.roll)]))
        rotation = tilt @ roll
        translation = np.array([0.0, 0.0, self.distance]) - rotation @ np.array([*self.aim, 0.0])
        return rotation, translation

    def project(self, mm, height=0.0):
        rotation, translation = self.pose
        height = np.broadcast_to(height, (len(mm),))
        points = np.column_stack([mm, -height])
        px, _ = cv2.projectPoints(points, rotation, translation, self.matrix, np.array(self.distortion))
        return px.reshape(-1, 2)

    def table_of(self, px):
        """Where on the table pixels look: a fixed-point inverse of the distortion, to 1e-9."""
        rotation, translation = self.pose
        at = (px - self.centre) / self.f
        x, y = at[:, 0].copy(), at[:, 1].copy()
        k1, k2, p1, p2 = self.distortion
        for _ in range(60):
            r2 = x * x + y * y
            radial = 1 + k1 * r2 + k2 * r2 * r2
            dx = 2 * p1 * x * y + p2 * (r2 + 2 * x * x)
            dy = p1 * (r2 + 2 * y * y) + 2 * p2 * x * y
            nx, ny = (at[:, 0] - dx) / radial, (at[:, 1] - dy) / radial
            moved = max(np.abs(nx - x).max(), np.abs(ny - y).max())
            x, y = nx, ny
            if moved < 1e-10:
                break
        homography = np.column_stack([rotation[:, 0], rotation[:, 1], translation])
        seen = np.linalg.solve(homography, np.stack([x, y, np.ones_like(x)]))
        return (seen[:2] / seen[2]).T

    def sheet_to_table(self, placed, points):
        """Points of a sheet's frame (field's top left, as designed) on the table."""
        _, x, y, angle = placed
        a = np.radians(angle)
        turn = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
        return ((points - np.array(FIELD_MM) / 2) * self.print_scale) @ turn.T + (x, y)


def _smooth(rng, shape, cell):
    small = rng.standard_normal((max(2, shape[0] // cell), max(2, shape[1] // cell))).astype(np.float32)
    return cv2.resize(small, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)


def _table(scene, rng):
    width, height = scene.size
    base = np.empty((height, width, 3), np.float32)
    base[:] = scene.table
    grain = 3.0 * _smooth(rng, (height, width), 4) + 3.0 * _smooth(rng, (height, width), 60)
    base += grain[:, :, None]
    if scene.pattern == "plain":
        return base
    ys, xs = np.mgrid[0:height:4, 0:width:4]
    mm = scene.table_of(np.column_stack([xs.ravel(), ys.ravel()]).astype(float)).reshape(*xs.shape, 2)
    mm = cv2.resize(mm.astype(np.float32), (width, height), interpolation=cv2.INTER_LINEAR)
    if scene.pattern == "tiles":
        gap = np.minimum(np.abs((mm[:, :, 0] % 150) - 75), np.abs((mm[:, :, 1] % 150) - 75)) < 2.0
        base[gap] -= 45
    elif scene.pattern == "stripes":
        base += (18 * np.sin(mm[:, :, 0] * 2 * np.pi / 23))[:, :, None] * np.array([1.0, 0.7, 0.4])
    elif scene.pattern == "wood":
        rings = mm[:, :, 1] + 6 * _smooth(rng, (height, width), 300)
        base += (12 * np.sin(rings / 5) + 8 * np.sin(rings / 1.9))[:, :, None] * np.array([1.0, 0.85, 0.6])
    return base


def _draw_sheet(scene, image, placed, detail):
    """Paint one sheet by looking every sub-pixel up in its cells, so that its place is exact."""
    half = np.array(PAPER_MM) / 2
    edge = np.array([(-1, -1), (0, -1), (1, -1), (1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0)]) * half
    rim = scene.project(scene.sheet_to_table(placed, edge + np.array(FIELD_MM) / 2))
    width, height = scene.size
    low = np.maximum(np.floor(rim.min(axis=0)).astype(int) - 3, 0)
    high = np.minimum(np.ceil(rim.max(axis=0)).astype(int) + 4, (width, height))
    if np.any(high <= low):
        return
    # no two samples share a row or a column, so that edges along the pixels are placed to 1 / detail
    across = (np.arange(detail) + 0.5) / detail - 0.5
    down = np.argsort((np.arange(detail) * (np.sqrt(5) - 1) / 2) % 1).argsort()
    down = (down + 0.5) / detail - 0.5
    ys, xs = np.mgrid[low[1] : high[1], low[0] : high[0]]
    a = np.radians(placed[3])
    back = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    # blank paper all round, so that every place of the paper can be looked up
    cells = np.pad(sheet(placed[0]).cells, 9)
    mm = scene.table_of(np.column_stack([xs.ravel(), ys.ravel()]).astype(float)).reshape(*xs.shape, 2)
    local = ((mm - placed[1:3]) @ back) / scene.print_scale
    rotation, translation = scene.pose
    eye = -rotation.T @ translation
    for _ in range(3 if scene.bend else 0):
        # a bulged sheet: what is seen lies where the ray meets it, higher up
        lift = scene.bend * np.clip(1 - np.sum((local / half) ** 2, axis=2) / 2, 0, 1)
        met = mm + (lift / (-eye[2]))[:, :, None] * (eye[:2] - mm)
        local = ((met - placed[1:3]) @ back) / scene.print_scale
    # within half a pixel the map is straight to far below a micrometre
    (x, y), by_y, by_x = ((v[:, :, 0], v[:, :, 1]) for v in (local, *np.gradient(local, axis=(0, 1))))
    x0, y0 = np.array(FIELD_MM) / 2 + 9 * CELL_MM
    ink = np.zeros(xs.shape, np.float32)
    paper = np.zeros(xs.shape, np.float32)
    for dx, dy in zip(across, down, strict=True):
        u = x + dx * by_x[0] + dy * by_y[0]
        v = y + dx * by_x[1] + dy * by_y[1]
        paper += (np.abs(u) <= half[0]) & (np.abs(v) <= half[1])
        column = np.clip((u + x0) / CELL_MM, 0, cells.shape[1] - 1).astype(np.int32)
        row = np.clip((v + y0) / CELL_MM, 0, cells.shape[0] - 1).astype(np.int32)
        ink += cells[row, column]
    ink /= detail
    paper /= detail
    part = image[low[1] : high[1], low[0] : high[0]]
    colour = (232.0 - 200.0 * ink)[:, :, None]
    part[:] = part * (1 - paper[:, :, None]) + colour * paper[:, :, None]


def _cover(outline, rows, columns, fine=8):
    """Share of each pixel that a closed outline covers: exact along rows, ``fine`` lines to each row.

    Every line's crossing adds what lies to its right, up or down by the way the outline runs.
    """
    parts = np.zeros((rows, columns + 1), np.float32)
    for (x0, y0), (x1, y1) in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        if y0 == y1:
            continue
        sign = 1.0 if y1 > y0 else -1.0
        first, last = np.ceil(np.array(sorted((y0, y1))) * fine - 0.5).astype(int)
        line = np.arange(max(first, 0), min(last, rows * fine))
        x = np.clip(x0 + ((line + 0.5) / fine - y0) * (x1 - x0) / (y1 - y0), 0, columns - 1e-6)
        whole = np.floor(x).astype(int)
        np.add.at(parts, (line // fine, whole), sign * (1 - (x - whole)) / fine)
        np.add.at(parts, (line // fine, whole + 1), sign * (x - whole) / fine)
    return np.abs(np.cumsum(parts, axis=1)[:, :columns])


def _draw_shape(scene, image, shape, rng):
    px = scene.project(shape.outline, scene.thickness)
    width, height = scene.size
    low = np.maximum(np.floor(px.min(axis=0)).astype(int) - 4, 0)
    high = np.minimum(np.ceil(px.max(axis=0)).astype(int) + 5, (width, height))
    cover = _cover(px - low + 0.5, high[1] - low[1], high[0] - low[0])[:, :, None]
    part = image[low[1] : high[1], low[0] : high[0]]
    weave = shape.weave * rng.standard_normal(part.shape[:2]).astype(np.float32)
    folds = 5.0 * _smooth(rng, part.shape[:2], 200)
    cloth = np.array(shape.colour, np.float32) + (weave + folds)[:, :, None]
    part[:] = part * (1 - cover) + cloth * cover


def photograph(scene, seed=0, detail=32):
    """Return the photograph, (h,w,3) uint8 red-green-blue, as it comes out of the JPEG."""
    rng = np.random.default_rng(seed)
    image = _table(scene, rng)
    for placed in scene.sheets:
        _draw_sheet(scene, image, placed, detail)
    for shape in scene.shapes:
        _draw_shape(scene, image, shape, rng)
    width, height = scene.size
    slope = rng.uniform(-1, 1, 2)
    ramp = (
        slope[0] * np.linspace(-0.5, 0.5, width)[None, :] + slope[1] * np.linspace(-0.5, 0.5, height)[:, None]
    )
    image *= (1.0 + scene.light * ramp.astype(np.float32))[:, :, None]
    if scene.blur:
        image = cv2.GaussianBlur(image, (0, 0), scene.blur)
    image += scene.noise * rng.standard_normal((height, width), dtype=np.float32)[:, :, None]
    pixels = np.clip(np.rint(image), 0, 255).astype(np.uint8)
    _, coded = cv2.imencode(".jpg", pixels[:, :, ::-1], [cv2.IMWRITE_JPEG_QUALITY, scene.quality])
    return cv2.imdecode(coded, cv2.IMREAD_COLOR)[:, :, ::-1]


FOUR = [(1, -620, -430), (2, 620, -430), (3, -620, 430), (4, 620, 430)]


def random_scene(rng, *, count=4, size=(4000, 3000), thickness=0.0):
    """Draw a scene: sheets at the corners of a 900 by 700 mm lay, phone lens, tilt, distance, light."""
    long = max(size)
    where = {4: FOUR, 2: [FOUR[0], FOUR[3]], 1: [FOUR[0]]}[count]
    if count == 1:
        where = [(1, -480.0 + rng.uniform(-20, 20), 0.0)]
    sheets = [
        (n, x + rng.uniform(-15, 15), y + rng.uniform(-15, 15), rng.uniform(-12, 12) + rng.choice([0, 180]))
        for n, x, y in where
    ]
    return Scene(
        size=size,
        f=long * rng.uniform(0.66, 0.78),
        centre=(
            (size[0] - 1) / 2 + 0.004 * long * rng.standard_normal(),
            (size[1] - 1) / 2 + 0.004 * long * rng.standard_normal(),
        ),
        distortion=tuple(rng.standard_normal(4) * (0.05, 0.05, 0.0005, 0.0005)),
        distance=rng.uniform(1300, 2000),
        tilt=rng.uniform(0, 25),
        tilt_towards=rng.uniform(0, 360),
        roll=rng.uniform(-8, 8),
        aim=tuple(rng.uniform(-30, 30, 2)),
        sheets=sheets,
        thickness=thickness,
        light=rng.uniform(0, 0.5),
        blur=rng.uniform(0.6, 1.4),
        noise=rng.uniform(1, 4),
        quality=int(rng.integers(80, 97)),
    )
