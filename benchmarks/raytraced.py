"""Photographs of our own printed sheets by a general-purpose renderer, Mitsuba 3.

The sheets are rasterised from the PDF that ``likesewn sheet`` writes, laid as textured meshes on a table, and
every sample of the picture is one ray of a lens with Brown's distortion, traced through the scene with area
lights and soft shadows. Nothing is shared with ``tests/photo/scene.py``. ``benchmarks.otherlens`` measures.

World: mm, x right and y down as the sheets are read, z up from the sheets' paper; the table lies a tenth of a
millimetre lower. Pixel centres lie at whole numbers.

``pip install mitsuba`` gives the renderer; it needs LLVM 17 or newer (``DRJIT_LIBLLVM_PATH`` says where).
"""

import io
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import shapely
from PIL import Image

try:
    import drjit as dr
    import mitsuba as mi

    mi.set_variant("llvm_ad_rgb")
except ImportError:
    mi = None

__all__ = ["PAPER_MM", "Lay", "Lens", "Light", "available", "jpeg", "render", "top"]

PAPER_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
TABLE_MM = (3200.0, 2600.0)
PAPER_LIES_MM = 0.1
PRINT_DPI = 400
INK, PAPER = 0.035, 0.84
"""Reflectance of black and of white."""

BAND_SAMPLES = 6_000_000
"""Rays traced at once: each takes some hundred bytes."""


@dataclass(frozen=True)
class Lens:
    """A camera: picture size, focal length and principal point in pixels, Brown's terms, and its place."""

    size: tuple[int, int] = (4000, 3000)
    f: float = 2890.0
    centre: tuple[float, float] = (1999.5, 1499.5)
    distortion: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    distance: float = 1500.0
    tilt: float = 0.0
    towards: float = 0.0
    roll: float = 0.0
    aim: tuple[float, float] = (0.0, 0.0)
    aperture: float = 0.0  # mm across, focused at the distance of the aim

    def axes(self):
        """Return the camera's place (3,) and its right, down and forward (3,3), in the world."""
        tilt, about, roll = np.radians([self.tilt, self.towards, self.roll])
        ahead = np.array([np.sin(tilt) * np.cos(about), np.sin(tilt) * np.sin(about), -np.cos(tilt)])
        # right is the world's x made square to the view, so that no tilt turns the picture by itself
        right = np.array([1.0, 0.0, 0.0]) - ahead[0] * ahead
        right /= np.linalg.norm(right)
        down = np.array([0.0, 1.0, 0.0]) - ahead[1] * ahead
        down -= (down @ right) * right
        down /= np.linalg.norm(down)
        c, s = np.cos(roll), np.sin(roll)
        right, down = c * right + s * down, c * down - s * right
        return np.array([*self.aim, 0.0]) - self.distance * ahead, np.stack([right, down, ahead])

    def project(self, world):
        """Return where (n,3) points of the world appear, (n,2) px."""
        eye, axes = self.axes()
        x, y, z = axes @ (np.asarray(world, dtype=float) - eye).T
        x, y = x / z, y / z
        k1, k2, p1, p2 = self.distortion
        r2 = x * x + y * y
        radial = 1 + k1 * r2 + k2 * r2**2
        u = x * radial + 2 * p1 * x * y + p2 * (r2 + 2 * x * x)
        v = y * radial + p1 * (r2 + 2 * y * y) + 2 * p2 * x * y
        return np.stack([u, v], axis=1) * self.f + self.centre


@dataclass(frozen=True)
class Light:
    """Sky from all round, a window at one side and a lamp; each as radiance."""

    sky: float = 0.5
    window: float = 6.0
    from_degrees: float = 30.0
    lamp: float = 0.0  # a small bright one above, for hard shadows and, on glossy paper, highlights
    lamp_at: tuple[float, float, float] = (300.0, -400.0, 1900.0)


@dataclass(frozen=True, eq=False)
class Lay:
    """What lies there: sheets as (number, x, y, degrees) of the paper's middle, and a garment."""

    paper: str = "a4"
    sheets: tuple = ()
    printed: float = 1.0
    curl: float = 0.0  # mm that the paper's middle stands above its ends
    gloss: bool = False  # whether the paper has a glossy coat
    table: str = "plain"
    outline: np.ndarray | None = None  # (n,2) mm
    thickness: float = 0.0  # of the cloth's upper side above the paper
    upright: bool = True  # whether the cloth's side is there below its upper edge, or air
    colour: tuple[float, float, float] = (0.09, 0.13, 0.33)
    neckline: np.ndarray | None = None  # (m,2) front neckline, mm, drawn on the cloth
    seed: int = 0
    light: Light = field(default_factory=Light)


