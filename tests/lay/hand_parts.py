"""Small outlines for open lays, made by hand."""

import numpy as np

from likesewn.lay.nest import Part

SQUARE = np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 100.0], [0.0, 100.0]])
WEDGE = np.array([[0.0, 0.0], [200.0, 0.0], [0.0, 100.0]])
# A sleeve-like outline with a hollow on either side of its cap.
CAP = np.array(
    [[0, 0], [60, 10], [110, 60], [150, 80], [190, 60], [240, 10], [300, 0], [270, 180], [30, 180]],
    dtype=float,
)
HOOK = np.array([[0, 0], [120, 0], [120, 40], [40, 40], [40, 150], [0, 150]], dtype=float)

HALF_TURNS = (0.0, 180.0)
QUARTER_TURNS = (0.0, 90.0, 180.0, 270.0)


def mixed() -> list[Part]:
    """Eleven copies of four outlines, each with turns of its own."""
    return [
        Part(SQUARE, 3),
        Part(WEDGE, 4, QUARTER_TURNS),
        Part(CAP[::-1], 2, HALF_TURNS),
        Part(HOOK + np.array([500.0, -300.0]), 2, (0.0, 30.0)),
    ]
