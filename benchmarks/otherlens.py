"""How true photographs are that another renderer took of our printed sheets, by the command line alone.

    python -m benchmarks.otherlens FOLDER [--only SETTING ...] [--scenes N] [--samples N]

Pictures are rendered by ``benchmarks.raytraced``, which says how to install the renderer, into FOLDER unless
they are there already, and traced by ``likesewn trace --json``. Errors are taken against the truth in
millimetres: of the plane over 900 by 700 mm, of the outline to the true edge, of corners; and how often the
stated 95 % intervals hold, and what is said to be wrong. The renderer is optional: without it, only pictures
that FOLDER has are measured.
"""

import argparse
import json
import subprocess
import sys
from collections import Counter, defaultdict
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import shapely
from scipy.optimize import least_squares

from benchmarks import raytraced
from benchmarks.edges import CORNER_MM, off_edge
from benchmarks.raytraced import PAPER_MM, Lay, Lens, Light, jpeg, render, top

__all__ = ["main"]

GRID = np.stack(np.meshgrid(np.linspace(-450, 450, 10), np.linspace(-350, 350, 8)), axis=-1).reshape(-1, 2)
COMMAND = "import sys; from likesewn.cli import main; sys.argv[0] = 'likesewn'; main()"
KIND = "set-in-sleeve-top"
COLOURS = (
    (0.09, 0.13, 0.33),
    (0.72, 0.70, 0.66),
    (0.03, 0.028, 0.032),
    (0.33, 0.04, 0.06),
    (0.06, 0.20, 0.09),
)
FULL_FRAME = float(np.hypot(36.0, 24.0))


@dataclass(frozen=True)
class Setting:
    """A sort of photograph, with what the errors may be, mm: median, 90th percentile, outline."""

    tables: tuple[str, ...] = ("plain",)
    where: str = "corners"
    paper: str = "a4"
    size: tuple[int, int] = (4000, 3000)
    photos: int = 1
    most: tuple[float, float] | None = None
    most_outline: float | None = None
    lay: dict = field(default_factory=dict)
    thick: bool = True
    deep: bool = False
    bounces: bool = False
    lamp: float = 0.0
    noted: bool = False
    orientation: int = 1
    ruler: bool = False
    most_tilt: float = 25.0
    scenes: int = 4


SETTINGS = {
    "plain": Setting(("plain", "white"), most=(0.06, 0.12), most_outline=0.4),
    "wood": Setting(("wood",), most=(0.06, 0.12), most_outline=0.8),
    "checked": Setting(("checked",), most=(0.06, 0.12), most_outline=0.8),
    "tiles": Setting(("tiles",), most=(0.06, 0.12), most_outline=0.8),
    "three photographs": Setting(("plain", "wood"), photos=3, most=(0.03, 0.06), scenes=3),
    "two on a diagonal": Setting(("plain", "wood"), "diagonal", most=(0.4, 0.8), scenes=5),
    "one": Setting(("plain", "wood"), "one", most=(1.0, 2.0), scenes=5),
    "odd places": Setting(("plain", "checked"), "odd", most=(0.06, 0.12), scenes=3),
    "letter": Setting(("plain", "tiles"), paper="letter", most=(0.06, 0.12), scenes=3),
    "thin": Setting(("plain",), most=(0.06, 0.12), most_outline=0.4, thick=False, scenes=3),
    "air below the edge": Setting(("plain",), most=(0.06, 0.12), most_outline=0.4, lay={"upright": False}),
    "depth of field": Setting(
        ("wood",), most=(0.06, 0.12), most_outline=0.8, deep=True, bounces=True, scenes=3
    ),
    "curl of 1 mm": Setting(("plain",), most=(0.06, 0.12), lay={"curl": 1.0}, scenes=3),
    "glossy paper": Setting(("wood",), most=(0.06, 0.12), lay={"gloss": True}, lamp=400.0, scenes=3),
    "focal length noted": Setting(("plain",), most=(0.06, 0.12), noted=True, scenes=3),
    "upright by EXIF": Setting(
        ("plain",), "upright", size=(3000, 4000), orientation=6, most=(0.06, 0.12), scenes=2
    ),
    "printed at 99.6 %": Setting(("plain",), most=(0.06, 0.12), lay={"printed": 0.996}, ruler=True, scenes=3),
    "1600 px": Setting(("plain", "wood"), size=(1600, 1200), scenes=4),
    "48 megapixels": Setting(("wood",), size=(8000, 6000), most=(0.06, 0.12), most_outline=0.8, scenes=1),
}