def available() -> str:
    """Return why nothing can be rendered, or nothing."""
    return "Mitsuba is not installed (pip install mitsuba)" if mi is None else ""


@cache
def _pages(pdf: Path) -> list[np.ndarray]:
    """Return the sheets of a PDF as grey levels, (h,w) each, without the page of instructions before them."""
    import pypdfium2  # noqa: PLC0415 - only where something is rendered

    return [
        np.ascontiguousarray(page.render(scale=PRINT_DPI / 72.0, grayscale=True).to_numpy()).squeeze()
        for page in list(pypdfium2.PdfDocument(pdf))[1:]
    ]


HALF_TOP = (
    ("neck_point", (88.0, 0.0), 0.0),
    ("", (205.0, 42.0), 0.0),
    ("cuff_outer", (392.0, 208.0), -6.0),
    ("cuff_inner", (332.0, 300.0), 0.0),
    ("underarm", (252.0, 240.0), 6.0),
    ("hem_side", (262.0, 652.0), 8.0),
)
"""Right half of a top: corner, place, and how far the edge that leads there bows inward, mm."""


def top(at=(0.0, 0.0), degrees=0.0):
    """Return a top's outline (n,2) clockwise as seen, its corners, and its front neckline (m,2), mm.

    Its edges are curves: no two neighbours of the outline are more than 3 mm apart.
    """
    right = [np.array([[0.0, 22.0]])]
    last = np.array([0.0, 22.0])
    edges = [(n, np.array(p), b) for n, p, b in HALF_TOP] + [("", np.array([0.0, 662.0]), -4.0)]
    for i, (_, end, bow) in enumerate(edges):
        chord = end - last
        length = np.hypot(*chord)
        t = np.linspace(0.0, 1.0, int(np.ceil(length / 3.0)) + 1)[1:, None]
        inward = np.array([-chord[1], chord[0]]) / length
        if i == 0:  # the back's neckline: level in the middle, steep at the neck point
            right.append(np.column_stack([88.0 * t, 22.0 * (1.0 - t**2.5)]))
        else:
            right.append(last + chord * t + 4.0 * bow * t * (1.0 - t) * inward)
        last = end
    half = np.concatenate(right)
    outline = np.concatenate([half, half[-2:0:-1] * [-1.0, 1.0]])
    u = np.linspace(-1.0, 1.0, 61)
    neckline = np.column_stack([88.0 * u, 95.0 * (1.0 - np.abs(u) ** 2.2)])
    a = np.radians(degrees)
    turn = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    corners = {
        f"{name}_{side}": ((np.array(place) * [sign, 1.0] - [0.0, 330.0]) @ turn + at)
        for name, place, _ in HALF_TOP
        if name
        for side, sign in (("left", -1.0), ("right", 1.0))
    }
    corners["front_neck_centre"] = (np.array([0.0, 95.0]) - [0.0, 330.0]) @ turn + at
    return (outline - [0.0, 330.0]) @ turn + at, corners, (neckline - [0.0, 330.0]) @ turn + at


def _noise(rng, shape, cell):
    small = rng.standard_normal((max(2, int(shape[0] / cell)), max(2, int(shape[1] / cell)))).astype(
        np.float32
    )
    return cv2.resize(small, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)


