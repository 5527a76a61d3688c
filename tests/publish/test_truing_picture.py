"""The picture of truing, read back."""

import re

import numpy as np
from svgpathtools import parse_path

from likesewn.publish import truing_svg
from likesewn.truing import Explained, explain
from remeasured import measured
from tops import TOP, basis, record


def told(of) -> Explained:
    explained = explain(of, TOP)
    assert isinstance(explained, Explained)
    return explained


def paths(text: str, line: str) -> list[str]:
    return re.findall(rf'<path class="{line}" [^>]*? d="([^"]+)"', text)


def test_every_seam_line_is_drawn_as_recorded_and_as_trued_at_its_length():
    explained = told(record(**basis(), sleeve_width=230.0, armhole_curve=240.0))
    text = truing_svg(explained, "Studio top")
    for line, pieces in (("trued", explained.pattern.pieces), ("recorded", explained.pieces_before)):
        wanted = [edge.path.length for piece in pieces for edge in piece.edges if not edge.fold]
        drawn = [parse_path(d).length(error=1e-6) for d in paths(text, line)][:-1]  # the last is the key's
        assert np.allclose(sorted(wanted), sorted(drawn), atol=0.01)
    assert "Studio top" in text


def test_bands_are_drawn_where_they_can_be_seen():
    unsure = truing_svg(told(record(**basis())), "Top")
    assert "95 times in 100" in unsure
    sure = told(measured(np.random.default_rng(1), each=60))
    narrow = [s for s in sure.spreads if 2.0 * s.sigma_mm.max() <= 1.0]
    areas = truing_svg(sure, "Top").count('class="area"')
    assert narrow
    key = int("95 times in 100" in truing_svg(sure, "Top"))
    assert areas == len(sure.pattern.pieces) + len(sure.spreads) - len(narrow) + key
