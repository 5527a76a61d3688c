"""One adjustment of everything: lens, poses of the photographs, places of the references on the table.

Bundle adjustment with priors (B. Triggs et al., "Bundle adjustment: a modern synthesis", 2000, sections 3 to
6). What is minimised is

    sum of w |px - seen|² / s²  +  sum of (u - u0)² / s0²

over the unknowns: seven terms of each camera, six of each photograph's pose, three of each reference's place
on the table, and the logarithm of the print's scale along and across. Levenberg-Marquardt steps, exact
derivatives. s is the noise of each reference's corners, estimated robustly from its own residuals; w follows
Cauchy's loss while the solution settles, and in the end is 1 or, for a corner beyond ``GATE`` s, 0.

The first reference's place fixes the table frame here; ``gauge`` then turns it as the first photograph shows.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from likesewn.photo.camera import Camera, Floats, crossed

__all__ = ["Adjusted", "Priors", "Sighting", "Start", "adjust", "settle_roughly"]

GATE = 4.0
"""In robust sigmas: one sound corner in 3000 is lost, and a shifted one cannot pull."""

LEAST_NOISE_PX = 0.015
"""No corner is believed to better than this: about what the best pictures of other renderers leave."""

_FEW = 30
"""With fewer coordinates to spare than this, luck alone may make a reference look better than it is."""

_ROUNDS = 4
_STEPS = 30
_LEVEL = 1e-6
"""A fall of the cost too small to move any unknown by a thousandth of its sigma."""

_TRIAL_NOISE_PX = 0.15
_TRIAL_STEPS = 12


@dataclass(frozen=True, slots=True)
class Priors:
    """What is believed before looking, one sigma each.

    Attributes:
        log_f: Focal length, as a share.
        centre: Principal point, as a share of the longer side.
        k1: First radial term.
        k2: Second radial term.
        p: Tangential terms.
        scale_along: Mean of the logarithm of the print's scale along the sheet.
        scale_across: The same across it.
        scale_common: Sigma of the part that both share.
        scale_apart: Sigma of the part in which each may differ from it.
        tilt: Sigma of the table's tilt about either axis of the picture, radians; None where nothing is
            believed of it.
    """

    log_f: float
    centre: float = 0.006
    k1: float = 0.06
    k2: float = 0.06
    p: float = 0.001
    scale_along: float = 0.0
    scale_across: float = 0.0
    scale_common: float = 0.001
    scale_apart: float = 0.0003
    tilt: float | None = None


@dataclass(frozen=True, eq=False, slots=True)
class Sighting:
    """One reference seen in one photograph.

    Attributes:
        body: Which reference, from 0.
        photo: Which photograph, from 0.
        mm: (n,2) its points in its own frame.
        px: (n,2) where they appear.
        noise_px: Expected one-sigma error of a coordinate of ``px``.
        printed: Whether the print's scale applies to ``mm``.
        height_mm: How far above the table it lies.
    """

    body: int
    photo: int
    mm: Floats
    px: Floats
    noise_px: float = 0.06
    printed: bool = True
    height_mm: float = 0.0


@dataclass(frozen=True, eq=False, slots=True)
class Start:
    """Unknowns: where an adjustment starts, and where it ends.

    Attributes:
        cameras: The cameras.
        camera_of: For each photograph, which camera took it.
        rotations: (photos,3,3) from the table to each photograph's camera.
        translations: (photos,3) mm.
        bodies: (references,3) x and y in mm and angle in radians on the table; the first stays.
        scale: (2,) logarithm of the print's scale across (x) and along (y).
    """

    cameras: tuple[Camera, ...]
    camera_of: tuple[int, ...]
    rotations: Floats
    translations: Floats
    bodies: Floats
    scale: Floats


@dataclass(frozen=True, eq=False, slots=True)
class Adjusted:
    """The result of an adjustment.

    Attributes:
        at: The unknowns.
        cost: What was minimised.
        noise_px: For each sighting, the noise of its corners, pixels.
        used: For each sighting, which of its points passed the gate.
        residuals: For each sighting, (n,2) pixels.
        covariance: Of all unknowns in the order of ``Layout``.
        covariance_printed: The same with the print's scale taken as known.
    """

    at: Start
    cost: float
    noise_px: tuple[float, ...]
    used: tuple[NDArray[np.bool_], ...]
    residuals: tuple[Floats, ...]
    covariance: Floats
    covariance_printed: Floats

    def photo_covariance(self, photo: int, *, print_scale: bool) -> Floats:
        """Return the (13,13) covariance of a photograph's camera and pose."""
        order = Layout.of(self.at)
        camera = order.camera(self.at.camera_of[photo])
        pose = order.pose(photo)
        rows = [*range(camera.start, camera.stop), *range(pose.start, pose.stop)]
        whole = self.covariance if print_scale else self.covariance_printed
        return whole[np.ix_(rows, rows)]


