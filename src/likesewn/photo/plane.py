"""The table's plane as one photograph sees it: pixels to millimetres and back, and how sure that is.

The table frame has x to the right and y downward as the first photograph shows them, and z away from the
camera, down into the table; a layer of cloth therefore lies at negative z. Pixel centres lie at whole
numbers.

How sure: the covariance of camera and pose comes from the adjustment's normal matrix. An error that only
shifts or turns the whole table is no error of a garment, so ``sigma`` takes that part out, in the way of an
S-transformation (W. Baarda, "S-transformations and criterion matrices", 1973) with the lay's own points as
the base.
"""

from dataclasses import dataclass, field, replace

import numpy as np

from likesewn.garment import Finding
from likesewn.photo.camera import Camera, Floats, crossed

__all__ = ["FoundSheet", "Plane"]


@dataclass(frozen=True, slots=True)
class FoundSheet:
    """A reference that was found in a photograph.

    Attributes:
        number: The number printed on a reference sheet; 0 for anything else.
        outline_px: (n,2) its paper's outline in the photograph, to be masked when a garment is sought.
        outline_mm: (n,2) the same on the table.
        corners: How many of its printed corners were used.
        corners_in_all: How many it has.
        residual_px: Root mean square distance between corners as seen and as adjusted, pixels.
        bend_px: The part of that which varies smoothly over the thing, as when it does not lie flat; noise
            and blur leave none.
    """

    number: int
    outline_px: Floats
    outline_mm: Floats
    corners: int
    corners_in_all: int
    residual_px: float
    bend_px: float = 0.0


