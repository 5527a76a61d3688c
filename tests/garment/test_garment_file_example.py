"""The garment file that the design gives as its example, remarks and all."""

import numpy as np
import pytest

from likesewn.garment import read_garment

EXAMPLE = """\
format = 1

[garment]
name = "Throwing top"
kind = "set-in-sleeve-top"
unit = "cm"
neck_recorded_at = "seam"      # or "finished edge"
neck_finish = "band"           # band, binding, facing, turned

[tape]                         # finished garment, flat, unstretched
body_length = 66
chest_width = "52 +- 0.3"
hem_width = "20 1/2 in"

[[points]]                     # read off a grid or a mat
piece = "front"
edge = "armhole"
frame = "piece"                # or "free": any place and angle, the solve aligns it
at = [[18.9, 5.1], [17.6, 10.0], [18.8, 17.2]]
sigma = "1.5 mm"

[allowances]
seam = 1
hem = 2.5

[fabric]
construction = "knit"          # or "woven"
stretch_across = "50 %"

[cloth]
width = 150
folding = "folded"             # open, folded, folded twice, selvages to the middle, crosswise
"""


def test_it_reads_as_printed():
    record = read_garment(EXAMPLE)
    assert (record.name, record.kind, record.unit) == ("Throwing top", "set-in-sleeve-top", "cm")
    assert {key: (figure.mm, figure.sigma_mm) for key, figure in record.tape.items()} == {
        "body_length": (660.0, None),
        "chest_width": (520.0, 3.0),
        "hem_width": (520.7, None),
    }
    (points,) = record.points
    assert (points.piece, points.edge, points.sigma_mm, points.lay) == ("front", "armhole", 1.5, "")
    assert points.at == pytest.approx(np.array([[189, 51], [176, 100], [188, 172]]))
    assert record.allowances == {"seam": 10.0, "hem": 25.0}
    assert record.finish == {"neck": {"recorded_at": "seam", "finish": "band"}}
    assert (record.fabric.construction, record.fabric.stretch_across) == ("knit", 0.5)
    assert (record.cloths["main"].width_mm, record.cloths["main"].folding) == (1500.0, "folded")