@dataclass(frozen=True, slots=True)
class Layout:
    """Where each unknown stands in the vector: cameras, poses, references but the first, scale."""

    cameras: int
    photos: int
    bodies: int

    @classmethod
    def of(cls, at: Start) -> "Layout":
        """Return the order of these unknowns."""
        return cls(len(at.cameras), len(at.rotations), len(at.bodies))

    def camera(self, index: int) -> slice:
        """Seven terms of a camera."""
        return slice(7 * index, 7 * index + 7)

    def pose(self, photo: int) -> slice:
        """A small turn and the translation of a photograph."""
        start = 7 * self.cameras + 6 * photo
        return slice(start, start + 6)

    def body(self, index: int) -> slice:
        """Place of a reference; empty for the first."""
        start = 7 * self.cameras + 6 * self.photos + 3 * (index - 1)
        return slice(start, start + 3) if index else slice(start + 3, start + 3)

    @property
    def scale(self) -> slice:
        """Print's scale, across and along."""
        start = 7 * self.cameras + 6 * self.photos + 3 * (self.bodies - 1)
        return slice(start, start + 2)

    @property
    def size(self) -> int:
        """How many unknowns there are."""
        return self.scale.stop


def turn_of(vector: Floats) -> Floats:
    """Return the rotation by this vector (Rodrigues' formula)."""
    angle = float(np.linalg.norm(vector))
    x, y, z = vector / angle if angle > 0.0 else vector
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    return np.eye(3) + np.sin(angle) * cross + (1.0 - np.cos(angle)) * cross @ cross


def stepped(at: Start, step: Floats) -> Start:
    """Return the unknowns moved by a step."""
    order = Layout.of(at)
    cameras = tuple(c.with_vector(c.vector + step[order.camera(i)]) for i, c in enumerate(at.cameras))
    turns = [step[order.pose(j)][:3] for j in range(order.photos)]
    rotations = np.stack([turn_of(turn) @ r for turn, r in zip(turns, at.rotations, strict=True)])
    translations = at.translations + np.stack([step[order.pose(j)][3:] for j in range(order.photos)])
    bodies = at.bodies.copy()
    for b in range(1, order.bodies):
        bodies[b] += step[order.body(b)]
    return replace(
        at,
        cameras=cameras,
        rotations=rotations,
        translations=translations,
        bodies=bodies,
        scale=at.scale + step[order.scale],
    )


def _laid(at: Start, sighting: Sighting) -> tuple[Floats, Floats, Floats]:
    """Return a reference's turn, its points to scale, and these on the table as the camera sees it turned."""
    x, y, angle = at.bodies[sighting.body]
    c, s = np.cos(angle), np.sin(angle)
    turn = np.array([[c, -s], [s, c]])
    scaled = sighting.mm * np.exp(at.scale) if sighting.printed else sighting.mm
    rotation = at.rotations[sighting.photo]
    relative = (scaled @ turn.T + (x, y)) @ rotation[:, :2].T - sighting.height_mm * rotation[:, 2]
    return turn, scaled, relative


def _miss(at: Start, sighting: Sighting) -> Floats:
    """Return how far from where they were seen a reference's points should appear, (n,2) pixels."""
    relative = _laid(at, sighting)[2]
    camera = at.cameras[at.camera_of[sighting.photo]]
    return camera.project(relative + at.translations[sighting.photo]) - sighting.px


