"""From the bytes of a file to TOML values, with plain words for what is not TOML.

The standard reader stops at the first fault and names it in a programmer's words. Here the line is
looked at again for what people usually mean by it, and lines that merely lack quotes are passed over
so that all of them are told at once.
"""

import re
import tomllib
from typing import NoReturn

from likesewn.errors import InputError, Problem
from likesewn.garment.toml_lines import TomlLines, dotted, find_lines

__all__ = ["MOST_BYTES", "load_toml", "shortened"]

MOST_BYTES = 2_000_000
"""Five times what the longest list of points takes; more is not a garment file."""

MOST_TRIES = 20
"""Faulty lines told at once; each costs one more reading."""

LONGEST_RETRY = 200_000
"""Letters beyond which reading again for further faults would be slow."""

_PLACE = re.compile(r"\(at line (\d+), column \d+\)")
_ASSIGNMENT = re.compile(r"\s*(?P<key>[^=\[#\"']+?)\s*=\s*(?P<value>.*?)\s*$")
_TODO = 'a line is [table], key = value or # a remark; text and lengths with a unit stand in "quotes"'


def load_toml(data: bytes | str, file: str = "") -> tuple[dict[str, object], TomlLines]:
    """Read TOML.

    Args:
        data: The file's bytes (UTF-8, with or without a byte order mark) or its text.
        file: Its name, for messages.

    Returns:
        The values, and the line of each key.

    Raises:
        InputError: It is not text, too large, nested too deep, or not TOML; with all faults that can
            be told apart.
    """
    text = _decode(data, file)
    lines = find_lines(text)
    if lines.too_deep:
        _refuse(file, lines.too_deep, "brackets or dotted names are nested too deep for a garment file")
    problems: list[Problem] = []
    rows = text.split("\n")
    for _ in range(MOST_TRIES):
        try:
            values = tomllib.loads("\n".join(rows))
        except tomllib.TOMLDecodeError as error:
            found = re.search(_PLACE, str(error))
            line = int(found[1]) if found else len("\n".join(rows).rstrip().split("\n"))
            if lines.doubled:
                raise InputError(*(_doubled(file, *d) for d in lines.doubled[:MOST_TRIES])) from None
            problem, blanked = _fault(file, rows, line, lines)
            problems.append(problem)
            if not blanked or len(text) > LONGEST_RETRY:
                break
            rows[line - 1] = ""
        except ValueError:  # Python reads no whole number of many thousand digits
            _refuse(file, 0, "a number here has thousands of digits")
        else:
            if not problems:
                return values, lines
            break
    raise InputError(*problems)


def _refuse(file: str, line: int, message: str, todo: str = "") -> NoReturn:
    raise InputError(Problem(message, file=file, line=line, todo=todo))


def _decode(data: bytes | str, file: str) -> str:
    if len(data) > MOST_BYTES:
        _refuse(
            file,
            0,
            f"this is too large for a garment file: {len(data) / 1e6:.1f} MB, where at most "
            f"{MOST_BYTES / 1e6:.0f} MB make sense",
        )
    try:
        raw = data.encode("utf-8") if isinstance(data, str) else data
        if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
            _refuse(file, 1, "this text is saved as UTF-16", "save it again as UTF-8")
        text = raw.removeprefix(b"\xef\xbb\xbf").decode("utf-8")
    except UnicodeError as error:
        start = error.start if isinstance(error, UnicodeDecodeError | UnicodeEncodeError) else 0
        line = data[:start].count("\n" if isinstance(data, str) else b"\n") + 1  # pyright: ignore[reportArgumentType]
        _refuse(file, line, "this is not text in UTF-8", "save it again as plain text in UTF-8")
    if "\0" in text:
        _refuse(
            file, text[: text.index("\0")].count("\n") + 1, "this is not a text file: it holds a zero byte"
        )
    if not text.strip():
        _refuse(file, 0, "this file is empty", "likesewn new KIND writes one to fill in")
    return text.replace("\r\n", "\n")


def _doubled(file: str, path: tuple[str | int, ...], first: int, second: int) -> Problem:
    return Problem(
        f"this is here twice; the first time is on line {first}",
        file=file,
        line=second,
        key=dotted(path),
        todo="keep one of them",
    )


def shortened(text: str, most: int = 60) -> str:
    """Return text fit to be shown in one line: no control characters, at most about ``most`` letters."""
    clean = "".join(c if c.isprintable() else "�" for c in text[: most + 1])
    return clean if len(clean) <= most else f"{clean[: most - 1]}…"


def _fault(file: str, rows: list[str], line: int, lines: TomlLines) -> tuple[Problem, bool]:
    """Return the fault of a line, and whether it is one that leaves the other lines readable."""
    row = rows[line - 1].strip() if 0 < line <= len(rows) else ""
    match = _ASSIGNMENT.match(row)
    if match:
        told = _value_fault(match["key"], match["value"])
        if told:
            message, todo = told
            key = match["key"] if " " not in match["key"] else ""
            return Problem(message, shortened(row), file, line, shortened(key), todo=todo), True
    if lines.unclosed:
        row = rows[lines.unclosed - 1].strip()
        return Problem("a bracket that opens here is not closed", shortened(row), file, lines.unclosed), False
    if row.startswith("["):
        message = "the name of this table is not written as TOML wants it"
        return Problem(message, shortened(row), file, line, allowed="[tape], [[points]]"), False
    return Problem("this line is not TOML", shortened(row), file, line, todo=_TODO), False


def _value_fault(key: str, value: str) -> tuple[str, str] | None:
    """Return what is wrong with ``key = value`` and what to write instead, where that is plain."""
    bare = value.split(" #", maxsplit=1)[0].strip()
    told: tuple[str, str] | None = None
    if " " in key:
        told = "a key has no spaces", shortened(f"write {'_'.join(key.split())} = {value}")
    elif not value or value.startswith("#"):
        told = "there is no value after the equals sign", ""
    elif value.startswith('"') and value.endswith('""') and value.count('"') == 3:
        told = "an inch sign ends the text too early", f'write {key} = "{shortened(value[1:-2])} in"'
    elif bare.lower() in {"true", "false", "yes", "no"}:
        small = "true" if bare.lower() in {"true", "yes"} else "false"
        told = "true and false are written in small letters, without quotes", f"write {key} = {small}"
    elif re.match(r"[\w+\-.½¼¾±⅛⅜⅝⅞]", bare) and '"' not in bare:
        told = "this value needs quotes", f'write {key} = "{shortened(bare)}"'
    elif value[0] in "\"'" and value.count(value[0]) == 1:
        told = "the quotes are not closed", f"write {key} = {shortened(value)}{value[0]}"
    return told
