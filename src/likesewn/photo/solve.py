"""From references seen in photographs to planes: a first guess, the adjustment, and the table's own frame.

The first guess takes the largest reference's pose for the table (T. Collins and A. Bartoli, "Infinitesimal
plane-based pose estimation", IJCV 109, 2014, as OpenCV has it), which far off has two answers, and lays the
others on that table; every answer at every focal length in question is settled, and the best one kept.
"""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from likesewn.photo.adjust import Adjusted, Priors, Sighting, Start, adjust, settle_roughly
from likesewn.photo.camera import Camera, Floats
from likesewn.photo.plane import Plane

__all__ = ["Reference", "Solved", "solve"]

_FOCAL_GUESSES = (1.0, 0.75, 1.5, 2.2)
"""Where no focal length was noted: shares of the believed one to start from, wide lens to tele."""

_BASE_SHARE = 0.35
"""Half-width of the part of the picture, about its middle, in which a garment is expected."""


@dataclass(frozen=True, eq=False, slots=True)
class Reference:
    """Something of known size, seen in one photograph.

    Attributes:
        key: The same for the same thing in several photographs.
        photo: Which photograph, from 0.
        mm: (n,2) its points in its own frame.
        px: (n,2) where they appear.
        noise_px: Expected one-sigma error of a coordinate of ``px``.
        printed: Whether it comes out of the printer, whose scale is uncertain.
        height_mm: How far above the table it lies.
    """

    key: Hashable
    photo: int
    mm: Floats
    px: Floats
    noise_px: float = 0.06
    printed: bool = True
    height_mm: float = 0.0


@dataclass(frozen=True, eq=False, slots=True)
class Solved:
    """What the references say together.

    Attributes:
        planes: The plane of each photograph that is linked to the first one's references, by photograph.
        noise_px: For each reference, the noise of its points; nan where its photograph is not linked.
        residuals: For each reference, (n,2) where its points should appear less where they do, pixels; nan
            where its photograph is not linked.
        used: For each reference, which of its points were used.
        places: For each reference, x and y in mm and angle in radians on the table.
        cost: What the adjustment came down to; the lower of two answers is the better one.
    """

    planes: dict[int, Plane]
    noise_px: tuple[float, ...]
    residuals: tuple[Floats, ...]
    used: tuple[NDArray[np.bool_], ...]
    places: Floats
    cost: float


def solve(
    cameras: Sequence[Camera], references: Sequence[Reference], priors: Priors, *, focal_noted: bool
) -> Solved:
    """Solve for lens, poses and places.

    Args:
        cameras: For each photograph its camera, with the believed focal length; equal ones are one camera.
        references: What was seen; at least one.
        priors: What is believed before looking.
        focal_noted: Whether the camera noted its focal length, so that no other need be tried.
    """
    distinct = list(dict.fromkeys(cameras))
    camera_of = tuple(distinct.index(camera) for camera in cameras)
    best: tuple[float, Start, list[int], list[int]] | None = None
    for share in (1.0,) if focal_noted else _FOCAL_GUESSES:
        for answer in (0, 1):
            guess = _first_guess(distinct, camera_of, references, share, answer)
            if guess is None:
                continue
            start, photos, kept = guess
            at, cost = settle_roughly(start, distinct, _sightings(references, photos, kept), priors)
            if best is None or cost < best[0] - 1.0:
                best = (cost, at, photos, kept)
    if best is None:
        raise ValueError("no reference has a size")
    _, at, photos, kept = best
    adjusted = adjust(at, distinct, _sightings(references, photos, kept), priors)
    return _result(adjusted, photos, kept, references)


def _sightings(references: Sequence[Reference], photos: list[int], kept: list[int]) -> list[Sighting]:
    keys = list(dict.fromkeys(references[i].key for i in kept))
    return [
        Sighting(keys.index(r.key), photos.index(r.photo), r.mm, r.px, r.noise_px, r.printed, r.height_mm)
        for r in (references[i] for i in kept)
    ]


def _size(points: Floats) -> float:
    """Return a set of points' extent across its narrower direction; 0 for points in a line."""
    spread = np.linalg.svd(points - points.mean(axis=0), compute_uv=False)
    return float(spread[-1]) if len(points) >= 4 else 0.0