def seen(at: Start, sighting: Sighting) -> tuple[Floats, Floats]:
    """Return where a reference's points should appear, (n,2), and the derivatives, (n,2,unknowns)."""
    order = Layout.of(at)
    photo, body = sighting.photo, sighting.body
    turn, scaled, relative = _laid(at, sighting)
    turned = scaled @ turn.T
    px, by_point, by_camera = at.cameras[at.camera_of[photo]].project_with_derivatives(
        relative + at.translations[photo]
    )
    by_table = by_point @ at.rotations[photo][:, :2]
    out = np.zeros((len(px), 2, order.size))
    out[:, :, order.camera(at.camera_of[photo])] = by_camera
    pose = order.pose(photo)
    out[:, :, pose.start : pose.start + 3] = crossed(relative, by_point)
    out[:, :, pose.start + 3 : pose.stop] = by_point
    if body:
        place = order.body(body)
        out[:, :, place.start : place.start + 2] = by_table
        quarter = np.column_stack([-turned[:, 1], turned[:, 0]])
        out[:, :, place.start + 2] = np.einsum("nij,nj->ni", by_table, quarter)
    if sighting.printed:
        out[:, :, order.scale] = by_table @ turn * scaled[:, None, :]
    return px, out


def _believed(at: Start, believed: Sequence[Camera], priors: Priors) -> tuple[Floats, Floats]:
    """Return the priors' whitened residuals and derivatives."""
    order = Layout.of(at)
    rows: list[Floats] = []
    values: list[float] = []

    def add(columns: Floats, value: float) -> None:
        rows.append(columns)
        values.append(value)

    for i, (camera, first) in enumerate(zip(at.cameras, believed, strict=True)):
        long = max(camera.width, camera.height)
        sigmas = (priors.log_f, *[priors.centre * long] * 2, priors.k1, priors.k2, priors.p, priors.p)
        middle = replace(
            first, cx=(camera.width - 1) / 2, cy=(camera.height - 1) / 2, k1=0.0, k2=0.0, p1=0.0, p2=0.0
        )
        gap = camera.vector - middle.vector
        for term, sigma in enumerate(sigmas):
            columns = np.zeros(order.size)
            columns[order.camera(i).start + term] = 1.0 / sigma
            add(columns, float(gap[term]) / sigma)
    across, along = (float(v) for v in at.scale)
    x = order.scale.start
    for weights, off, sigma in (
        ((0.5, 0.5), (across + along - priors.scale_across - priors.scale_along) / 2, priors.scale_common),
        ((1.0, -1.0), across - along - priors.scale_across + priors.scale_along, priors.scale_apart),
    ):
        columns = np.zeros(order.size)
        columns[x : x + 2] = np.array(weights) / sigma
        add(columns, off / sigma)
    if priors.tilt is not None:
        for j in range(order.photos):
            normal = at.rotations[j][:, 2]
            # a small turn w moves the normal n by w × n
            by = np.array([[0.0, normal[2], -normal[1]], [-normal[2], 0.0, normal[0]]])
            for axis in range(2):
                columns = np.zeros(order.size)
                columns[order.pose(j).start : order.pose(j).start + 3] = by[axis] / priors.tilt
                add(columns, float(normal[axis]) / priors.tilt)
    return np.array(values), np.stack(rows)


def _cost(
    at: Start,
    believed: Sequence[Camera],
    priors: Priors,
    sightings: Sequence[Sighting],
    noise: list[float],
    *,
    gated: bool,
) -> float:
    total = float(np.sum(_believed(at, believed, priors)[0] ** 2))
    for sighting, s in zip(sightings, noise, strict=True):
        r2 = np.sum((_miss(at, sighting)) ** 2, axis=1) / s**2
        total += float(np.sum(r2 if gated else _CAUCHY * np.log1p(r2 / _CAUCHY)))
    return total


_CAUCHY = 9.0
"""Square of the residual, in sigmas, at which a corner's pull is halved."""


def _normal(
    at: Start,
    believed: Sequence[Camera],
    priors: Priors,
    sightings: Sequence[Sighting],
    noise: list[float],
    *,
    gated: bool,
) -> tuple[Floats, Floats]:
    """Return the normal matrix and the downhill direction."""
    values, rows = _believed(at, believed, priors)
    matrix, downhill = rows.T @ rows, -rows.T @ values
    for sighting, s in zip(sightings, noise, strict=True):
        px, by = seen(at, sighting)
        miss = (px - sighting.px) / s
        weight = np.ones(len(miss)) if gated else 1.0 / (1.0 + np.sum(miss**2, axis=1) / _CAUCHY)
        flat = (by * (np.sqrt(weight) / s)[:, None, None]).reshape(-1, by.shape[2])
        matrix += flat.T @ flat
        downhill -= flat.T @ (miss * np.sqrt(weight)[:, None]).ravel()
    return matrix, downhill