def _places(setting, rng, distance):
    wide, high = (np.clip(0.335 * distance, 480, 620), np.clip(0.26 * distance, 380, 440))
    near = [(-wide, -high), (wide, -high), (-wide, high), (wide, high)]
    chosen = {
        "corners": near,
        "diagonal": [near[0], near[3]] if rng.random() < 0.5 else [near[1], near[2]],
        "one": [(-wide, 0.0)],
        "upright": [(x, y) for y in (-560, 560) for x in (-380, 380)],
        "odd": [(-wide, 0.2 * high), (wide, -high), (0.2 * wide, 525.0), (-0.5 * wide, -530.0)],
    }[setting.where]
    numbers = rng.permutation(4)[: len(chosen)] + 1
    spread = 180.0 if setting.where == "odd" else 12.0
    return tuple(
        (
            int(n),
            x + rng.uniform(-15, 15),
            y + rng.uniform(-15, 15),
            rng.uniform(-spread, spread) + rng.choice([0, 180]),
        )
        for n, (x, y) in zip(numbers, chosen, strict=True)
    )


def _inside(lens, lay):
    half = np.array(PAPER_MM[lay.paper]) / 2.0
    corners = []
    for _, x, y, degrees in lay.sheets:
        a = np.radians(degrees)
        rim = half * [(-1, -1), (1, -1), (1, 1), (-1, 1)]
        corners.append(rim @ np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]]) + (x, y))
    px = lens.project(np.column_stack([np.concatenate(corners), np.zeros(4 * len(corners))]))
    return bool(np.all(px > 15) and np.all(px < np.array(lens.size) - 15))


def _lens(setting, rng, known=None):
    width, height = setting.size
    long = max(width, height)
    lens = known or Lens(
        setting.size,
        rng.uniform(24.0, 27.5) / FULL_FRAME * float(np.hypot(width, height)),
        (
            (width - 1) / 2 + 0.003 * long * rng.standard_normal(),
            (height - 1) / 2 + 0.003 * long * rng.standard_normal(),
        ),
        tuple(rng.standard_normal(4) * (0.04, 0.03, 0.0004, 0.0004)),
    )
    tilt = rng.uniform(0.0, setting.most_tilt)
    return replace(
        lens,
        distance=rng.uniform(1200.0, 2000.0),
        tilt=tilt,
        towards=rng.uniform(0.0, 360.0),
        roll=rng.uniform(-8.0, 8.0),
        aim=tuple(rng.uniform(-40.0, 40.0, 2)),
        aperture=3.8 if setting.deep else 0.0,
    )


def draw(name, index):
    """Return lay, lenses, how each is developed, and what is told of the thickness, for one scene."""
    setting = SETTINGS[name]
    rng = np.random.default_rng([*name.encode(), index])
    thickness = rng.uniform(0.0, 6.0) if setting.thick else 0.5
    told = max(thickness + rng.uniform(-1.0, 1.0), 0.0) if setting.thick else 0.5
    outline, corners, neckline = top(rng.uniform(-15, 15, 2), rng.uniform(-5, 5))
    light = Light(rng.uniform(0.3, 0.8), rng.uniform(4.0, 9.0), rng.uniform(0.0, 360.0))
    if setting.lamp:
        light = replace(
            light, lamp=setting.lamp, lamp_at=(rng.uniform(-500, 500), rng.uniform(-500, 500), 1700.0)
        )
    for _ in range(500):
        lens = _lens(setting, rng)
        lay = Lay(
            setting.paper,
            _places(setting, rng, lens.distance),
            table=setting.tables[index % len(setting.tables)],
            outline=outline,
            neckline=neckline,
            thickness=thickness,
            colour=COLOURS[(index + 3 * (setting.tables[0] == "wood")) % len(COLOURS)],
            seed=int(rng.integers(1 << 30)),
            light=light,
            **setting.lay,
        )
        if lay.table == "white":
            lay = replace(lay, colour=COLOURS[0 if index % 5 < 2 else index % 5])
        if _inside(lens, lay):
            break
    lenses = [lens]
    for _ in range(4000):
        if len(lenses) == setting.photos:
            break
        other = replace(_lens(setting, rng, lens), roll=rng.uniform(-95, 95))
        if _inside(other, lay):
            lenses.append(other)
    develop = [
        {
            "seed": i + 1,
            "blur": rng.uniform(0.5, 1.1),
            "noise": rng.uniform(0.003, 0.012),
            "exposure": rng.uniform(0.7, 0.95),
            "quality": int(rng.integers(85, 96)),
            "equivalent": lens.f * FULL_FRAME / np.hypot(*lens.size) if setting.noted else None,
            "orientation": setting.orientation,
        }
        for i, lens in enumerate(lenses)
    ]
    return lay, lenses, develop, told, corners


