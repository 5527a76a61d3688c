"""Garment files with faults, most of them one edit away from a good one."""

import random
from pathlib import Path

GOOD = """\
format = 1

[garment]
name = "Kiln apron top"
kind = "set-in-sleeve-top"
unit = "cm"

[tape]
body_length = 67
chest_width = "53 +- 0.3"
hem_width = 54
sleeve_length = 57

[fabric]
construction = "knit"
stretch_across = "50 %"

[cloth]
width = 150
folding = "folded"
"""
POINTS = '\n[[points]]\npiece = "front"\nedge = "armhole"\nat = [[18.9, 5.1], [17.6, 10.0], [18.8, 17.2]]\n'


def swapped(old: str, new: str, text: str = GOOD) -> bytes:
    assert old in text, old
    return text.replace(old, new).encode()


def cases() -> dict[str, bytes]:
    with_points = GOOD + POINTS
    return {
        "empty": b"",
        "zero-byte": b"\0\0",
        "not-utf-8": 'name = "caf\xe9"'.encode("latin-1"),
        "noise-of-50-mb": random.Random(1).randbytes(50_000_000),  # noqa: S311
        "nested-deep": b"a = " + b"[" * 100_000,
        "dotted-deep": b"[" + b"a." * 50_000 + b"a]",
        "not-toml": swapped("[tape]", "tape:"),
        "unknown-key": swapped("chest_width", "chest_widht"),
        "unknown-table": swapped("[fabric]", "[fabrik]"),
        "wrong-unit": swapped("53 +- 0.3", "53 furlongs"),
        "negative": swapped("= 67", "= -67"),
        "absurdly-large": swapped("= 67", "= 6700000"),
        "another-unit-meant": swapped("= 67", "= 670"),
        "huge-whole-number": swapped("= 67", "= " + "9" * 400),
        "not-a-number": swapped("= 67", "= nan"),
        "infinite": swapped("= 67", "= inf"),
        "true-for-a-length": swapped("= 67", "= true"),
        "list-for-a-length": swapped("= 67", "= [67]"),
        "date-for-a-length": swapped("= 67", "= 2026-11-25"),
        "thousands-sign": swapped("= 67", '= "1,067.5"'),
        "missing-measure": swapped("body_length = 67\n", ""),
        "missing-format": swapped("format = 1\n", ""),
        "missing-kind": swapped('kind = "set-in-sleeve-top"\n', ""),
        "newer-format": swapped("format = 1", "format = 2"),
        "unknown-kind": swapped("set-in-sleeve-top", "set-in-sleve-top"),
        "duplicated-key": swapped("hem_width = 54", "hem_width = 54\nhem_width = 55"),
        "duplicated-table": GOOD.encode() + b"\n[tape]\ncuff_width = 11\n",
        "table-twice-over": swapped("[tape]", "[[tape]]"),
        "text-for-a-table": swapped("[tape]\n", 'tape = "x"\n[other]\n'),
        "contradicts-itself": swapped("hem_width = 54", "hem_width = 54\nfront_hem_width = 55"),
        "no-uncertainty": swapped("+- 0.3", "+- 0"),
        "negative-uncertainty": swapped("+- 0.3", "+- -0.3"),
        "share-out-of-range": swapped("50 %", "500 %"),
        "huge-share": swapped('"50 %"', "9" * 400),
        "share-meant-as-percent": swapped('"50 %"', "50"),
        "unknown-folding": swapped('"folded"', '"foldd"'),
        "cloth-of-no-width": swapped("width = 150", "width = 0"),
        "points-on-no-edge": swapped('"armhole"', '"armhol"', with_points),
        "points-on-no-piece": swapped('"front"', '"frnt"', with_points),
        "a-point-of-one-figure": swapped("[17.6, 10.0]", "[17.6]", with_points),
        "points-as-text": swapped("[[18.9, 5.1], [17.6, 10.0], [18.8, 17.2]]", '"x"', with_points),
        "too-few-points": swapped(", [17.6, 10.0], [18.8, 17.2]", "", with_points),
        "lay-in-the-piece-frame": (with_points + 'lay = "mat"\n').encode(),
        "no-such-side": (with_points + 'side = "lefthand"\n').encode(),
        "off-centre-of-no-fold": (with_points + "off_centre = 1\n").encode(),
        "name-of-two-lines": swapped("Kiln apron top", "Kiln\\ntop"),
    }


if __name__ == "__main__":
    from likesewn.errors import InputError
    from likesewn.garment import read_garment

    folder = Path(__file__).parent / "expected"
    for name, data in cases().items():
        try:
            read_garment(data, f"{name}.toml")
        except InputError as error:
            (folder / f"{name}.txt").write_text(f"{error}\n", encoding="utf-8")
        else:
            raise SystemExit(f"{name} was accepted")