def _settle(
    at: Start,
    believed: Sequence[Camera],
    priors: Priors,
    sightings: Sequence[Sighting],
    noise: list[float],
    *,
    gated: bool,
    steps: int = _STEPS,
) -> tuple[Start, float]:
    """Go downhill until it is level."""
    damping = 1e-4
    cost = _cost(at, believed, priors, sightings, noise, gated=gated)
    for _ in range(steps):
        matrix, downhill = _normal(at, believed, priors, sightings, noise, gated=gated)
        size = np.sqrt(np.diag(matrix))
        size[size == 0.0] = 1.0
        scaled = matrix / np.outer(size, size)
        while damping < 1e8:
            step = np.linalg.solve(scaled + damping * np.eye(len(size)), downhill / size) / size
            tried = stepped(at, step)
            new = _cost(tried, believed, priors, sightings, noise, gated=gated)
            if np.isfinite(new) and new <= cost:
                break
            damping *= 10.0
        else:
            return at, cost
        gain, at, cost = cost - new, tried, new
        damping = max(damping * 0.1, 1e-12)
        if gain < _LEVEL:
            break
    return at, cost


def settle_roughly(
    start: Start, believed: Sequence[Camera], sightings: Sequence[Sighting], priors: Priors
) -> tuple[Start, float]:
    """Return where a start leads to in a few steps, and the cost there, for choosing among starts."""
    noise = [_TRIAL_NOISE_PX] * len(sightings)
    return _settle(start, believed, priors, sightings, noise, gated=False, steps=_TRIAL_STEPS)


def adjust(
    start: Start, believed: Sequence[Camera], sightings: Sequence[Sighting], priors: Priors
) -> Adjusted:
    """Solve for everything at once.

    Args:
        start: Where to start.
        believed: For each camera, the one whose focal length is the middle of the prior.
        sightings: What was seen.
        priors: What is believed before looking.

    Returns:
        The solution nearest to the start.
    """
    at = start
    noise = [max(sighting.noise_px, _TRIAL_NOISE_PX) for sighting in sightings]
    for _ in range(_ROUNDS):
        at, _ = _settle(at, believed, priors, sightings, noise, gated=False)
        noise = [
            _noise(_miss(at, sighting), sighting.noise_px, before)
            for sighting, before in zip(sightings, noise, strict=True)
        ]
    residuals = [_miss(at, sighting) for sighting in sightings]
    used = [
        np.linalg.norm(miss, axis=1) <= GATE * np.sqrt(2.0) * s
        for miss, s in zip(residuals, noise, strict=True)
    ]
    used = [mask if np.count_nonzero(mask) >= 2 else np.ones_like(mask) for mask in used]
    kept = [
        replace(sighting, mm=sighting.mm[mask], px=sighting.px[mask])
        for sighting, mask in zip(sightings, used, strict=True)
    ]
    at, cost = _settle(at, believed, priors, kept, noise, gated=True)
    matrix, _ = _normal(at, believed, priors, kept, noise, gated=True)
    free = np.ones(len(matrix), dtype=np.bool_)
    free[Layout.of(at).scale] = False
    printed = np.zeros_like(matrix)
    printed[np.ix_(free, free)] = _inverse(matrix[np.ix_(free, free)])
    return Adjusted(
        at,
        cost,
        tuple(noise),
        tuple(used),
        tuple(_miss(at, sighting) for sighting in sightings),
        _inverse(matrix),
        printed,
    )


def _noise(miss: Floats, expected: float, before: float) -> float:
    """Return the robust noise of a reference's corners; few corners lean on what was expected.

    It falls by at most a factor of five a round, so that a start far off does not gate good corners.
    """
    spread = float(np.median(np.abs(miss))) * 1.4826
    # eight coordinates are used up by where and how the reference lies
    count, trust = max(miss.size - 8, 0), 12.0
    mixed = np.sqrt((count * spread**2 + trust * expected**2) / (count + trust))
    if count < _FEW:
        mixed = max(mixed, expected)
    return float(max(mixed, LEAST_NOISE_PX, before / 5.0))


def _inverse(matrix: Floats) -> Floats:
    size = np.sqrt(np.diag(matrix))
    size[size == 0.0] = 1.0
    return np.linalg.pinv(matrix / np.outer(size, size), hermitian=True) / np.outer(size, size)
