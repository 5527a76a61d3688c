"""Real roots of polynomials in Bernstein form on 0..1, many polynomials at once.

A polynomial has at most as many roots in 0..1 as its coefficients have sign changes, and exactly one when
they have one (Farin, Curves and Surfaces for CAGD, 5.3, variation diminution). Halving until each part
has at most one sign change isolates every simple root; none is missed.
"""

from functools import lru_cache
from math import comb

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

__all__ = ["product", "roots"]

_ROUNDING = 1e-14
"""A coefficient below this share of the greatest counts as zero: the sign of rounding means nothing."""

_DEPTH = 40
"""Halvings after which a root that still looks double is let go; see ``roots``."""

_MIDDLE = 0.4990234375
"""Where parts are cut: beside the middle, where symmetric shapes like to have a root."""


@lru_cache(maxsize=32)
def _product_matrix(m: int, n: int) -> NDArray[np.float64]:
    """Return the weights of the products of coefficients, shape (m + 1, n + 1, m + n + 1)."""
    weights = np.zeros((m + 1, n + 1, m + n + 1))
    for i in range(m + 1):
        for j in range(n + 1):
            weights[i, j, i + j] = comb(m, i) * comb(n, j) / comb(m + n, i + j)
    weights.setflags(write=False)
    return weights


def product(a: Array, b: Array) -> Array:
    """Return the Bernstein coefficients of products, shapes (k, m + 1) and (k, n + 1) to (k, m + n + 1)."""
    weights = _product_matrix(a.shape[1] - 1, b.shape[1] - 1)
    outer = (a[:, :, None] * b[:, None, :]).reshape(len(a), a.shape[1] * b.shape[1])
    return outer @ weights.reshape(outer.shape[1], weights.shape[2])


def _halves(c: Array, at: float) -> tuple[Array, Array]:
    left, right, row = np.empty_like(c), np.empty_like(c), c
    last = c.shape[1] - 1
    left[:, 0], right[:, last] = c[:, 0], c[:, last]
    for k in range(1, last + 1):
        row = (1.0 - at) * row[:, :-1] + at * row[:, 1:]
        left[:, k], right[:, last - k] = row[:, 0], row[:, -1]
    return left, right


def _values(c: Array, t: Array) -> tuple[Array, Array]:
    """Return values and derivatives of polynomials (k, n + 1) at ``t`` (k,), by de Casteljau."""
    u, row = t[:, None], c
    while row.shape[1] > 2:
        row = (1.0 - u) * row[:, :-1] + u * row[:, 1:]
    slope = (c.shape[1] - 1) * (row[:, 1] - row[:, 0])
    return (1.0 - t) * row[:, 0] + t * row[:, 1], slope


def _polish(c: Array) -> Array:
    """Return the one root in 0..1 of each polynomial that changes sign once, shape (k,)."""
    greatest = np.abs(c).max(axis=1)
    first = np.argmax(np.abs(c) > _ROUNDING * greatest[:, None], axis=1)
    sign_before = np.sign(c[np.arange(len(c)), first])
    low, high = np.zeros(len(c)), np.ones(len(c))
    ends = np.abs(c[:, 0]) + np.abs(c[:, -1])
    t = np.divide(np.abs(c[:, 0]), ends, out=np.full(len(c), 0.5), where=ends > 0)
    t = np.clip(t, 0.01, 0.99)
    active = np.arange(len(c))
    for _ in range(70):
        value, slope = _values(c[active], t[active])
        before = value * sign_before[active] > 0.0
        low[active] = np.where(before, t[active], low[active])
        high[active] = np.where(before, high[active], t[active])
        step = np.divide(value, slope, out=np.full_like(value, np.inf), where=slope != 0)
        new = t[active] - step
        outside = ~((new > low[active]) & (new < high[active]))
        new = np.where(outside, 0.5 * (low[active] + high[active]), new)
        done = (np.abs(step) <= 4e-15) | (np.abs(value) <= 1e-16 * greatest[active])
        t[active] = np.where(done, t[active], new)
        active = active[~done]
        if not len(active):
            break
    return t


def _root_at_cut(left: Array, right: Array, noise: Array) -> NDArray[np.bool_]:
    """Return whether a polynomial changes sign just where it was cut: neither half shows that root."""

    def nearest_sign(row: Array) -> Array:
        clear = np.abs(row) > noise[:, None]
        value = row[np.arange(len(row)), np.argmax(clear, axis=1)]
        return np.where(clear.any(axis=1), np.sign(value), 0.0)

    zero = np.abs(right[:, 0]) <= noise
    return zero & (nearest_sign(left[:, ::-1]) * nearest_sign(right) < 0.0)


def roots(coefficients: Array) -> tuple[Indices, Array]:
    """Return the roots inside 0..1 at which polynomials change sign.

    A double root, which touches zero without a change of sign, may be missed, and so may a root within
    rounding of 0 or 1. A polynomial that is zero everywhere has no roots here.

    Args:
        coefficients: Bernstein coefficients, shape (k, n + 1).

    Returns:
        Index of the polynomial and the root's place, each shape (r,), in no order.
    """
    owner = np.arange(len(coefficients))
    c = coefficients
    noise = _ROUNDING * np.abs(c).max(axis=1, initial=0.0)
    start, width = np.zeros(len(c)), np.ones(len(c))
    found_owner: list[Indices] = []
    found_at: list[Array] = []
    for depth in range(_DEPTH + 1):
        sign = np.where(np.abs(c) <= noise[owner][:, None], 0.0, np.sign(c))
        # a zero takes the sign before it, so that it makes no change of its own
        for k in range(1, c.shape[1]):
            sign[:, k] = np.where(sign[:, k] == 0.0, sign[:, k - 1], sign[:, k])
        changes = np.sum(sign[:, 1:] * sign[:, :-1] < 0.0, axis=1)
        one = changes == 1
        if one.any():
            found_owner.append(owner[one])
            found_at.append(start[one] + width[one] * _polish(c[one]))
        more = changes > 1
        if depth == _DEPTH or not more.any():
            break
        left, right = _halves(c[more], _MIDDLE)
        cut = _root_at_cut(left, right, noise[owner[more]])
        if cut.any():
            found_owner.append(owner[more][cut])
            found_at.append(start[more][cut] + _MIDDLE * width[more][cut])
        owner = np.concatenate([owner[more], owner[more]])
        start, width = start[more], width[more]
        start = np.concatenate([start, start + _MIDDLE * width])
        width = np.concatenate([_MIDDLE * width, (1.0 - _MIDDLE) * width])
        c = np.concatenate([left, right])
    if not found_owner:
        return np.zeros(0, dtype=np.intp), np.zeros(0)
    return np.concatenate(found_owner), np.concatenate(found_at)
