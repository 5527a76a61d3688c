"""Where each key of a TOML text stands: its line, which the standard reader does not keep.

The scan is made for messages. It follows TOML's grammar closely enough to give the right line for any
text that the standard reader accepts, and never fails or hangs on one that it refuses; it looks at each
letter a bounded number of times and does not recurse.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

__all__ = ["DEEPEST", "TomlLines", "TomlPath", "dotted", "find_lines"]

DEEPEST = 20
"""Nesting beyond any garment file (which needs 4), and far below where a reader runs out of stack."""

KEPT = 6
"""Names of a path that are kept: a file that nests deeper than any key needs costs no more memory."""

MOST_LINES = 200_000
"""Places that are remembered: enough for the longest list of points, and small beside the text."""

TomlPath = tuple[str | int, ...]
"""Names of tables and keys, and positions in lists counted from 0, from the outside in."""

_WORD = re.compile(
    r"""
    (?P<space>[ \t\r]+)
  | (?P<newline>\n)
  | (?P<comment>\#[^\n]*)
  | (?P<text>\"{3}(?:[^"\\]|\\.|"(?!""))*+\"{3,5} | '{3}(?:[^']|'(?!''))*+'{3,5}
        | "(?:[^"\\\n]|\\.)*+" | '[^'\n]*+')
  | (?P<mark>[\[\]{},=.])
  | (?P<bare>[^\s\[\]{},=#"'.]+)
    """,
    re.VERBOSE | re.DOTALL,
)


@dataclass(slots=True)
class TomlLines:
    """Lines of a TOML text, counted from 1.

    Attributes:
        of: Line of each table, key and list element by path; the first where there are several.
        doubled: Paths that are given twice, with both lines.
        unclosed: Line of the outermost bracket that is not closed, or 0.
        too_deep: Line at which brackets or dotted names nest more than ``DEEPEST`` deep, or 0.
    """

    of: dict[TomlPath, int] = field(default_factory=dict[TomlPath, int])
    doubled: list[tuple[TomlPath, int, int]] = field(default_factory=list[tuple[TomlPath, int, int]])
    unclosed: int = 0
    too_deep: int = 0

    def note(self, path: TomlPath, line: int) -> int:
        """Remember the line of a path unless one is known, and return the one that is."""
        if len(self.of) >= MOST_LINES and path not in self.of:
            return line
        return self.of.setdefault(path, line)

    def near(self, path: TomlPath) -> int:
        """Return the line of a path, or of the nearest table around it; 0 where there is none."""
        while path:
            line = self.of.get(path[:KEPT])
            if line:
                return line
            path = path[:-1]
        return 0


def dotted(path: TomlPath) -> str:
    """Write a path as a dotted key: ``tape.chest_width``, ``points[2].at[1]``, counting from 1."""
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            text += f".{part}" if text else part
    return text


def find_lines(text: str) -> TomlLines:
    """Scan a TOML text for the line of each key."""
    scan = _Scan()
    for kind, word, line in _words(text):
        if not scan.take(kind, word, line):
            break
    if scan.boxes:
        scan.lines.unclosed = scan.boxes[0].line
    return scan.lines


def _words(text: str) -> Iterator[tuple[str, str, int]]:
    """Yield kind, text and line of each word or sign; stop at a text that does not end."""
    at, line = 0, 1
    while match := _WORD.match(text, at):
        kind = match.lastgroup or ""
        word = match[0]
        if kind not in {"space", "comment"}:
            yield kind, word, line
        line += word.count("\n")
        at = match.end()


@dataclass(slots=True)
class _Box:
    """A list or an inline table that is open: ``index`` counts a list's elements, -1 for a table."""

    path: TomlPath
    index: int
    line: int


class _Scan:
    """Reads words and signs one by one: headers, keys, then values with the boxes that are open in them."""

    def __init__(self) -> None:
        self.lines = TomlLines()
        self.table: TomlPath = ()
        self.entries: dict[TomlPath, int] = {}  # number of [[name]] headers so far
        self.boxes: list[_Box] = []
        self.names: list[str] = []
        self.header = 0  # brackets that opened the header being read
        self.in_value = False
        self.value_path: TomlPath = ()
        self.explicit: set[TomlPath] = set()

    def take(self, kind: str, word: str, line: int) -> bool:
        """Take one word or sign; False when there is no use in going on."""
        if kind == "newline":
            if not self.boxes:
                self._end_line(line)
        elif self.in_value:
            self._value(word, line)
        else:
            self._key(kind, word, line)
        return not self.lines.too_deep

    def _end_line(self, line: int) -> None:
        if self.header:
            self._open_table(line)
        self.names, self.header, self.in_value = [], 0, False

    def _key(self, kind: str, word: str, line: int) -> None:
        if word == "[" and not self.names:
            self.header += 1
        elif word == "]" and self.header:
            if self.names:
                self._open_table(line)
                self.names, self.header = [], 0
        elif word == "=":
            base = self.boxes[-1].path if self.boxes else self.table
            self.value_path = self._path(base, line)
            self._note(self.value_path, line)
            self.names, self.in_value = [], True
        elif word in ",}" and self.boxes:
            self.names = []
            self.in_value = True
            self._value(word, line)
        elif kind in {"bare", "text"}:
            self.names.append(_name(word))
            if len(self.names) > DEEPEST:
                self.lines.too_deep = line

    def _path(self, base: TomlPath, line: int) -> TomlPath:
        """Return the path of the names just read, inside ``base``, and note the tables it passes."""
        path = base
        for name in self.names[:-1]:
            path = (*path, name)[:KEPT]
            self.lines.note(path, line)
        return (*path, *self.names[-1:])[:KEPT]

    def _note(self, path: TomlPath, line: int) -> None:
        first = self.lines.note(path, line)
        if path in self.explicit and len(path) < KEPT:
            self.lines.doubled.append((path, first, line))
        if len(self.explicit) < MOST_LINES:
            self.explicit.add(path)

    def _open_table(self, line: int) -> None:
        path: TomlPath = ()
        last = len(self.names) - 1
        for i, name in enumerate(self.names):
            path = (*path, name)[:KEPT]
            if i < last:
                self.lines.note(path, line)
                if path in self.entries:
                    path = (*path, self.entries[path] - 1)[:KEPT]
        if self.header > 1:
            self.lines.note(path, line)
            self.entries[path] = self.entries.get(path, 0) + 1
            path = (*path, self.entries[path] - 1)[:KEPT]
        if path:
            self._note(path, line)
        self.table = path

    def _value(self, word: str, line: int) -> None:
        box = self.boxes[-1] if self.boxes else None
        if word in "]}" and box:
            self.boxes.pop()
            self.in_value = True
        elif word == "," and box:
            if box.index < 0:
                self.in_value = False
            else:
                box.index += 1
                self.value_path = (*box.path, box.index)[:KEPT]
        else:
            if box and box.index >= 0:
                self.lines.note(self.value_path, line)
            if word in "[{":
                self._open_box(word, line)

    def _open_box(self, word: str, line: int) -> None:
        self.boxes.append(_Box(self.value_path, 0 if word == "[" else -1, line))
        if len(self.boxes) > DEEPEST:
            self.lines.too_deep = line
        if word == "[":
            self.value_path = (*self.value_path, 0)[:KEPT]
        else:
            self.in_value = False


def _name(word: str) -> str:
    """Return a key without its quotes; escapes stay as they are written, which serves for messages."""
    return word[1:-1] if word[0] in "\"'" else word
