"""The adjustment: derivatives by differences, exact recovery, outliers, and stated uncertainty."""

from dataclasses import replace

import numpy as np
import pytest

from likesewn.photo.adjust import Layout, Priors, Sighting, Start, adjust, seen, stepped, turn_of
from likesewn.photo.camera import Camera
from likesewn.photo.sheet import sheet
from likesewn.photo.solve import Reference, solve

BELIEVED = Camera(4000, 3000, 2880.0, 1999.5, 1499.5)
LENS = Camera(4000, 3000, 2950.0, 2008.0, 1492.0, 0.04, -0.03, 0.0004, -0.0005)
PLACES = np.array([(0.0, 0.0, 0.0), (1150.0, 30.0, 0.1), (-20.0, 800.0, -0.2), (1180.0, 820.0, 3.0)])


def _poses():
    tilts = (np.array([0.25, -0.1, 0.05]), np.array([-0.2, 0.3, 1.5]))
    rotations = np.stack([turn_of(tilt) for tilt in tilts])
    middle = np.array([600.0, 450.0, 0.0])
    return rotations, np.stack([np.array([0.0, 0.0, 1700.0]) - r @ middle for r in rotations])


def _truth(scale=(0.0, 0.0)):
    rotations, translations = _poses()
    return Start((LENS,), (0, 0), rotations, translations, PLACES, np.array(scale))


def _sightings(truth, noise=0.0, seed=1):
    rng = np.random.default_rng(seed)
    out = []
    for photo in range(2):
        for body in range(4):
            mm = sheet(body + 1).corners
            blank = Sighting(body, photo, mm, np.zeros_like(mm))
            px, _ = seen(truth, blank)
            out.append(replace(blank, px=px + noise * rng.standard_normal(px.shape)))
    return out


def test_every_derivative_agrees_with_differences():
    truth = _truth((0.001, -0.002))
    order = Layout.of(truth)
    sighting = Sighting(2, 1, sheet(3).corners[:9], np.zeros((9, 2)), height_mm=4.0)
    _, by = seen(truth, sighting)
    sizes = np.array(
        [1e-6] * 7 + [1e-6, 1e-6, 1e-6, 1e-3, 1e-3, 1e-3] * 2 + [1e-3, 1e-3, 1e-6] * 3 + [1e-6] * 2
    )
    assert len(sizes) == order.size
    for k, size in enumerate(sizes):
        step = np.zeros(order.size)
        step[k] = size
        ahead, behind = (seen(stepped(truth, s * step), sighting)[0] for s in (1.0, -1.0))
        np.testing.assert_allclose(by[:, :, k], (ahead - behind) / (2 * size), rtol=2e-5, atol=2e-3)


def _references(sightings):
    return [Reference(s.body, s.photo, s.mm, s.px) for s in sightings]


def test_two_photographs_without_noise_give_the_table_back():
    solved = solve([BELIEVED] * 2, _references(_sightings(_truth())), Priors(0.25), focal_noted=False)
    gaps = np.linalg.norm(solved.places[:4, None, :2] - solved.places[None, :4, :2], axis=2)
    true = np.linalg.norm(PLACES[:, None, :2] - PLACES[None, :, :2], axis=2)
    np.testing.assert_allclose(gaps, true, atol=0.03)
    assert solved.planes[0].camera.f == pytest.approx(LENS.f, rel=2e-3)


def test_corners_that_were_shifted_are_left_out():
    sightings = _sightings(_truth(), noise=0.05)
    rough = sightings[1].px.copy()
    rough[[3, 11, 20]] += (2.5, -3.0)
    sightings[1] = replace(sightings[1], px=rough)
    solved = solve([BELIEVED] * 2, _references(sightings), Priors(0.25), focal_noted=False)
    assert not solved.used[1][[3, 11, 20]].any()
    assert solved.used[1].sum() >= 30
    assert solved.noise_px[1] == pytest.approx(0.05, rel=0.4)


def test_the_stated_uncertainty_holds():
    """95 % intervals over 24 draws of noise and of the print's scale, at five places of the table."""
    rng = np.random.default_rng(5)
    mm = np.array([(0.0, 0.0), (1150.0, 0.0), (600.0, 400.0), (0.0, 800.0), (1150.0, 800.0)])
    inside = 0
    for seed in range(24):
        common, apart = 0.001 * rng.standard_normal(), 0.0003 * rng.standard_normal()
        truth = _truth((common + apart / 2, common - apart / 2))
        references = [r for r in _references(_sightings(truth, 0.06, seed)) if r.photo == 0]
        plane = solve([BELIEVED], references, Priors(0.04), focal_noted=True).planes[0]
        rotation, translation = truth.rotations[0], truth.translations[0]
        px = LENS.project(mm @ rotation[:, :2].T + translation)
        found = plane.to_plane(px)
        a, b = found - found.mean(axis=0), mm - mm.mean(axis=0)
        u, _, v = np.linalg.svd(a.T @ b)
        sigma = plane.about(found).sigma(found)
        inside += np.count_nonzero(np.abs(a @ u @ v - b) < 1.96 * sigma[:, None])
    assert 0.88 <= inside / (24 * 10) <= 1.0


def test_adjusting_from_the_truth_stays_there():
    truth = _truth()
    adjusted = adjust(truth, [LENS], _sightings(truth), Priors(0.04))
    assert max(float(np.abs(miss).max()) for miss in adjusted.residuals) < 2e-3
    np.testing.assert_allclose(adjusted.at.bodies, PLACES, atol=0.02)
