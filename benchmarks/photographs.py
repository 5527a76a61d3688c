"""How true photographs are: errors over random rendered scenes, and the time against bare OpenCV.

``python -m benchmarks.photographs --scenes 40`` prints the table of errors; it renders 12-megapixel
photographs and takes about half a minute for each round of scenes.
"""

import argparse
import sys
import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
from scipy.stats import norm

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from benchmarks.table import Row, best_of, markdown
from likesewn.photo import Picture, Plane, read_picture, rectify
from likesewn.photo.sheet import coded_squares, sheet
from photo.scene import Scene, photograph, random_scene

__all__ = ["rectify_speed"]

GRID = np.stack(np.meshgrid(np.linspace(-450, 450, 10), np.linspace(-350, 350, 8)), axis=-1).reshape(-1, 2)
"""The lay that the errors are taken over: 900 by 700 mm."""

PRINT_SIGMA = 0.001


def _off(plane: Plane, scene: Scene, height: float = 0.0) -> np.ndarray:
    """Errors (n,2), mm, after the best shift and turn."""
    found = plane.to_plane(scene.project(GRID, height))
    a, b = found - found.mean(axis=0), GRID - GRID.mean(axis=0)
    u, _, v = np.linalg.svd(a.T @ b)
    return a @ (u @ np.diag([1.0, np.sign(np.linalg.det(u @ v))]) @ v) - b


def _rms(off: np.ndarray) -> float:
    return float(np.sqrt(np.mean(np.sum(off**2, axis=1))))


def _inside(off: np.ndarray, covariance: np.ndarray) -> float:
    return float(np.mean(np.abs(off) < 1.96 * np.sqrt(np.diagonal(covariance, axis1=1, axis2=2))))


class _Errors:
    """Errors of one sort of lay, gathered over scenes."""

    def __init__(self, what: str, median: float, tenth: float | None) -> None:
        self.what, self.median, self.tenth = what, median, tenth
        self.rms: list[float] = []
        self.photo_inside: list[float] = []
        self.whole_inside: list[float] = []

    def add(self, off: np.ndarray, plane: Plane) -> None:
        self.rms.append(_rms(off))
        there = plane.about(GRID)
        self.photo_inside.append(_inside(off, there.covariance_at(GRID, print_scale=False)))
        # a print that is off by a share is the same picture of a world larger by it; one draw for each
        # scene would leave much to luck, since it is common to the scene: so all sizes of it, evenly
        shares = PRINT_SIGMA * norm.ppf((np.arange(41) + 0.5) / 41)
        whole = there.covariance_at(GRID)
        self.whole_inside.append(float(np.mean([_inside(off + share * GRID, whole) for share in shares])))

    def row(self) -> tuple[str, ...]:
        half, most = (float(np.percentile(self.rms, p)) for p in (50, 90))
        met = half <= self.median and (self.tenth is None or most <= self.tenth)
        bar = f"{self.median} mm" + (f" ({self.tenth})" if self.tenth else "")
        return (
            self.what,
            f"{half:.3f} mm ({most:.3f})",
            bar,
            f"{100 * np.mean(self.photo_inside):.0f} %",
            f"{100 * np.mean(self.whole_inside):.0f} %",
            "yes" if met else "no",
        )


