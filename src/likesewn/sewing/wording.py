"""Fills the steps of a kind with a garment's own figures, and picks the steps that apply to it.

A step's text holds placeholders in braces: a name and its arguments, parted by colons, as in
``{seam:shoulder:left}``. A step's ``when`` holds conditions of the same form without braces, as in
``finish:neck:band``; all of them must hold for the step to appear. Both are closed sets: ``PLACEHOLDERS``
and ``CONDITIONS``.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from likesewn.errors import InputError, Problem
from likesewn.garment.kind import Kind, Step
from likesewn.sewing.about import edges_about
from likesewn.sewing.figures import Facts, Run, UnknownNameError
from likesewn.sewing.plan import StepText

__all__ = ["CONDITIONS", "PLACEHOLDERS", "Entry", "fill_steps"]

T = TypeVar("T")

_BRACES = re.compile(r"\{([^{}]*)\}|[{}]")
_LONGEST_FIXED = 100.0


@dataclass(frozen=True, slots=True)
class Entry(Generic[T]):
    """A placeholder or a condition.

    Attributes:
        arguments: What each of its arguments is.
        meaning: What it stands for.
        answer: Its answer for a garment, from ``Facts`` and the arguments; raises UnknownNameError where
            an argument names nothing of this garment.
    """

    arguments: tuple[str, ...]
    meaning: str
    answer: Callable[..., T]


def _one_of(name: str, options: Sequence[str], what: str) -> str:
    if name not in options:
        raise UnknownNameError(what, name, options)
    return name


def _fixed_length(facts: Facts, mm: str) -> tuple[Run, ...]:
    if not re.fullmatch(r"\d+(\.\d+)?", mm) or float(mm) > _LONGEST_FIXED:
        raise UnknownNameError("fixed length", mm, (f"a number of mm up to {_LONGEST_FIXED:g}",))
    return (Run(facts.short(float(mm)), figure=True),)


PLACEHOLDERS: Mapping[str, Entry[tuple[Run, ...]]] = {
    "measure": Entry(("measure",), "a measure of the finished garment", Facts.measure),
    "seam": Entry(("seam", "left or right"), "the length of one side of a seam", Facts.seam),
    "ease": Entry(("seam",), "a sentence on how the two sides of a seam compare", Facts.ease),
    "allowance": Entry(
        ("piece.edge, edge, seam or hem",), "an allowance, naming edges that differ", Facts.allowance
    ),
    "band": Entry(("opening", "figure"), "a figure of the band or binding there", Facts.band),
    "notch": Entry(("notch", "marks or along"), "what a matching point looks like, or where", Facts.notch),
    "stitch": Entry(("seam, neaten, hem or topstitch",), "the stitch for that use", Facts.stitch),
    "length": Entry(("mm",), "a fixed length, in the record's unit", _fixed_length),
}
"""The closed set of placeholders that a step's text may hold."""


def _machine(facts: Facts, name: str) -> bool:
    return facts.record.machine == _one_of(name, ("overlock", "zigzag"), "machine")


def _construction(facts: Facts, name: str) -> bool:
    return facts.record.fabric.construction == _one_of(name, ("knit", "woven"), "construction")


def _finish(facts: Facts, opening: str, finish: str) -> bool:
    finishes = {f.name: f.finishes for f in facts.pattern.kind.finishes}
    allowed = finishes[_one_of(opening, tuple(finishes), "opening")]
    wanted = _one_of(finish, allowed, "finish")
    chosen = {rule.name: rule.finish for rule in facts.cut_list.finishes}
    return chosen.get(opening, allowed[0]) == wanted


def _opened(facts: Facts, piece: str) -> bool:
    kind = facts.pattern.kind
    name = _one_of(piece, tuple(p.name for p in kind.pieces), "piece")
    return kind.piece(name).on_fold and not facts.pattern.piece(name).on_fold