@dataclass(frozen=True, slots=True)
class Plane:
    """A plane parallel to the table, seen by one photograph.

    Attributes:
        camera: The camera that took it.
        rotation: (3,3) from the table frame to the camera frame.
        translation: (3,) the table's origin in the camera frame, mm.
        covariance: (13,13) of the camera's seven terms, a small turn of the table about the camera's axes
            (radians) and the translation (mm), with everything known to be uncertain, the print's scale too.
        covariance_photo: The same as if the print were known to be true.
        base: (n,2) points on the table, mm, that stand for the whole lay where a shift or turn is taken out.
        height_mm: How far the plane lies above the table.
        height_sigma_mm: One-sigma uncertainty of that.
        sheets: The references found.
        findings: What is worth knowing or wrong about the photograph.
    """

    camera: Camera
    rotation: Floats
    translation: Floats
    covariance: Floats
    covariance_photo: Floats
    base: Floats
    height_mm: float = 0.0
    height_sigma_mm: float = 0.0
    sheets: tuple[FoundSheet, ...] = ()
    findings: tuple[Finding, ...] = field(default=())

    def raised(self, thickness_mm: float, sigma_mm: float = 0.0) -> "Plane":
        """Return the plane that lies this far above the table, such as the top of a layer of cloth.

        Args:
            thickness_mm: Height above the table, mm.
            sigma_mm: One-sigma uncertainty of it, mm; it enters ``sigma``.
        """
        return replace(self, height_mm=thickness_mm, height_sigma_mm=sigma_mm)

    def about(self, mm: Floats) -> "Plane":
        """Return the plane with these points, (n,2) mm, as the base of ``sigma``, such as an outline."""
        return replace(self, base=np.asarray(mm, dtype=np.float64))

    @property
    def tilt_degrees(self) -> float:
        """How far the camera's axis stands from square to the table, degrees."""
        return float(np.degrees(np.arccos(np.clip(self.rotation[2, 2], -1.0, 1.0))))

    @property
    def distance_mm(self) -> float:
        """How far the camera stands above the table, mm."""
        return float(self.rotation[:, 2] @ self.translation)

    def to_plane(self, px: Floats) -> Floats:
        """Return where on the plane pixels lie.

        Args:
            px: (n,2) pixels.

        Returns:
            (n,2) mm; nan where a pixel looks past the plane's horizon.
        """
        rays = np.column_stack([self.camera.rays(np.atleast_2d(px)), np.ones(len(np.atleast_2d(px)))])
        across = rays @ self.rotation  # each ray in the table frame
        centre = -self.translation @ self.rotation
        with np.errstate(divide="ignore", invalid="ignore"):
            along = (-self.height_mm - centre[2]) / across[:, 2]
        along = np.where(along > 0.0, along, np.nan)
        return centre[:2] + along[:, None] * across[:, :2]

    def to_photo(self, mm: Floats) -> Floats:
        """Return where points of the plane appear.

        Args:
            mm: (n,2) on the plane.

        Returns:
            (n,2) pixels.
        """
        return self.camera.project(self._in_camera(np.atleast_2d(mm)))

    def mm_per_px(self, px: Floats) -> Floats:
        """Return how many millimetres of the plane a pixel shows, the mean of its two directions.

        Args:
            px: (n,2) pixels.

        Returns:
            (n,) mm.
        """
        here = self.to_plane(px)
        beside, below = (self.to_plane(px + step) - here for step in np.eye(2))
        return np.sqrt(np.abs(beside[:, 0] * below[:, 1] - beside[:, 1] * below[:, 0]))

    def _in_camera(self, mm: Floats) -> Floats:
        return mm @ self.rotation[:, :2].T + (self.translation - self.height_mm * self.rotation[:, 2])

    def _by_unknowns(self, mm: Floats) -> Floats:
        """Return how points read off at fixed pixels move with the 13 unknowns and the height, (n,2,14)."""
        inside = self._in_camera(mm)
        _, by_point, by_camera = self.camera.project_with_derivatives(inside)
        turned = inside - self.translation
        by = np.empty((len(mm), 2, 14))
        by[:, :, :7] = by_camera
        # a small turn w moves R X by w × R X, and a·(w × b) is w·(b × a)
        by[:, :, 7:10] = crossed(turned, by_point)
        by[:, :, 10:13] = by_point
        by[:, :, 13] = -by_point @ self.rotation[:, 2]
        return -np.asarray(np.linalg.solve(by_point @ self.rotation[:, :2], by), dtype=np.float64)

    def covariance_at(self, mm: Floats, *, print_scale: bool = True) -> Floats:
        """Return the covariance of places read off this plane, up to a shift and a turn of the whole.

        Args:
            mm: (n,2) on the plane.
            print_scale: Whether the uncertain scale of the print counts.

        Returns:
            (n,2,2), mm².
        """
        mm = np.atleast_2d(np.asarray(mm, dtype=np.float64))
        whole = np.zeros((14, 14))
        whole[:13, :13] = self.covariance if print_scale else self.covariance_photo
        whole[13, 13] = self.height_sigma_mm**2
        middle = self.base.mean(axis=0)
        size = float(np.sqrt(np.mean(np.sum((self.base - middle) ** 2, axis=1)))) or 1.0
        motions = _rigid((self.base - middle) / size).reshape(-1, 3)
        taken = np.linalg.lstsq(motions, self._by_unknowns(self.base).reshape(-1, 14), rcond=None)[0]
        by = self._by_unknowns(mm) - _rigid((mm - middle) / size) @ taken
        return by @ whole @ by.transpose(0, 2, 1)

    def sigma(self, mm: Floats, *, print_scale: bool = True) -> Floats:
        """Return the one-sigma error, per coordinate, of places read off this plane.

        The error of seeing a pixel comes on top; a shift or turn of the whole does not count.

        Args:
            mm: (n,2) on the plane.
            print_scale: Whether the uncertain scale of the print counts. It is common to the whole lay.

        Returns:
            (n,) mm.
        """
        both = np.trace(self.covariance_at(mm, print_scale=print_scale), axis1=1, axis2=2)
        return np.sqrt(np.maximum(both, 0.0) / 2.0)

    def sigma_across(self, mm: Floats, *, print_scale: bool = True) -> Floats:
        """Return the one-sigma error of a closed outline across itself; a shift along it does no harm.

        Args:
            mm: (n,2) points of the outline on the plane, in order.
            print_scale: Whether the uncertain scale of the print counts.

        Returns:
            (n,) mm.
        """
        along = np.roll(mm, -1, axis=0) - np.roll(mm, 1, axis=0)
        normal = along[:, ::-1] * [1.0, -1.0]
        normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-12)
        covariance = self.covariance_at(mm, print_scale=print_scale)
        return np.sqrt(np.maximum(np.einsum("ni,nij,nj->n", normal, covariance, normal), 0.0))


def _rigid(mm: Floats) -> Floats:
    """Return how points move with a shift along x, along y and a turn, (n,2,3)."""
    out = np.zeros((len(mm), 2, 3))
    out[:, 0, 0] = out[:, 1, 1] = 1.0
    out[:, 0, 2] = -mm[:, 1]
    out[:, 1, 2] = mm[:, 0]
    return out
