"""The errors that likesewn raises on purpose: one base, each also the nearest built-in.

A fault of what a person typed is a ``Problem``: what was found, where, what is allowed and what to do
next. Problems are collected, never stopped at the first; ``InputError`` carries them all.
"""

from dataclasses import asdict, dataclass

__all__ = ["InputError", "LikesewnError", "OutputError", "Problem", "error_data"]


class LikesewnError(Exception):
    """Base of every error that likesewn raises on purpose."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One fault of an input, with what a person needs in order to mend it.

    Attributes:
        message: What is wrong, as one sentence without a full stop.
        found: What was read, as it was written; empty when something is missing.
        file: Name of the input, or empty.
        line: 1-based line in the file, or 0 where no line applies.
        key: Dotted key, such as ``tape.chest_width``, or empty.
        allowed: What would be accepted.
        nearest: The nearest known name, where one is near.
        todo: What to do next, where that is more than using an allowed value.
    """

    message: str
    found: str = ""
    file: str = ""
    line: int = 0
    key: str = ""
    allowed: str = ""
    nearest: str = ""
    todo: str = ""

    def __str__(self) -> str:
        where = self.file
        if self.line:
            where = f"{where}, line {self.line}" if where else f"line {self.line}"
        if self.key:
            where = f"{where}, {self.key}" if where else self.key
        parts = [f"{where}: {self.message}" if where else self.message]
        if self.found:
            parts.append(f"found: {self.found}")
        if self.allowed:
            parts.append(f"allowed: {self.allowed}")
        if self.nearest:
            parts.append(f"did you mean {self.nearest}?")
        if self.todo:
            parts.append(self.todo)
        return "\n  ".join(parts)


class InputError(LikesewnError, ValueError):
    """What was given cannot be used; ``problems`` says why, all of it at once."""

    def __init__(self, *problems: Problem) -> None:
        self.problems = problems
        super().__init__("\n".join(str(problem) for problem in problems))


class OutputError(LikesewnError, OSError):
    """A result could not be written; nothing was left half-written."""


def error_data(error: LikesewnError) -> dict[str, dict[str, list[dict[str, str | int]]]]:
    """Return an error as plain data: the one shape in which errors leave the program as JSON."""
    problems = error.problems if isinstance(error, InputError) else (Problem(str(error)),)
    return {"error": {"problems": [asdict(problem) for problem in problems]}}