def _halves(facts: Facts, how: str) -> bool:
    differ = bool(facts.pattern.kind.halves)
    return _one_of(how, ("alike", "differ"), "way in which halves compare") == (
        "differ" if differ else "alike"
    )


CONDITIONS: Mapping[str, Entry[bool]] = {
    "machine": Entry(("overlock or zigzag",), "that machine is at hand", _machine),
    "construction": Entry(("knit or woven",), "the new cloth is made that way", _construction),
    "finish": Entry(("opening", "finish"), "the opening is finished that way", _finish),
    "opened": Entry(("piece",), "the piece was opened out, because its halves differ", _opened),
    "folded": Entry(("piece",), "the piece was not opened out", lambda f, piece: not _opened(f, piece)),
    "halves": Entry(("alike or differ",), "the garment's right and left are alike, or not", _halves),
    "child": Entry((), "the garment is for a child", lambda facts: facts.record.for_child),
}
"""The closed set of conditions that a step's ``when`` may name."""


def _answer(known: Mapping[str, Entry[T]], what: str, facts: Facts, text: str) -> T:
    name, *arguments = text.split(":")
    if name not in known:
        raise UnknownNameError(what, name, known)
    entry = known[name]
    if len(arguments) != len(entry.arguments):
        raise UnknownNameError(what, text, (":".join((name, *(f"<{a}>" for a in entry.arguments))),))
    return entry.answer(facts, *arguments)


def _problem(kind: Kind, number: int, key: str, found: str, fault: UnknownNameError) -> Problem:
    return Problem(
        f"the step {kind.steps[number].title!r} cannot be written: {fault.message}",
        found=found,
        file=f"{kind.name}.toml",
        key=f"steps.{number + 1}.{key}",
        allowed=fault.allowed,
        nearest=fault.nearest,
    )


def _applies(facts: Facts, number: int, step: Step, problems: list[Problem]) -> bool:
    applies = True
    for condition in step.when:
        try:
            applies &= _answer(CONDITIONS, "condition", facts, condition)
        except UnknownNameError as fault:
            problems.append(_problem(facts.pattern.kind, number, "when", condition, fault))
    return applies


def _runs(facts: Facts, number: int, text: str, problems: list[Problem]) -> list[Run]:
    runs: list[Run] = []
    end = 0
    for match in _BRACES.finditer(text):
        runs.append(Run(text[end : match.start()]))
        end = match.end()
        try:
            # A brace without its partner matches with no name in it, and is refused like a wrong name.
            runs.extend(_answer(PLACEHOLDERS, "placeholder", facts, match[1] or match[0]))
        except UnknownNameError as fault:
            problems.append(_problem(facts.pattern.kind, number, "text", match[0], fault))
    return [*runs, Run(text[end:])]


def _step_text(facts: Facts, number: int, step: Step, runs: Sequence[Run]) -> StepText:
    text = ""
    figures: list[tuple[int, int]] = []
    for run in runs:
        if run.figure:
            figures.append((len(text), len(text) + len(run.text)))
        text += run.text
    placeholders = [match[1].split(":") for match in _BRACES.finditer(step.text) if match[1]]
    return StepText(number, step.title, text, tuple(figures), edges_about(facts, placeholders))


def fill_steps(facts: Facts) -> tuple[StepText, ...]:
    """Return the steps of the garment's kind that apply to it, numbered from 1, their text filled.

    Args:
        facts: The garment.

    Raises:
        InputError: Steps of the kind name placeholders, conditions or parts that there are not; all such
            faults at once, each with the step and what is allowed.
    """
    problems: list[Problem] = []
    written: list[tuple[Step, list[Run]]] = []
    for number, step in enumerate(facts.pattern.kind.steps):
        if _applies(facts, number, step, problems):
            written.append((step, _runs(facts, number, step.text, problems)))
    if problems:
        raise InputError(*problems)
    return tuple(_step_text(facts, n, step, runs) for n, (step, runs) in enumerate(written, 1))