def _table(kind, rng):
    """Return the table's colours, reflectance (h,w,3), a texel to each 0.5 mm."""
    w, h = (int(2 * v) for v in TABLE_MM)
    y, x = np.mgrid[0:h, 0:w].astype(np.float32) / 2.0
    speck = 0.012 * rng.standard_normal((h, w)).astype(np.float32) + 0.015 * _noise(rng, (h, w), 80)
    if kind == "plain":
        out = np.array([0.42, 0.35, 0.27], np.float32) * np.ones((h, w, 1), np.float32)
    elif kind == "white":
        out = np.array([0.74, 0.73, 0.70], np.float32) * np.ones((h, w, 1), np.float32)
    elif kind == "wood":
        plank = np.floor(y / 130.0)
        tone = rng.uniform(0.8, 1.15, 64).astype(np.float32)[plank.astype(int) % 64]
        bent = y + 9.0 * _noise(rng, (h, w), 500) + 40.0 * rng.standard_normal(64)[plank.astype(int) % 64]
        ring = 0.5 * np.sin(bent / 4.1) + 0.3 * np.sin(bent / 1.7 + 1.0) + 0.5 * _noise(rng, (h, w), 12)
        out = np.array([0.40, 0.24, 0.12], np.float32) * (tone * (1.0 + 0.14 * ring))[:, :, None]
        gap = (np.abs(y - 130.0 * np.rint(y / 130.0)) < 0.8) | (np.abs((x + 371.0 * plank) % 1100.0) < 0.8)
        out[gap] *= 0.3
    elif kind == "checked":
        a, b = (np.sin(2 * np.pi * v / 48.0) > 0 for v in (x, y))
        out = np.full((h, w, 3), 0.68, np.float32)
        out[a ^ b] *= np.array([0.86, 0.72, 0.62], np.float32)
        out[a & b] *= np.array([0.74, 0.50, 0.36], np.float32)
        speck += 0.03 * np.sin(2 * np.pi * x / 1.6) * np.sin(2 * np.pi * y / 1.6)
    elif kind == "tiles":
        cell = np.floor(x / 200.0) * 31 + np.floor(y / 200.0)
        tone = rng.uniform(0.9, 1.1, 997).astype(np.float32)[cell.astype(int) % 997]
        out = np.array([0.52, 0.48, 0.43], np.float32) * tone[:, :, None]
        gap = np.minimum(np.abs((x + 100) % 200.0 - 100), np.abs((y + 100) % 200.0 - 100)) < 2.0
        out[gap] = (0.30, 0.29, 0.27)
    else:
        raise ValueError(f"there is no table {kind}")
    return np.clip(out * (1.0 + speck[:, :, None]), 0.01, 0.95)


def _cloth(lay, rng, low, high):
    """Return the cloth's colours over the box from ``low`` to ``high``, a texel to each 0.5 mm."""
    w, h = np.ceil((high - low) * 2.0).astype(int)
    y, x = np.mgrid[0:h, 0:w].astype(np.float32)
    weave = 0.05 * np.sin(x * 2.1) * np.sin(y * 1.9) + 0.03 * rng.standard_normal((h, w)).astype(np.float32)
    folds = 0.05 * _noise(rng, (h, w), 240)
    out = np.array(lay.colour, np.float32) * (1.0 + weave + folds)[:, :, None]
    if lay.neckline is not None:

        def at(points):
            return [np.round((points - low) * 2.0 * 16.0).astype(np.int32)]

        hole = np.zeros((h, w), np.uint8)
        ends = lay.neckline[[0, -1]]
        up = (ends.mean(axis=0) - lay.neckline[len(lay.neckline) // 2]) * 0.5
        cv2.fillPoly(hole, at(np.concatenate([lay.neckline, ends[::-1] + up])), 1, shift=4)
        out[hole > 0] *= 0.72  # the back's inner side
        way = np.gradient(lay.neckline, axis=0)
        away = way[:, ::-1] * [-1.0, 1.0]
        away *= np.sign((away * (lay.neckline - ends.mean(axis=0))).sum(axis=1))[:, None]
        seam = lay.neckline + 20.0 * away / np.linalg.norm(away, axis=1, keepdims=True)
        line = np.zeros((h, w), np.uint8)
        cv2.polylines(line, at(seam), False, 1, 3, cv2.LINE_8, 4)  # noqa: FBT003 - OpenCV's own order
        out[line > 0] *= 0.7
    return np.clip(out, 0.01, 0.95)


def _mesh(name, points, faces, uv, bsdf):
    props = mi.Properties()
    props["bsdf"] = bsdf
    mesh = mi.Mesh(name, len(points), len(faces), has_vertex_texcoords=True, props=props)
    into = mi.traverse(mesh)
    into["vertex_positions"] = np.ravel(points).astype(np.float32)
    into["faces"] = np.ravel(faces).astype(np.uint32)
    into["vertex_texcoords"] = np.ravel(uv).astype(np.float32)
    into.update()
    return mesh


def _paint(texels, *, gloss=False):
    bitmap = mi.Bitmap(np.ascontiguousarray(texels, dtype=np.float32))
    texture = {"type": "bitmap", "bitmap": bitmap, "raw": True, "wrap_mode": "clamp"}
    if gloss:
        coat = {"type": "roughplastic", "diffuse_reflectance": texture, "alpha": 0.12}
        return mi.load_dict({"type": "twosided", "bsdf": coat})
    return mi.load_dict({"type": "twosided", "bsdf": {"type": "diffuse", "reflectance": texture}})


def _grid(n):
    t = np.linspace(0.0, 1.0, n)
    u, v = np.meshgrid(t, t)
    i = np.arange(n * n).reshape(n, n)
    a, b, c, d = i[:-1, :-1].ravel(), i[:-1, 1:].ravel(), i[1:, :-1].ravel(), i[1:, 1:].ravel()
    return np.column_stack([u.ravel(), v.ravel()]), np.concatenate(
        [np.stack([a, b, c], 1), np.stack([b, d, c], 1)]
    )


@cache
def _table_paint(kind):
    return _paint(_table(kind, np.random.default_rng(1)))


@cache
def _sheet_paint(pdf, number, gloss):
    ink = INK + (PAPER - INK) * (_pages(pdf)[number - 1].astype(np.float32) / 255.0)
    return _paint(np.repeat(ink[:, :, None], 3, axis=2), gloss=gloss)


def _scene(lay, pdf):
    rng = np.random.default_rng(lay.seed)
    scene = {"type": "scene"}
    uv, faces = _grid(2)
    points = np.column_stack([(uv - 0.5) * TABLE_MM, np.full(4, -PAPER_LIES_MM)])
    scene["table"] = _mesh("table", points, faces, uv, _table_paint(lay.table))
    wide, high = PAPER_MM[lay.paper]
    for place, (number, x, y, degrees) in enumerate(lay.sheets):
        uv, faces = _grid(41 if lay.curl else 2)
        local = (uv - 0.5) * (wide, high) * lay.printed
        a = np.radians(degrees)
        on_table = local @ np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]]) + (x, y)
        # a page's sag between its short ends, as paper that was rolled lies
        z = lay.curl * (1.0 - (2.0 * uv[:, 1] - 1.0) ** 2)
        points = np.column_stack([on_table, z])
        scene[f"sheet{place}"] = _mesh("sheet", points, faces, uv, _sheet_paint(pdf, number, lay.gloss))
    if lay.outline is not None:
        _add_cloth(scene, lay, rng)
    light = lay.light
    scene["sky"] = {
        "type": "constant",
        "radiance": {"type": "rgb", "value": [light.sky * v for v in (0.95, 1.0, 1.05)]},
    }
    if light.window:
        a = np.radians(light.from_degrees)
        place = [2600.0 * np.cos(a), 2600.0 * np.sin(a), 1500.0]
        scene["window"] = _panel(place, (0.0, 0.0, 0.0), 700.0, [light.window * v for v in (1.0, 1.0, 0.97)])
    if light.lamp:
        x, y, z = light.lamp_at
        scene["lamp"] = _panel([x, y, z], (x, y, 0.0), 60.0, [light.lamp * v for v in (1.0, 0.92, 0.8)])
    return mi.load_dict(scene)


