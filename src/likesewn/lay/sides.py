"""The sides on which two outlines can be held apart.

Two convex parts that do not overlap lie on either side of a line along some edge of one of them. For every
edge of either part the line lies where the other part just touches it; the edge that leaves most room between
the two is the one to hold them apart by (the separating axes of convex polygons).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

__all__ = ["Parts", "Sides", "parts_of", "sides_of"]


@dataclass(frozen=True, slots=True, eq=False)
class Parts:
    """Convex parts of an outline, as arrays filled up to the same number of corners.

    Attributes:
        corners: Shape (parts, most, 2), mm; the last corner stands for those that are missing.
        normals: Outward normals of the sides, likewise.
        reach: How far each side lies along its normal, shape (parts, most), mm; infinite where missing.
    """

    corners: Array
    normals: Array
    reach: Array


@dataclass(frozen=True, slots=True, eq=False)
class Sides:
    """Lines that can hold outlines A and B apart: B moved by v is clear of a side where ``n . v >= c``.

    Attributes:
        first: Normals of the sides of A, shape (parts of A, sides, 2).
        first_least: c for each side of A and part of B, shape (parts of A, sides, parts of B), mm.
        second: Normals of the sides of B, turned about, shape (parts of B, sides, 2).
        second_least: c for each side of B and part of A, shape (parts of B, sides, parts of A), mm.
    """

    first: Array
    first_least: Array
    second: Array
    second_least: Array

    def room(self, move: Array) -> tuple[Array, NDArray[np.intp]]:
        """Return how far apart the parts of A and B are, and by which side, shapes (parts of A, parts of B).

        Sides count through those of A first; less than 0 means that the parts overlap by so much.
        """
        by_first = (self.first @ move)[:, :, None] - self.first_least
        by_second = ((self.second @ move)[:, :, None] - self.second_least).transpose(2, 1, 0)
        room = np.concatenate([by_first, by_second], axis=1)
        side = room.argmax(axis=1)
        return np.take_along_axis(room, side[:, None, :], axis=1)[:, 0], side

    def holding(self, move: Array, near: float) -> Array:
        """Return the lines that hold A and B apart where parts are nearer than ``near`` mm, shape (n, 3).

        Each line is a normal and c; of lines with one normal only the farthest is given.
        """
        room, side = self.room(move)
        a, b = np.nonzero(room < near)
        number = side[a, b]
        count = self.first.shape[1]
        own = number < count
        rows = [
            self._farthest(self.first, self.first_least, a[own], number[own], b[own]),
            self._farthest(self.second, self.second_least, b[~own], number[~own] - count, a[~own]),
        ]
        return np.concatenate(rows)

    @staticmethod
    def _farthest(
        normals: Array, least: Array, part: NDArray[np.intp], side: NDArray[np.intp], other: NDArray[np.intp]
    ) -> Array:
        key, inverse = np.unique(part * normals.shape[1] + side, return_inverse=True)
        farthest = np.full(len(key), -np.inf)
        np.maximum.at(farthest, inverse, least[part, side, other])
        return np.column_stack([normals.reshape(-1, 2)[key], farthest])


def parts_of(polygons: Sequence[Array]) -> Parts:
    """Return convex polygons, each counter-clockwise as drawn with y upward, as arrays."""
    most = max(len(polygon) for polygon in polygons)
    corners = np.empty((len(polygons), most, 2))
    normals = np.zeros((len(polygons), most, 2))
    reach = np.full((len(polygons), most), np.inf)
    for k, polygon in enumerate(polygons):
        n = len(polygon)
        corners[k, :n] = polygon
        corners[k, n:] = polygon[-1]
        along = np.roll(polygon, -1, axis=0) - polygon
        long = np.hypot(along[:, 0], along[:, 1])
        good = long > 1e-9
        normal = np.column_stack([along[:, 1], -along[:, 0]]) / np.where(good, long, 1.0)[:, None]
        normals[k, :n] = normal
        reach[k, :n] = np.where(good, (normal * polygon).sum(axis=1), np.inf)
    return Parts(corners, normals, reach)


def sides_of(first: Parts, second: Parts) -> Sides:
    """Return the lines that can hold two outlines apart."""

    def least(own: Parts, other: Parts) -> Array:
        flat = own.normals.reshape(-1, 2) @ other.corners.reshape(-1, 2).T
        nearest = flat.reshape(*own.reach.shape, *other.reach.shape).min(axis=-1)
        return own.reach[:, :, None] - nearest

    return Sides(first.normals, least(first, second), -second.normals, least(second, first))
