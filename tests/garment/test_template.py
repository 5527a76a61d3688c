import numpy as np
import pytest

from likesewn.garment import kind_names, load_kind
from likesewn.garment.template import template_pattern
from likesewn.geometry import Path


@pytest.mark.parametrize("name", kind_names())
def test_the_template_is_the_kinds_own_shape(name: str) -> None:
    kind = load_kind(name)
    pattern = template_pattern(kind)
    assert [piece.name for piece in pattern.pieces] == [piece.name for piece in kind.pieces]
    for piece in pattern.pieces:
        shape = kind.piece(piece.name)
        assert {c.name: (c.x, c.y) for c in shape.corners} == {
            k: tuple(at) for k, at in piece.corners.items()
        }
        assert Path.join([edge.path for edge in piece.edges]).closed
        for edge in piece.edges:
            assert np.array_equal(edge.path.start, piece.corners[edge.start])
            assert np.array_equal(edge.path.end, piece.corners[edge.end])
            assert edge.fold == (shape.fold is not None and edge.name == shape.fold.name)
            if shape.edge(edge.name).straight:
                assert edge.path.straight.all()