def _panel(place, towards, half, radiance):
    to_world = mi.ScalarTransform4f().look_at(origin=place, target=list(towards), up=[0.1, 1.0, 0.3])
    return {
        "type": "rectangle",
        "to_world": to_world @ mi.ScalarTransform4f().scale(half),
        "emitter": {"type": "area", "radiance": {"type": "rgb", "value": radiance}},
    }


def _add_cloth(scene, lay, rng):
    """Add the garment: its upper side, and an upright side below it down to the table."""
    low, high = lay.outline.min(axis=0) - 2.0, lay.outline.max(axis=0) + 2.0
    paint = _paint(_cloth(lay, rng, low, high))
    triangles = shapely.constrained_delaunay_triangles(shapely.Polygon(lay.outline)).geoms
    flat = np.concatenate([np.asarray(t.exterior.coords)[:3] for t in triangles])
    points = np.column_stack([flat, np.full(len(flat), lay.thickness)])
    faces = np.arange(len(flat)).reshape(-1, 3)
    scene["cloth"] = _mesh("cloth", points, faces, (flat - low) / (high - low), paint)
    if not lay.upright:
        return
    n = len(lay.outline)
    both = np.tile(lay.outline, (2, 1))
    points = np.column_stack([both, np.repeat([lay.thickness, -PAPER_LIES_MM], n)])
    i = np.arange(n)
    j = (i + 1) % n
    faces = np.concatenate([np.stack([i, j, i + n], 1), np.stack([j, j + n, i + n], 1)])
    scene["side"] = _mesh("side", points, faces, (both - low) / (high - low), paint)


