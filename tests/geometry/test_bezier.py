"""Cubics at the edge of what numbers can hold."""

import numpy as np
import pytest

from likesewn.geometry import bezier


def test_a_line_too_short_for_its_distance_from_the_origin_is_measured_at_once():
    end = np.array([279.9997996, 669.0356507])
    start = np.array([279.99979956, 669.03564519])
    thirds = np.linspace(start, end, 4)[None]
    bent = np.array([[[280.0, 670.0], [280.2, 702.0], [280.5, 736.0], [280.7, 770.0]]])
    parts = bezier.leaves(np.concatenate([thirds, bent]))
    assert len(parts[0]) <= 6
    assert parts[3][parts[0] == 0].sum() == pytest.approx(np.hypot(*(end - start)), abs=1e-12)