def _poses(camera: Camera, mm: Floats, px: Floats, height: float) -> list[tuple[Floats, Floats]]:
    """Return poses of a plane from which points look right, the better one first."""
    rays = camera.rays(px)
    if _size(mm) < 1e-3 * max(float(np.ptp(mm)), 1.0):
        return [_square_on(mm, rays, height)]
    lifted = np.column_stack([mm, np.zeros(len(mm))])
    _, turns, shifts, _ = cv2.solvePnPGeneric(
        lifted,
        np.ascontiguousarray(rays),
        np.eye(3),
        None,
        flags=cv2.SOLVEPNP_IPPE,
    )
    out: list[tuple[Floats, Floats]] = []
    for turn, shift in zip(turns, shifts, strict=True):
        rotation = np.asarray(cv2.Rodrigues(turn)[0], dtype=np.float64)
        if rotation[2, 2] > 0.0:  # the table's z points away from the camera
            out.append((rotation, np.ravel(shift) + height * rotation[:, 2]))
    return out or [_square_on(mm, rays, height)]


def _square_on(mm: Floats, rays: Floats, height: float) -> tuple[Floats, Floats]:
    """Return the pose of a camera that looks straight down, by the size of what it sees."""
    a, b = mm - mm.mean(axis=0), rays - rays.mean(axis=0)
    distance = float(np.sqrt(np.sum(a**2) / np.sum(b**2)))
    angle = float(np.arctan2(np.sum(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]), np.sum(a * b)))
    c, s = np.cos(angle), np.sin(angle)
    rotation = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    middle = np.array([*(rays.mean(axis=0) * distance), distance + height])
    return rotation, middle - rotation @ np.array([*mm.mean(axis=0), 0.0])


def _on_table(camera: Camera, pose: tuple[Floats, Floats], px: Floats, height: float) -> Floats:
    rotation, translation = pose
    rays = np.column_stack([camera.rays(px), np.ones(len(px))]) @ rotation
    eye = -translation @ rotation
    along = (-height - eye[2]) / rays[:, 2]
    return eye[:2] + along[:, None] * rays[:, :2]


def _laid(mm: Floats, on_table: Floats) -> Floats:
    """Return x, y and angle that bring a reference's own points nearest to those on the table."""
    a, b = mm - mm.mean(axis=0), on_table - on_table.mean(axis=0)
    angle = np.arctan2(np.sum(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]), np.sum(a * b))
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return np.array([*(on_table.mean(axis=0) - turn @ mm.mean(axis=0)), angle])


def _moved(place: Floats, mm: Floats) -> Floats:
    c, s = np.cos(place[2]), np.sin(place[2])
    return mm @ np.array([[c, s], [-s, c]]) + place[:2]


def _first_guess(
    cameras: Sequence[Camera],
    camera_of: Sequence[int],
    references: Sequence[Reference],
    share: float,
    answer: int,
) -> tuple[Start, list[int], list[int]] | None:
    """Return unknowns to start from, the photographs that are linked, and the references in these.

    The order of references is changed so that the largest one of the first photograph comes first.
    """
    tried = [replace(camera, f=camera.f * share) for camera in cameras]
    first = min(r.photo for r in references)
    main = max((r for r in references if r.photo == first), key=lambda r: float(np.ptp(r.px, axis=0).sum()))
    options = _poses(tried[camera_of[first]], main.mm, main.px, main.height_mm)
    if answer >= len(options):
        return None
    poses = {first: options[answer]}
    places: dict[Hashable, Floats] = {main.key: np.zeros(3)}
    while True:
        for r in references:
            if r.photo in poses and r.key not in places:
                on_table = _on_table(tried[camera_of[r.photo]], poses[r.photo], r.px, r.height_mm)
                if not np.all(np.isfinite(on_table)):
                    return None
                places[r.key] = _laid(r.mm, on_table)
        waiting = [r.photo for r in references if r.photo not in poses and r.key in places]
        if not waiting:
            break
        photo = waiting[0]
        known = [r for r in references if r.photo == photo and r.key in places and r.height_mm == 0.0]
        if not known:
            known = [next(r for r in references if r.photo == photo and r.key in places)]
        mm = np.concatenate([_moved(places[r.key], r.mm) for r in known])
        px = np.concatenate([r.px for r in known])
        poses[photo] = _poses(tried[camera_of[photo]], mm, px, known[0].height_mm)[0]
    photos = sorted(poses)
    kept = [i for i, r in enumerate(references) if r.photo in poses]
    kept.sort(key=lambda i: references[i].key != main.key)
    keys = list(dict.fromkeys(references[i].key for i in kept))
    start = Start(
        tuple(tried),
        tuple(camera_of[photo] for photo in photos),
        np.stack([poses[photo][0] for photo in photos]),
        np.stack([poses[photo][1] for photo in photos]),
        np.stack([places[key] for key in keys]),
        np.zeros(2),
    )
    return start, photos, kept