def errors(scenes: int, size: tuple[int, int] = (4000, 3000)) -> list[tuple[str, ...]]:
    """Return the rows of the table of errors over so many random scenes."""
    kinds = {
        4: _Errors("four sheets", 0.06, 0.12),
        2: _Errors("two on a diagonal", 0.4, 0.8),
        1: _Errors("one", 1.0, 2.0),
    }
    three = _Errors("four sheets, three photographs", 0.03, None)
    thick = _Errors("four, cloth of 0 to 6 mm told to 1 mm", 0.06 + 0.3, None)
    for k in range(scenes):
        for count, found in kinds.items():
            rng = np.random.default_rng(1000 * count + k)
            scene = random_scene(rng, count=count, size=size)
            pictures = [Picture("1", photograph(scene, k))]
            plane = rectify(pictures).planes[0]
            if plane is None:
                raise SystemExit(f"no sheet was found in scene {k} with {count}")
            found.add(_off(plane, scene), plane)
            if count != 4:
                continue
            height = rng.uniform(0.0, 6.0)
            raised = plane.raised(max(height + rng.uniform(-1.0, 1.0), 0.0), 1.0 / np.sqrt(3.0))
            thick.add(_off(raised, scene, height), raised)
            pictures += [Picture(str(i), photograph(_from_elsewhere(scene, rng), k)) for i in (2, 3)]
            together = rectify(pictures).planes[0]
            three.add(_off(together, scene), together)
    return [found.row() for found in (*kinds.values(), three, thick)]


def _from_elsewhere(scene: Scene, rng: np.random.Generator) -> Scene:
    return replace(
        scene,
        distance=rng.uniform(1300, 2000),
        tilt=rng.uniform(5, 25),
        tilt_towards=rng.uniform(0, 360),
        roll=rng.uniform(-90, 90),
    )


def _bare(grey: np.ndarray) -> np.ndarray:
    """The baseline: OpenCV's own detection with its default settings, and one homography for each sheet."""
    boxes, numbers, _ = cv2.aruco.ArucoDetector(
        coded_squares(), cv2.aruco.DetectorParameters()
    ).detectMarkers(grey)
    first = sheet(1)
    places = dict(zip(first.codes, first.code_corners, strict=True))
    seen = [
        (places[int(n)], b.reshape(4, 2))
        for n, b in zip(np.ravel(numbers), boxes, strict=True)
        if n in places
    ]
    mm, px = (np.concatenate(part) for part in zip(*seen, strict=True))
    return cv2.findHomography(px, mm)[0]


def rectify_speed() -> tuple[list[Row], list[str]]:
    """Return the rows for the benchmarks' table."""
    scene = random_scene(np.random.default_rng(1))
    rgb = photograph(scene, 1)
    coded = cv2.imencode(".jpg", rgb[:, :, ::-1])[1].tobytes()
    picture = Picture("lay.jpg", rgb)
    grey = picture.grey()
    ours, _ = best_of(5, lambda: rectify([picture]))
    bare, _ = best_of(5, lambda: _bare(grey))
    opening, _ = best_of(3, lambda: read_picture(coded, "lay.jpg"))
    row = Row(
        "from a 12-megapixel photograph to its plane, four sheets",
        f"{1000 * ours:.0f} ms",
        "cv2.aruco with its defaults and one homography",
        f"{1000 * bare:.0f} ms",
        f"{ours / bare:.2f}",
        "2.5 s in all",
        "yes" if ours + opening < 2.5 else "no",
    )
    return [row], [
        (
            f"Opening the 12-megapixel JPEG takes {1000 * opening:.0f} ms more. The baseline knows no lens, "
            "no uncertainty and no outliers."
        )
    ]


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.photographs", description=__doc__)
    parser.add_argument("--scenes", type=int, default=20, help="how many random scenes of each sort")
    given = parser.parse_args(arguments)
    start = time.perf_counter()
    heads = ("Lay", "Median RMS (90th percentile)", "Bar", "95 % hold, photo", "95 % hold, print too", "Met")
    rows = [heads, *errors(given.scenes)]
    widths = [max(len(row[i]) for row in rows) for i in range(len(heads))]
    for i, row in enumerate(rows):
        print("| " + " | ".join(cell.ljust(w) for cell, w in zip(row, widths, strict=True)) + " |")
        if i == 0:
            print("|" + "|".join("-" * (w + 2) for w in widths) + "|")
    print(f"\n{given.scenes} scenes of each sort, {time.perf_counter() - start:.0f} s.\n")
    table, remarks = rectify_speed()
    print(markdown(table))
    print("\n".join(remarks))


if __name__ == "__main__":
    main()