def _rays(lens, x, y, sampler):
    """Return the rays that places of the picture look along; the lens's distortion is undone step by step."""
    eye, (right, down, ahead) = lens.axes()
    k1, k2, p1, p2 = lens.distortion
    u0, v0 = (x - lens.centre[0]) / lens.f, (y - lens.centre[1]) / lens.f
    u, v = mi.Float(u0), mi.Float(v0)
    for _ in range(12):
        r2 = u * u + v * v
        radial = 1.0 + r2 * (k1 + r2 * k2)
        bent_u = 2.0 * p1 * u * v + p2 * (r2 + 2.0 * u * u)
        bent_v = p1 * (r2 + 2.0 * v * v) + 2.0 * p2 * u * v
        u, v = (u0 - bent_u) / radial, (v0 - bent_v) / radial
    right, down, ahead = (mi.Vector3f(*map(float, axis)) for axis in (right, down, ahead))
    way = right * u + down * v + ahead
    start = mi.Point3f(*map(float, eye))
    if lens.aperture:
        spot = mi.warp.square_to_uniform_disk(sampler.next_2d()) * (lens.aperture / 2.0)
        # every ray of one place meets in the plane of focus
        shift = right * spot.x + down * spot.y
        way = way * lens.distance - shift
        start = start + shift
    return mi.RayDifferential3f(start, dr.normalize(way))


def render(lay, lens, pdf, samples=16, *, bounces=False):
    """Return what the lens sees, linear light (h,w,3), before noise: one pixel is the mean over its square.

    Args:
        lay: What lies there.
        lens: The camera.
        pdf: What ``likesewn sheet`` wrote.
        samples: Rays to a pixel.
        bounces: Whether light that was thrown back twice or more counts too.
    """
    scene = _scene(lay, pdf)
    integrator = mi.load_dict({"type": "path", "max_depth": 4} if bounces else {"type": "direct"})
    width, height = lens.size
    rows = max(1, BAND_SAMPLES // (width * samples))
    out = np.empty((height, width, 3), np.float32)
    sampler = mi.load_dict({"type": "independent", "sample_count": 1})
    # the strata of a pixel: no two samples share a row or a column of it
    share = (np.arange(samples) + 0.5) / samples
    other = (np.arange(samples) * (np.sqrt(5.0) - 1.0) / 2.0 + 0.5) % 1.0
    down = (np.argsort(np.argsort(other)) + 0.5) / samples
    for first in range(0, height, rows):
        last = min(first + rows, height)
        count = (last - first) * width
        index = dr.arange(mi.UInt32, count * samples)
        pixel, which = index // samples, index % samples
        dx = dr.gather(mi.Float, mi.Float(share.astype(np.float32)), which)
        dy = dr.gather(mi.Float, mi.Float(down.astype(np.float32)), which)
        x = mi.Float(pixel % width) + dx - 0.5
        y = mi.Float(pixel // width + first) + dy - 0.5
        sampler.seed((lay.seed + 7919 * first) % 2**31, count * samples)
        colour, _, _ = integrator.sample(scene, sampler, _rays(lens, x, y, sampler), active=True)[:3]
        band = np.stack([np.array(dr.block_sum(c, samples)) for c in (colour.x, colour.y, colour.z)], axis=1)
        out[first:last] = (band / samples).reshape(last - first, width, 3)
    return out


def jpeg(linear, *, seed=0, blur=0.8, noise=0.006, exposure=0.8, quality=90, equivalent=None, orientation=1):
    """Return linear light as a phone's JPEG: blur, noise that grows with the light, sRGB, sharpening, notes.

    Args:
        linear: (h,w,3).
        seed: Of the noise.
        blur: One sigma of lens and sensor, px.
        noise: One sigma in middle grey, as a share of white.
        exposure: Where the 99th percentile comes to lie, as a share of white.
        quality: Of the JPEG.
        equivalent: 35 mm equivalent of the focal length to note, or None.
        orientation: EXIF's; the pixels are turned so that a viewer who heeds it shows ``linear``.
    """
    rng = np.random.default_rng(seed)
    light = linear * (exposure / np.percentile(linear, 99))
    if blur:
        light = cv2.GaussianBlur(light, (0, 0), blur)
    grain = rng.standard_normal(light.shape, dtype=np.float32)
    light = light + noise * np.sqrt(np.maximum(light, 0.0) / 0.2 + 0.1) * grain
    light = np.clip(light, 0.0, 1.0)
    srgb = np.where(light < 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    pixels = np.clip(np.rint(255.0 * srgb), 0, 255).astype(np.uint8)
    pixels = np.ascontiguousarray(np.rot90(pixels, {1: 0, 3: 2, 6: 1, 8: 3}[orientation]))
    image = Image.fromarray(pixels)
    notes = Image.Exif()
    notes[0x0112] = orientation
    if equivalent:
        notes.get_ifd(0x8769)[0xA405] = round(equivalent)
    into = io.BytesIO()
    image.save(into, "JPEG", quality=quality, exif=notes)
    return into.getvalue()