def files(folder, name, index):
    stem = name.replace(" ", "-").replace("%", "percent").replace(".", "-")
    return [folder / f"{stem}-{index}-{k}.jpg" for k in range(SETTINGS[name].photos)]


def take(folder, name, index, samples):
    """Render a scene's photographs, unless they are there."""
    setting = SETTINGS[name]
    wanted = files(folder, name, index)
    if all(path.is_file() for path in wanted):
        return
    lay, lenses, develop, _, _ = draw(name, index)
    pdf = folder / f"sheets-{setting.paper}.pdf"
    if not pdf.is_file():
        _command(["sheet", "--paper", setting.paper, "--count", "4", "--out", str(pdf)])
    for path, lens, how in zip(wanted, lenses, develop, strict=True):
        path.write_bytes(jpeg(render(lay, lens, pdf, samples, bounces=setting.bounces), **how))
        print(f"rendered {path.name}", file=sys.stderr, flush=True)


def _command(arguments):
    done = subprocess.run(
        [sys.executable, "-c", COMMAND, *arguments], capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise SystemExit(f"likesewn {' '.join(arguments)}\n{done.stdout}{done.stderr}")
    return done.stdout


def _rigid(found, true):
    """Return errors (n,2) after the best shift and turn."""
    a, b = found - found.mean(axis=0), true - true.mean(axis=0)
    u, _, v = np.linalg.svd(a.T @ b)
    return a @ (u @ np.diag([1.0, np.sign(np.linalg.det(u @ v))]) @ v) - b


def _read_off(camera, px, height):
    """Return where on the plane at ``height`` pixels lie, from the terms in the JSON alone, (n,2) mm."""
    turn, shift = np.array(camera["rotation"]), np.array(camera["translation_mm"])
    lens = Lens(
        (camera["width"], camera["height"]),
        camera["f"],
        (camera["cx"], camera["cy"]),
        tuple(camera[k] for k in ("k1", "k2", "p1", "p2")),
    )
    eye = -shift @ turn

    class Seen(Lens):
        def axes(self):
            return eye, turn

    seen = Seen(lens.size, lens.f, lens.centre, lens.distortion)

    def miss(xy):
        xy = xy.reshape(-1, 2)
        return (seen.project(np.column_stack([xy, np.full(len(xy), -height)])) - px).ravel()

    out = np.zeros_like(px)
    for i, one in enumerate(px):
        start = np.zeros(2)
        out[i] = least_squares(
            lambda xy, one=one: (seen.project(np.array([[*xy, -height]])) - one).ravel(),
            start,
            xtol=1e-12,
            ftol=1e-12,
            gtol=1e-12,
        ).x
    return out


def measure(folder, name, index):
    """Return a scene's errors: plane, outline, share of intervals that hold, corners, findings; mm."""
    setting = SETTINGS[name]
    lay, lenses, _, told, corners = draw(name, index)
    arguments = ["trace", *map(str, files(folder, name, index)), "--kind", KIND, "--json"]
    # one sigma of a difference that is spread evenly over a millimetre to either side
    arguments += [
        "--thickness",
        f"{told:.2f} mm +- {1 / np.sqrt(3):.2f} mm" if setting.thick else "0.5 mm +- 0.2 mm",
    ]
    if setting.ruler:
        arguments += ["--printed-ruler", f"{200.0 * setting.lay['printed']:.1f} mm"]
    said = json.loads(_command(arguments))
    out = {"findings": [f["code"] for f in said["findings"]], "sheets": len(said["sheets"])}
    camera = said["camera"]
    if camera is None or said["outline_mm"] is None:
        return out
    # several photographs: which of them was traced, the command tells by the least tilt
    which = min(range(len(lenses)), key=lambda i: abs(lenses[i].tilt - camera["tilt_degrees"]))
    lens = lenses[which]
    flat = np.column_stack([GRID, np.zeros(len(GRID))])
    off = _rigid(_read_off(camera, lens.project(flat), 0.0), GRID)
    out["plane"] = float(np.sqrt(np.mean(np.sum(off**2, axis=1))))
    high = np.column_stack([GRID, np.full(len(GRID), lay.thickness)])
    off = _rigid(_read_off(camera, lens.project(high), camera["height_mm"]), GRID)
    out["raised"] = float(np.sqrt(np.mean(np.sum(off**2, axis=1))))
    mm, px = np.array(said["outline_mm"]), np.array(said["outline_px"])
    gap = _read_off(camera, px[::40], camera["height_mm"]) - mm[::40]
    out["px to mm"] = float(np.abs(gap).max())
    away, moved, _ = off_edge(mm, lay.outline)
    true = np.array([v for k, v in corners.items() if "neck_centre" not in k])
    far = shapely.distance(shapely.points(moved), shapely.MultiPoint(true)) > CORNER_MM
    out["outline"] = float(np.sqrt(np.mean(away[far] ** 2)))
    out["worst"] = float(np.abs(away[far]).max())
    out["holds"] = float(np.mean(np.abs(away[far]) < 1.96 * np.array(said["sigma_mm"])[far]))
    out["sigma"] = float(np.median(said["sigma_mm"]))
    names = [k for k in corners if k in said["corners_mm"]]
    out["missing"] = [k for k in corners if k not in said["corners_mm"]]
    # the shift and turn that the outline asks for
    a, b = mm - mm.mean(axis=0), moved - moved.mean(axis=0)
    u, _, v = np.linalg.svd(a.T @ b)
    there = (np.array([said["corners_mm"][k] for k in names]) - mm.mean(axis=0)) @ (u @ v) + moved.mean(
        axis=0
    )
    out["corners"] = {k: float(np.hypot(*(p - corners[k]))) for k, p in zip(names, there, strict=True)}
    out["lens"] = [round(lens.tilt, 1), round(lens.distance), round(lay.thickness, 2), round(told, 2)]
    return out


def main(arguments: Sequence[str] | None = None) -> None:
    """Render what is missing, measure all of it, and print the table."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.otherlens", description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--only", nargs="+", default=list(SETTINGS), choices=list(SETTINGS))
    parser.add_argument("--scenes", type=int, help="at most so many scenes of each setting")
    parser.add_argument("--samples", type=int, default=16, help="rays to a pixel")
    parser.add_argument("--render-only", action="store_true", help="trace nothing")
    parser.add_argument("--measure-only", action="store_true", help="render nothing")
    given = parser.parse_args(arguments)
    given.folder.mkdir(parents=True, exist_ok=True)
    wanted = [(n, i) for n in given.only for i in range(min(SETTINGS[n].scenes, given.scenes or 99))]
    why = raytraced.available()
    if why or given.measure_only:
        print(f"otherlens: nothing new is rendered{': ' * bool(why)}{why}", file=sys.stderr)
        wanted = [(n, i) for n, i in wanted if all(p.is_file() for p in files(given.folder, n, i))]
    else:
        for name, index in wanted:
            take(given.folder, name, index, given.samples)
    if given.render_only or not wanted:
        return
    with ThreadPoolExecutor(2) as pool:
        results = list(pool.map(lambda one: measure(given.folder, *one), wanted))
    (given.folder / "results.json").write_text(
        json.dumps([[n, i, r] for (n, i), r in zip(wanted, results, strict=True)], indent=1)
    )
    by = defaultdict(list)
    for (name, _), result in zip(wanted, results, strict=True):
        by[name].append(result)
    heads = ("photographs", "plane", "raised", "outline", "95 % hold", "corners", "findings", "met")
    print("| " + " | ".join(heads) + " |\n" + "|---" * len(heads) + "|")
    for name, found in by.items():
        print("| " + " | ".join(_row(name, found)) + " |")
    print("\nMedian (worst), mm; several photographs of one lay count as one.")


def _row(name, found):
    """Return the cells of a setting's row."""
    setting, good = SETTINGS[name], [r for r in found if "plane" in r]
    codes = Counter(code for r in found for code in r["findings"])
    said = ", ".join(f"{code} {count}" for code, count in codes.items())
    if not good:
        return (f"{name} ({len(found)})", *["none"] * 5, said, "no")

    def spread(values):
        return f"{np.median(values):.3f} ({max(values):.3f})"

    plane, raised, outline = ([r[key] for r in good] for key in ("plane", "raised", "outline"))
    corners = [v for r in good for k, v in r["corners"].items() if "neck_centre" not in k]
    met = len(good) == len(found)
    if setting.most:
        met &= np.median(plane) <= setting.most[0] and np.percentile(plane, 90) <= setting.most[1]
        met &= np.median(raised) <= setting.most[0] + 0.3
    if setting.most_outline:
        met &= np.median(outline) <= setting.most_outline
    return (
        f"{name} ({len(found)})",
        *(spread(values) for values in (plane, raised, outline)),
        f"{100 * np.mean([r['holds'] for r in good]):.0f} %",
        spread(corners),
        said,
        "yes" if met else "no",
    )


if __name__ == "__main__":
    main()
