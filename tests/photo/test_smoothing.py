"""Means along an axis, against SciPy's."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter1d, uniform_filter1d

from likesewn.photo.smoothing import gaussian_along, mean_along

VALUES = np.random.default_rng(6).normal(size=(40, 5, 3))
SHORT = VALUES[:3]


@pytest.mark.parametrize("values", [VALUES, VALUES[:, 0, 0], SHORT, VALUES[::2, ::-1]])
@pytest.mark.parametrize("ends", ["wrap", "reflect", "nearest"])
@pytest.mark.parametrize("sigma", [0.6, 1.0, 2.0, 7.3])
def test_the_normal_curve_is_scipys(values, ends, sigma):
    for axis in range(values.ndim):
        expected = gaussian_filter1d(values, sigma, axis=axis, mode=ends)
        np.testing.assert_allclose(gaussian_along(values, sigma, axis=axis, ends=ends), expected, atol=1e-12)


@pytest.mark.parametrize("ends", ["wrap", "reflect", "nearest"])
@pytest.mark.parametrize("size", [1, 2, 3, 8, 25])
def test_the_mean_is_scipys(ends, size):
    for first, origin in ((None, 0), (0, -(size // 2)), (size - 1, (size - 1) // 2)):
        expected = uniform_filter1d(VALUES, size, axis=0, mode=ends, origin=origin)
        np.testing.assert_allclose(mean_along(VALUES, size, first=first, ends=ends), expected, atol=1e-12)
