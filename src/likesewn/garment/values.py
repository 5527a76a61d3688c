"""Reads single values of the garment file by what the table of keys says they may be."""

from typing import cast

import numpy as np
from numpy.typing import NDArray

from likesewn.garment.keys import LEAST_SIGMA, MOST_POINTS, Form, Key
from likesewn.garment.problems import Problems, nearest, shown
from likesewn.garment.record import Figure
from likesewn.garment.toml_lines import TomlPath
from likesewn.units import UNIT_MM, UnitError, format_length, parse_length, parse_share

__all__ = ["Value", "ValueReader"]

Value = str | bool | float | Figure | NDArray[np.float64] | tuple[NDArray[np.float64], ...] | tuple[str, ...]
"""What a value becomes: text and choices, flags, shares and numbers, lengths, points of shape (n, figures) in
mm, several such lists, names."""

MOST_LETTERS = 200
"""Longest text: names are printed on labels."""

MOST_POINT_FAULTS = 5
"""Faulty points told one by one in one list; the rest is counted."""

SHORT = 10.0
"""A length of less than this, mm, may be as uncertain as this: a drop of nothing is still a reading."""


class ValueReader:
    """Reads values, lengths without a unit of their own in ``unit`` (None: none is given)."""

    def __init__(self, unit: str | None, problems: Problems) -> None:
        self.unit = unit
        self.problems = problems
        self._asked_for_unit = False

    def read(self, key: Key, value: object, path: TomlPath) -> Value | None:
        """Return the value, or None where it is refused (the fault is noted)."""
        readers = {
            Form.TEXT: self._text,
            Form.CHOICE: self._choice,
            Form.FLAG: self._flag,
            Form.LENGTH: self._figure,
            Form.FIGURE: self._figure,
            Form.SHARE: self._share,
            Form.POINTS: self._points,
            Form.RINGS: self._rings,
            Form.NAMES: self._names,
            Form.NUMBER: self._number,
            Form.LEAN: self._lean,
        }
        return readers[key.form](key, value, path)

    def _refuse(self, key: Key, value: object, path: TomlPath, message: str) -> None:
        self.problems.add(path, message, found=shown(value), allowed=key.allowed(self.unit or "cm"))

    def _flag(self, key: Key, value: object, path: TomlPath) -> bool | None:
        return (
            value
            if isinstance(value, bool)
            else self._refuse(key, value, path, "this should be true or false")
        )

    def _text(self, key: Key, value: object, path: TomlPath) -> str | None:
        if isinstance(value, str) and len(value) <= MOST_LETTERS and value.isprintable():
            return value
        if not isinstance(value, str):
            return self._refuse(key, value, path, "this should be text")
        return self._refuse(key, value, path, f"this should be one line of at most {MOST_LETTERS} letters")

    def _choice(self, key: Key, value: object, path: TomlPath) -> str | None:
        if isinstance(value, str) and value in key.choices:
            return value
        near = nearest(value, key.choices) if isinstance(value, str) else ""
        message = "this is not one of the choices"
        self.problems.add(path, message, found=shown(value), allowed=key.allowed(""), near=near)
        return None

    def _names(self, key: Key, value: object, path: TomlPath) -> tuple[str, ...] | None:
        if not isinstance(value, list):
            return self._refuse(key, value, path, "this should be a list of names")
        items = cast("list[object]", value)
        names = [self._choice(key, item, (*path, i)) for i, item in enumerate(items)]
        return None if None in names else tuple(dict.fromkeys(name for name in names if name is not None))

    def _number(self, key: Key, value: object, path: TomlPath) -> float | None:
        if isinstance(value, bool) or not isinstance(value, int | float):
            return self._refuse(key, value, path, "this should be a number")
        if not key.least <= value <= key.most:
            return self._refuse(key, value, path, "this number is out of range")
        return float(value)

    def _lean(self, key: Key, value: object, path: TomlPath) -> float | str | None:
        return self._choice(key, value, path) if isinstance(value, str) else self._number(key, value, path)

    def _rings(self, key: Key, value: object, path: TomlPath) -> tuple[NDArray[np.float64], ...] | None:
        if not isinstance(value, list):
            return self._refuse(key, value, path, "this should be a list of outlines")
        items = cast("list[object]", value)
        rings = [self._points(key, item, (*path, i)) for i, item in enumerate(items)]
        return None if any(ring is None for ring in rings) else tuple(r for r in rings if r is not None)

    def _share(self, key: Key, value: object, path: TomlPath) -> float | None:
        if not isinstance(value, str | int | float) or isinstance(value, bool):
            return self._refuse(key, value, path, "this should be a share")
        try:
            share = parse_share(value)
        except UnitError as error:
            self.problems.add(path, error.message, found=shown(value), allowed=error.allowed)
            return None
        if key.least <= share <= key.most:
            return share
        meant_percent = not isinstance(value, str) and share >= 1 and key.least <= share / 100 <= key.most
        near = f"{shown(value)} %" if meant_percent else ""
        self.problems.add(
            path, "this share is out of range", found=shown(value), allowed=key.allowed(""), near=near
        )
        return None

    def length(self, value: object, path: TomlPath) -> Figure | None:
        """Return a length of any size, or None where it is none (the fault is noted)."""
        if not isinstance(value, str | int | float) or isinstance(value, bool):
            self.problems.add(
                path, "this should be a length", found=shown(value), allowed='such as 49 or "49 cm"'
            )
            return None
        try:
            length = parse_length(value, self.unit or "")
        except UnitError as error:
            if self.unit is None and error.message == "this figure has no unit":
                self._ask_for_unit()
            else:
                self.problems.add(path, error.message, found=shown(value), allowed=error.allowed)
            return None
        return Figure(length.mm, length.sigma_mm, length.text)

    def _ask_for_unit(self) -> None:
        if not self._asked_for_unit:
            self._asked_for_unit = True
            self.problems.add(
                ("garment", "unit"),
                "the unit of the figures that stand alone is missing",
                allowed="mm, cm, in",
                todo='write unit = "cm" under [garment], or a unit with every figure',
            )

    def _figure(self, key: Key, value: object, path: TomlPath) -> Figure | None:
        figure = self.length(value, path)
        if figure is None:
            return None
        unit = self.unit or "cm"
        sigma = figure.sigma_mm
        if not key.least <= figure.mm <= key.most:
            words = "too small" if figure.mm < key.least else "too large"
            self.problems.add(
                path,
                f"this length is {words} to be right",
                found=f"{value} {unit}" if not isinstance(value, str) else shown(value),
                allowed=key.allowed(unit),
                near=self._meant(key, value),
            )
            return None
        if sigma is None:
            return figure
        if key.form is Form.LENGTH:
            self.problems.add(
                path, "this length takes no uncertainty", found=shown(value), allowed="the length alone"
            )
            return None
        most = max(abs(figure.mm), SHORT)
        if not LEAST_SIGMA <= sigma < most:
            self.problems.add(
                path,
                "this uncertainty cannot be right",
                found=shown(value),
                allowed=f"{LEAST_SIGMA} mm to less than {format_length(most, unit)}",
            )
            return None
        return figure

    def _meant(self, key: Key, value: object) -> str:
        """Return the same figure in the unit that was probably meant, where one brings it well in range."""
        figure = value if isinstance(value, int | float) else None
        for other in ("mm", "cm", "in"):
            if figure is None or other == self.unit:
                continue
            mm = figure * UNIT_MM[other]
            if key.least * 1.5 <= mm <= key.most / 1.5:
                own = format_length(mm, self.unit or "cm")
                return f"{shown(value)} {other} ({own})"
        return ""

    def _points(self, key: Key, value: object, path: TomlPath) -> NDArray[np.float64] | None:
        if not isinstance(value, list):
            return self._refuse(key, value, path, "this should be a list of points")
        items = cast("list[object]", value)
        if len(items) > MOST_POINTS:
            self.problems.add(
                path,
                "these are too many points",
                found=str(len(items)),
                allowed=f"at most {MOST_POINTS} in one file",
            )
            return None
        rows: list[tuple[float, ...]] = []
        faults = 0
        for i, item in enumerate(items):
            if faults > MOST_POINT_FAULTS:
                break
            point = self._point(key, item, (*path, i))
            if point is None:
                faults += 1
            else:
                rows.append(point)
        return None if faults else np.array(rows, dtype=np.float64).reshape(-1, key.figures)

    def _point(self, key: Key, item: object, path: TomlPath) -> tuple[float, ...] | None:
        figures = cast("list[object]", item) if isinstance(item, list) else []
        if len(figures) != key.figures:
            count = f"a list of {len(figures)}" if isinstance(item, list) else shown(item)
            if key.figures == 2:
                message, allowed = "a point is two figures", "[x, y], such as [18.9, 5.1]"
            else:
                message, allowed = f"this should be {key.figures} figures", key.about
            self.problems.add(path, message, found=count, allowed=allowed)
            return None
        read = [self._coordinate(key, figure, (*path, i)) for i, figure in enumerate(figures)]
        return None if None in read else tuple(mm for mm in read if mm is not None)

    def _coordinate(self, key: Key, value: object, path: TomlPath) -> float | None:
        sigma = None
        if (
            isinstance(value, int | float)
            and not isinstance(value, bool)
            and self.unit
            and abs(value) <= key.most
        ):
            # read here at once, without a look at each letter: long lists have tens of thousands of these
            mm = float(value) * UNIT_MM[self.unit]
        else:
            figure = self.length(value, path)
            if figure is None:
                return None
            mm, sigma = figure.mm, figure.sigma_mm
        if sigma is not None:
            self.problems.add(
                path,
                "a point's figures take no uncertainty of their own",
                found=shown(value),
                todo="write it once, as sigma",
            )
            return None
        if key.least <= mm <= key.most:
            return mm
        allowed = key.allowed(self.unit or "cm")
        self.problems.add(path, "this point is too far away", found=shown(value), allowed=allowed)
        return None
