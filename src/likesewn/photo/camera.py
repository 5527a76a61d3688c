"""The camera: a pinhole with two radial and two tangential distortion terms, and exact derivatives.

Model and order of terms: D. C. Brown, "Close-range camera calibration", Photogrammetric Engineering 37(8),
1971, in the form that OpenCV's documentation of ``projectPoints`` gives, with square pixels. The camera frame
has x to the right, y downward and z away from the camera; pixel centres lie at whole numbers.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

__all__ = ["CAMERA_TERMS", "Camera", "Floats", "crossed", "mapped"]

Floats = NDArray[np.float64]

CAMERA_TERMS = ("log_f", "cx", "cy", "k1", "k2", "p1", "p2")
"""What ``Camera.vector`` holds, in order; the focal length as its logarithm, so that it stays positive."""

_UNDISTORT_STEPS = 50
"""Newton needs about five steps inside a phone's picture; more only where the model has no inverse."""

_UNDISTORT_TOLERANCE = 1e-13
"""In units of the focal length: far below any pixel."""


@dataclass(frozen=True, slots=True)
class Camera:
    """A camera and the size of its picture.

    Attributes:
        width: Columns of the picture, pixels.
        height: Rows of the picture, pixels.
        f: Focal length, pixels.
        cx: Column of the principal point, pixels.
        cy: Row of the principal point, pixels.
        k1: First radial term.
        k2: Second radial term.
        p1: First tangential term.
        p2: Second tangential term.
    """

    width: int
    height: int
    f: float
    cx: float
    cy: float
    k1: float = 0.0
    k2: float = 0.0
    p1: float = 0.0
    p2: float = 0.0

    @property
    def vector(self) -> Floats:
        """The seven parameters in the order of ``CAMERA_TERMS``."""
        return np.array([np.log(self.f), self.cx, self.cy, self.k1, self.k2, self.p1, self.p2])

    def with_vector(self, vector: Floats) -> "Camera":
        """Return the camera with these seven parameters, in the order of ``CAMERA_TERMS``."""
        log_f, cx, cy, k1, k2, p1, p2 = (float(value) for value in vector)
        return replace(self, f=float(np.exp(log_f)), cx=cx, cy=cy, k1=k1, k2=k2, p1=p1, p2=p2)

    def _distort(self, xy: Floats) -> tuple[Floats, Floats]:
        """Return distorted normalised places and their derivatives by the undistorted ones, (n,2,2)."""
        x, y = xy[:, 0], xy[:, 1]
        r2 = x * x + y * y
        radial = 1.0 + r2 * (self.k1 + r2 * self.k2)
        slope = 2.0 * (self.k1 + 2.0 * self.k2 * r2)  # d radial / dx is slope * x
        out = np.empty_like(xy)
        out[:, 0] = x * radial + 2.0 * self.p1 * x * y + self.p2 * (r2 + 2.0 * x * x)
        out[:, 1] = y * radial + self.p1 * (r2 + 2.0 * y * y) + 2.0 * self.p2 * x * y
        by = np.empty((len(xy), 2, 2))
        by[:, 0, 0] = radial + slope * x * x + 2.0 * self.p1 * y + 6.0 * self.p2 * x
        by[:, 0, 1] = slope * x * y + 2.0 * self.p1 * x + 2.0 * self.p2 * y
        by[:, 1, 0] = by[:, 0, 1]
        by[:, 1, 1] = radial + slope * y * y + 6.0 * self.p1 * y + 2.0 * self.p2 * x
        return out, by

    def project(self, points: Floats) -> Floats:
        """Return where points of the camera frame appear.

        Args:
            points: (n,3), in front of the camera, any unit of length.

        Returns:
            (n,2) pixels.
        """
        distorted, _ = self._distort(points[:, :2] / points[:, 2:])
        return self.f * distorted + (self.cx, self.cy)

    def project_with_derivatives(self, points: Floats) -> tuple[Floats, Floats, Floats]:
        """Return where points appear, and how that moves.

        Args:
            points: (n,3) in the camera frame.

        Returns:
            Pixels (n,2); derivatives by the points (n,2,3); by the parameters of ``CAMERA_TERMS`` (n,2,7).
        """
        z = points[:, 2]
        xy = points[:, :2] / z[:, None]
        distorted, by_xy = self._distort(xy)
        by_point = np.empty((len(points), 2, 3))
        by_point[:, :, :2] = self.f * by_xy / z[:, None, None]
        by_point[:, :, 2] = -np.einsum("nij,nj->ni", by_point[:, :, :2], xy)
        x, y = xy[:, 0], xy[:, 1]
        r2 = x * x + y * y
        by_camera = np.zeros((len(points), 2, 7))
        by_camera[:, :, 0] = self.f * distorted
        by_camera[:, 0, 1] = 1.0
        by_camera[:, 1, 2] = 1.0
        by_camera[:, :, 3] = self.f * xy * r2[:, None]
        by_camera[:, :, 4] = self.f * xy * (r2 * r2)[:, None]
        by_camera[:, 0, 5] = by_camera[:, 1, 6] = 2.0 * self.f * x * y
        by_camera[:, 1, 5] = self.f * (r2 + 2.0 * y * y)
        by_camera[:, 0, 6] = self.f * (r2 + 2.0 * x * x)
        return self.f * distorted + (self.cx, self.cy), by_point, by_camera

    def rays(self, px: Floats) -> Floats:
        """Return the undistorted directions that pixels look along.

        Newton's method on the distortion itself, until it stands still, so that ``project`` gives the
        pixels back wherever the model has an inverse.

        Args:
            px: (n,2) pixels.

        Returns:
            (n,2): x/z and y/z in the camera frame.
        """
        target = (np.asarray(px, dtype=np.float64) - (self.cx, self.cy)) / self.f
        at = target.copy()
        for _ in range(_UNDISTORT_STEPS):
            seen, by = self._distort(at)
            miss = target - seen
            if not np.any(np.abs(miss) > _UNDISTORT_TOLERANCE):
                break
            determinant = by[:, 0, 0] * by[:, 1, 1] - by[:, 0, 1] * by[:, 1, 0]
            # beyond the fold of a strong barrel the derivative turns over; stay where the model still holds
            determinant = np.where(determinant > 0.05, determinant, 0.05)
            at[:, 0] += (by[:, 1, 1] * miss[:, 0] - by[:, 0, 1] * miss[:, 1]) / determinant
            at[:, 1] += (by[:, 0, 0] * miss[:, 1] - by[:, 1, 0] * miss[:, 0]) / determinant
        return at


def crossed(points: Floats, rows: Floats) -> Floats:
    """Return p × r for each point p of (n,3) and each row r of its (2,3) in (n,2,3); ``np.cross``, but swift.

    With r the derivative of a pixel by a point p, this is the derivative by a small turn of p about the
    origin, since r · (w × p) is w · (p × r).
    """
    x, y, z = (points[:, i, None] for i in range(3))
    u, v, w = rows[:, :, 0], rows[:, :, 1], rows[:, :, 2]
    return np.stack([y * w - z * v, z * u - x * w, x * v - y * u], axis=2)


def mapped(homography: Floats, points: Floats) -> Floats:
    """Return points (n,2) carried over by a homography (3,3)."""
    ahead = points @ homography[:, :2].T + homography[:, 2]
    return ahead[:, :2] / ahead[:, 2:]
