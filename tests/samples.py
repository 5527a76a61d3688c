"""Values that several tests share: a pattern drawn straight from a kind's template."""

from dataclasses import replace

from likesewn.garment import Kind, MeasureValue, Pattern
from likesewn.garment.kinds import load_kind
from likesewn.garment.template import template_pattern


def sample_pattern(kind: Kind | None = None) -> Pattern:
    """Return the kind's own template as a pattern; its seams agree only roughly."""
    kind = kind or load_kind("set-in-sleeve-top")
    measures = tuple(
        MeasureValue(key, kind.measures[key].title, mm, 3.0, mm, 3.0)
        for key, mm in (("body_length", 660.0), ("chest_width", 520.0), ("sleeve_length", 590.0))
        if key in kind.measures
    )
    return replace(template_pattern(kind), measures=measures)
