"""A change of one table is the same whether it alone is taken apart or the whole file."""

import pytest

from likesewn.garment import update_garment


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("tape.hem_width", "50 cm"),
        ("points[2].sigma", "2 mm"),
        ("points[1].at", [[1.0, 2.0], [3.0, 4.0]]),
        ("cloth.spare.width", "90 cm"),
        ("cloth.width", None),
        ('ease."front armhole"', 0.2),
        ("wearer.name", "the kiln keeper"),
    ],
)
def test_a_table_by_itself_changes_as_the_whole_file_does(key, value, monkeypatch):
    text = (
        'format = 1 # first\n[garment]\nname = "x"\n\n[tape]  # by tape\nchest_width = 52\n'
        '# hem_width = ""\n\n'
        '[[points]]\npiece = "front"\nat = [\n  [1, 2],\n  [3, 4],\n]\n'
        "[[points]]\nsigma = 3\n\n"
        '[ease]\n"back armhole" = 0\n[cloth]\nwidth = 150\n[cloth.spare]\nwidth = 140\n'
    )
    quick = update_garment(text, {key: value})
    monkeypatch.setattr("likesewn.garment.editing._section", lambda text, path: (0, len(text), path))
    assert quick == update_garment(text, {key: value})


def test_a_header_inside_a_text_of_several_lines_is_none():
    text = '[garment]\nname = """\n[tape]\n"""\n[tape]\nchest_width = 52\n'
    changed = update_garment(text, {"tape.chest_width": 60})
    assert changed == text.replace("chest_width = 52", "chest_width = 60")
