"""Writes garment files: a new one to fill in, and one from a record."""

import json
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from decimal import Decimal
from textwrap import wrap

from likesewn.garment.keys import FORMAT, Form, Key, Table, file_tables
from likesewn.garment.kind import Kind
from likesewn.garment.kinds import load_kind
from likesewn.garment.record import OFF_CENTRE, Cloth, Fabric, Figure, Photo, Record, TracedPoints
from likesewn.units import UNIT_MM, UnitError, format_length, parse_length

__all__ = ["new_garment", "photo_lines", "points_lines", "toml_key", "toml_text", "write_garment"]

WIDTH = 100
"""Letters in a line of remarks."""

LEAST_WRITTEN = 1e-9
"""A length below a millionth of a micrometre is written as 0, mm: its digits would fill the line."""


def toml_text(text: str) -> str:
    """Return a text as a TOML string."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def toml_key(name: str) -> str:
    """Return a name as a TOML key, in quotes where it needs them."""
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else toml_text(name)


def new_garment(kind: Kind, unit: str = "cm", name: str = "") -> str:
    """Return a garment file to fill in, with remarks that say how to take each measure.

    The measures that nothing can stand in for come first and wait to be filled in; all else is written
    as a remark with its usual value. The file is valid TOML, and complete once those lines are filled.

    Args:
        kind: The kind of garment.
        unit: ``mm``, ``cm`` or ``in``.
        name: The garment's name; empty means the kind's title.
    """
    given = {"name": toml_text(name or kind.title), "kind": toml_text(kind.name), "unit": toml_text(unit)}
    lines = [
        *_remark(f"{kind.title}. {kind.summary}"),
        *_remark(
            'Fill in the lines that end in "". A line that starts with # is a remark: take the # away to '
            "use it. A figure alone is in the unit below; others are written in quotes, such as "
            '"49 cm", "19 1/4 in" or "49 +- 0.3 cm", where +- says how sure you are.'
        ),
        f"format = {FORMAT}",
    ]
    for table in file_tables(kind, (kind.name,)):
        lines += ["", *_new_table(table, unit, given if table.name == "garment" else {})]
    return "\n".join(lines) + "\n"


def _remark(text: str) -> list[str]:
    return wrap(text, WIDTH, initial_indent="# ", subsequent_indent="# ", break_on_hyphens=False)


def _new_table(table: Table, unit: str, given: dict[str, str]) -> Iterator[str]:
    yield f"# [[{table.name}]]" if table.repeated else f"[{table.name}]"
    yield from _remark(table.about)
    said = ""
    for key in sorted((key for key in table.keys if key.listed), key=lambda k: not k.needed):
        about = _about(key, unit)
        if about != said:
            yield from () if table.repeated else [""]
            yield from _remark(about)
        said = about
        live = key.name in given or (key.needed and not table.repeated)
        yield f"{'' if live else '# '}{toml_key(key.name)} = {_usual(key, unit, given)}"
    variants = [key.name for key in table.keys if not key.listed]
    if variants:
        yield ""
        yield from _remark(f"Where pieces differ: {', '.join(toml_key(name) for name in variants)}.")
    for part in table.parts if not table.keys else ():
        yield ""
        yield from _new_table(Table(f"{table.name}.{part.name}", part.about, part.keys), unit, {})


def _about(key: Key, unit: str) -> str:
    about = key.about
    if key.form is Form.CHOICE and len(key.choices) > 1:
        about += f" One of: {', '.join(key.choices)}."
    if key.form is Form.NAMES and key.choices:
        about += f" Any of: {', '.join(key.choices)}."
    if key.form is Form.SHARE:
        about += f" From {key.allowed(unit)}."
    return about


def _usual(key: Key, unit: str, given: dict[str, str]) -> str:
    if key.name in given:
        return given[key.name]
    if key.form in {Form.POINTS, Form.RINGS, Form.NAMES}:
        return "[]"
    if key.form is Form.LEAN:
        return key.usual
    if key.form is Form.FLAG:
        return key.usual or "false"
    if key.form is Form.LENGTH and key.usual:
        mm = parse_length(key.usual, unit).mm
        shown = format_length(mm, unit)
        near = abs(parse_length(shown, unit).mm - mm) < mm / 10
        return toml_text(shown if near else key.usual)
    return toml_text(key.usual or "")


def write_garment(record: Record, kinds: Callable[[str], Kind] | None = None) -> str:
    """Return a garment file that reads back as this record (its lines and file name aside).

    Args:
        record: The record.
        kinds: Gives the record's kind by name; None means the kinds that come with likesewn.
    """
    kind = (kinds or load_kind)(record.kind)
    unit = record.unit
    tables = [
        _lines("[garment]", _garment(record, unit)),
        _lines("[tape]", {key: _figure(figure, unit) for key, figure in record.tape.items()}),
        *(photo_lines(photo, unit) for photo in record.photos),
        *(points_lines(entry, unit) for entry in record.points),
        _lines("[allowances]", {key: _length(mm, unit) for key, mm in record.allowances.items()}),
        _lines("[ease]", {key: _length(mm, unit) for key, mm in record.ease.items()}),
        *_bands(record, kind),
        _lines("[fabric]", _fabric(record.fabric)),
        *_cloths(record, unit),
        _lines("[grain]", {key: _lean(value) for key, value in record.grain.items()}),
        _lines("[wearer]", _wearer(record)),
    ]
    return "\n\n".join([f"format = {FORMAT}", *filter(None, tables)]) + "\n"


def _lines(header: str, values: dict[str, str]) -> str:
    return (
        "\n".join([header, *(f"{toml_key(key)} = {value}" for key, value in values.items())])
        if values
        else ""
    )


def _plain(mm: float) -> str:
    if abs(mm) < LEAST_WRITTEN:
        return "0"
    return f"{Decimal(repr(float(mm))):f}"


def _length(mm: float, unit: str) -> str:
    """Return a length as a number in ``unit`` where that reads back exactly, else as text in mm."""
    number = round(mm / UNIT_MM[unit], 6)
    if number * UNIT_MM[unit] == mm and parse_length(number, unit).mm == mm:
        return repr(number)
    return toml_text(f"{_plain(mm)} mm")


def _figure(figure: Figure, unit: str) -> str:
    """Return a figure as it was typed where that still reads the same, else from its numbers."""
    try:
        typed = parse_length(figure.text, unit)
    except UnitError:
        typed = None
    if typed is not None and (typed.mm, typed.sigma_mm) == (figure.mm, figure.sigma_mm):
        return toml_text(figure.text)
    if figure.sigma_mm is None:
        return _length(figure.mm, unit)
    return toml_text(f"{_plain(figure.mm)} mm +- {_plain(figure.sigma_mm)} mm")


def _garment(record: Record, unit: str) -> dict[str, str]:
    values = {"name": toml_text(record.name), "kind": toml_text(record.kind), "unit": toml_text(unit)}
    if record.size:
        values["size"] = toml_text(record.size)
    values["machine"] = toml_text(record.machine)
    values["for_child"] = "true" if record.for_child else "false"
    if not record.symmetric:
        values["symmetric"] = "false"
    for name, choices in record.finish.items():
        values |= {f"{name}_{what}": toml_text(choice) for what, choice in choices.items()}
    for name, lengths in record.finish_lengths.items():
        if "old_width" in lengths:
            values[f"{name}_finish_width"] = _length(lengths["old_width"], unit)
    return values


def photo_lines(photo: Photo, unit: str) -> str:
    """Return a ``[[photo]]`` of a garment file whose figures stand in ``unit``."""
    return _lines("[[photo]]", _photo(photo, unit))


def points_lines(entry: TracedPoints, unit: str) -> str:
    """Return a ``[[points]]`` of a garment file whose figures stand in ``unit``."""
    return _lines("[[points]]", _points(entry, unit))


def _photo(photo: Photo, unit: str) -> dict[str, str]:
    values = {"file": toml_text(photo.file)}
    values |= {key: toml_text(text) for key, text in (("face", photo.face), ("lay", photo.lay)) if text}
    if photo.thickness_mm is not None:
        values["thickness"] = _length(photo.thickness_mm, unit)
    return values


def _points(entry: TracedPoints, unit: str) -> dict[str, str]:
    at = ", ".join(f"[{_length(float(x), unit)}, {_length(float(y), unit)}]" for x, y in entry.at)
    values = {"piece": toml_text(entry.piece), "edge": toml_text(entry.edge)}
    if entry.lay:
        values |= {"frame": toml_text("free"), "lay": toml_text(entry.lay)}
    if entry.side:
        values["side"] = toml_text(entry.side)
    if entry.off_centre_mm != OFF_CENTRE:
        values["off_centre"] = _length(entry.off_centre_mm, unit)
    return values | {"at": f"[{at}]", "sigma": _length(entry.sigma_mm, unit)}


def _bands(record: Record, kind: Kind) -> Iterator[str]:
    for name, lengths in record.finish_lengths.items():
        values: dict[str, str] = {}
        if "band_cut_width" in lengths:
            values["cut_width"] = _length(lengths["band_cut_width"], record.unit)
        if "band_ratio" in lengths:
            values["ratio"] = repr(float(lengths["band_ratio"]))
        header = "[band]" if len(kind.finishes) == 1 else f"[band.{toml_key(name)}]"
        yield _lines(header, values)


def _fabric(fabric: Fabric) -> dict[str, str]:
    values = {"construction": toml_text(fabric.construction)}
    for way, stretch in (("across", fabric.stretch_across), ("along", fabric.stretch_along)):
        if stretch is not None:
            values[f"stretch_{way}"] = repr(float(stretch))
    return values


def _cloths(record: Record, unit: str) -> Iterator[str]:
    # the main cloth goes first: [cloth] cannot follow the tables inside it without looking odd
    for name in sorted(record.cloths, key=lambda n: n != "main"):
        header = "[cloth]" if name == "main" else f"[cloth.{toml_key(name)}]"
        yield _lines(header, _cloth(record.cloths[name], unit))


def _cloth(cloth: Cloth, unit: str) -> dict[str, str]:
    def rows(figures: Sequence[Sequence[float]]) -> str:
        return _list(_list(_length(mm, unit) for mm in row) for row in figures)

    values = {
        "width": _length(cloth.width_mm, unit),
        "folding": toml_text(cloth.folding),
        "nap": "true" if cloth.nap else "false",
    }
    for name, mm in (
        ("length", cloth.length_mm),
        ("fold_depth", cloth.fold_depth_mm),
        ("repeat_along", cloth.repeat_along_mm or None),
        ("repeat_across", cloth.repeat_across_mm or None),
        ("stripe", cloth.stripe_mm or None),
    ):
        if mm is not None:
            values[name] = _length(mm, unit)
    if cloth.shrinkage:
        values["shrinkage"] = repr(float(cloth.shrinkage))
    if cloth.price is not None:
        values["price"] = repr(float(cloth.price))
    if cloth.currency:
        values["currency"] = toml_text(cloth.currency)
    places = {
        "flaws": cloth.flaws,
        "flaws_across": cloth.flaws_across,
        "flaws_along": cloth.flaws_along,
        "outline": cloth.outline,
    }
    values |= {name: rows(figures) for name, figures in places.items() if figures}
    if cloth.holes:
        values["holes"] = _list(rows(hole) for hole in cloth.holes)
    if cloth.match:
        values["match"] = _list(toml_text(name) for name in cloth.match)
    return values


def _list(items: Iterable[str]) -> str:
    return f"[{', '.join(items)}]"


def _lean(value: float | str) -> str:
    return toml_text(value) if isinstance(value, str) else repr(float(value))


def _wearer(record: Record) -> dict[str, str]:
    values = {"name": toml_text(record.wearer.name)} if record.wearer.name else {}
    if record.wearer.head_mm is not None:
        values["head"] = _length(record.wearer.head_mm, record.unit)
    return values