def _result(
    adjusted: Adjusted, photos: list[int], kept: list[int], references: Sequence[Reference]
) -> Solved:
    at = adjusted.at
    order = {i: place for place, i in enumerate(kept)}
    noise = [adjusted.noise_px[order[i]] if i in order else float("nan") for i in range(len(references))]
    used = [
        adjusted.used[order[i]] if i in order else np.zeros(len(r.px), dtype=np.bool_)
        for i, r in enumerate(references)
    ]
    residuals = [
        adjusted.residuals[order[i]] if i in order else np.full_like(r.px, np.nan)
        for i, r in enumerate(references)
    ]
    origin, angle = _frame(at)
    keys = list(dict.fromkeys(references[i].key for i in kept))
    places = np.full((len(references), 3), np.nan)
    for i in kept:
        x, y, turn = at.bodies[keys.index(references[i].key)]
        c, s = np.cos(angle), np.sin(angle)
        dx, dy = x - origin[0], y - origin[1]
        places[i] = (c * dx + s * dy, -s * dx + c * dy, turn - angle)
    planes: dict[int, Plane] = {}
    base: Floats | None = None
    for place, photo in enumerate(photos):
        plane = _plane(adjusted, place, origin, angle)
        if base is None:
            base = _garment_place(plane)
        planes[photo] = plane.about(base)
    return Solved(planes, tuple(noise), tuple(residuals), tuple(used), places, adjusted.cost)


def _frame(at: Start) -> tuple[Floats, float]:
    """Return the origin (under the first picture's middle) and direction (its right) of the table frame."""
    camera = at.cameras[at.camera_of[0]]
    middle = np.array([[(camera.width - 1) / 2, (camera.height - 1) / 2]])
    pose = (at.rotations[0], at.translations[0])
    origin = _on_table(camera, pose, middle, 0.0)[0]
    right = at.rotations[0][0, :2]  # the camera's x axis laid down on the table
    return origin, float(np.arctan2(right[1], right[0]))


def _plane(adjusted: Adjusted, place: int, origin: Floats, angle: float) -> Plane:
    """Return a photograph's plane in the table frame that starts at ``origin``, turned by ``angle``."""
    at = adjusted.at
    rotation, translation = at.rotations[place], at.translations[place]
    c, s = np.cos(angle), np.sin(angle)
    moved = rotation[:, :2] @ origin
    # a small turn w also carries the new origin: its translation moves by w × moved
    x, y, z = moved
    change = np.eye(13)
    change[10:13, 7:10] = np.array([[0.0, z, -y], [-z, 0.0, x], [y, -x, 0.0]])
    with_print, without = (
        change @ adjusted.photo_covariance(place, print_scale=flag) @ change.T for flag in (True, False)
    )
    return Plane(
        at.cameras[at.camera_of[place]],
        rotation @ np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]]),
        translation + moved,
        with_print,
        without,
        np.zeros((1, 2)),
    )


def _garment_place(plane: Plane) -> Floats:
    """Return a grid on the table where the picture's middle shows a garment."""
    camera = plane.camera
    xs = camera.width * np.linspace(0.5 - _BASE_SHARE, 0.5 + _BASE_SHARE, 5)
    ys = camera.height * np.linspace(0.5 - _BASE_SHARE, 0.5 + _BASE_SHARE, 5)
    grid = plane.to_plane(np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2))
    return grid[np.all(np.isfinite(grid), axis=1)]
