"""Cloth from a few measures alone, before anything is traced.

The whole way to a lay is walked with what stands in for the measures that were not taken, and the trade's
rule is given beside it.
"""

import difflib
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from likesewn.cut import cut
from likesewn.cut.cutlist import CutList
from likesewn.errors import InputError, Problem
from likesewn.garment import Assumption, Cloth, Fabric, Figure, Finding, Kind, Record, Weight
from likesewn.garment.keys import missing_measures
from likesewn.garment.kind import Measure
from likesewn.lay.board import Tables
from likesewn.lay.buy import IMPERIAL, buy_text, length_rule, shop_steps
from likesewn.lay.choices import Choices
from likesewn.lay.effort import Effort
from likesewn.lay.laying import lay
from likesewn.lay.plan import Plan
from likesewn.lay.remarks import folding_words
from likesewn.truing import Untrued, true
from likesewn.units import MM_PER_INCH, format_length

__all__ = ["SELVAGES", "Estimate", "WidthRow", "estimate"]

SELVAGES = 40.0
"""What a cloth's labelled width loses to its two selvages, mm: published guides give 30 to 40."""

COMMON = ("folded", "selvages to the middle", "open")
"""Foldings that the table of widths chooses from."""

FEW = 20
"""Steps of the search for one row of that table."""

METRIC_WIDTHS = (1150.0, 1400.0, 1500.0, 1600.0)
"""Widths in which cloth is commonly sold, mm (common practice, no source)."""

IMPERIAL_WIDTHS = (45 * MM_PER_INCH, 54 * MM_PER_INCH, 60 * MM_PER_INCH)
"""Widths in which cloth is commonly sold by the yard: 45, 54 and 60 in."""


@dataclass(frozen=True, slots=True)
class WidthRow:
    """What cloth of a common width needs, folded in the way that takes least.

    Attributes:
        label_mm: Width as labelled in the shop, selvages included, mm.
        usable_mm: Width that can be used, mm.
        folding: The folding that takes least, or empty where no folding takes the pieces.
        length_mm: Length of the lay, mm; 0 where none fits.
        buy_mm: Length to buy, mm; 0 where none fits.
    """

    label_mm: float
    usable_mm: float
    folding: str
    length_mm: float
    buy_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Estimate:
    """Cloth to buy, from a few measures.

    Attributes:
        message: The answer in words.
        plan: The lay on the cloth that was asked about.
        buy_mm: Length to buy, mm; 0 where the pieces do not fit.
        rule_mm: Length by the trade's rule, mm, or None where the cloth is too narrow for it.
        widths: What cloth of common widths needs.
        assumptions: What stood in for measures that were not taken.
        findings: What was noticed on the way.
    """

    message: str
    plan: Plan
    buy_mm: float
    rule_mm: float | None
    widths: tuple[WidthRow, ...]
    assumptions: tuple[Assumption, ...]
    findings: tuple[Finding, ...]


def estimate(
    kind: Kind,
    tape: Mapping[str, Figure],
    cloth: Cloth,
    *,
    unit: str = "cm",
    fabric: Fabric | None = None,
    shrinkage: float = 0.0,
) -> Estimate:
    """Return how much of ``cloth`` to buy for a garment of which only a few measures are known.

    Args:
        kind: The kind of garment.
        tape: Measures by key. Those that the kind calls needed must be there; others stand in for
            themselves where they are missing.
        cloth: The cloth: its usable width, selvages left out, and how it will be folded.
        unit: Unit that the person measures in.
        fabric: The fabric, or None for the usual one.
        shrinkage: Share of its length that the cloth loses in its first wash.

    Raises:
        InputError: When a needed measure is missing, a measure is unknown or out of its range, the measures
            cannot belong to one garment, or the cloth cannot be used.
    """
    problems = [*_missing(kind, tape), *_unusable(kind, tape, unit)]
    if not (math.isfinite(shrinkage) and 0 <= shrinkage < 1):
        problems.append(
            Problem(
                "the shrinkage cannot be right",
                found=f"{shrinkage}",
                key="shrinkage",
                allowed="a share of at least 0 and below 1, such as 0.05 or 5 %",
            )
        )
    if problems:
        raise InputError(*problems)
    record = Record(
        name=kind.title,
        kind=kind.name,
        unit=unit,
        tape=tape,
        cloths={"main": cloth},
        fabric=fabric or Fabric(),
    )
    given = ", ".join(f"{key} {_written(figure, unit)}" for key, figure in tape.items())
    pattern = true(record, kind)
    if isinstance(pattern, Untrued):
        raise InputError(
            Problem(
                f"no cloth can be worked out, for {pattern.reason.rstrip('.')}",
                found=given,
            )
        )
    stops = [finding for finding in pattern.findings if finding.weight is Weight.STOP]
    if stops:
        raise InputError(
            *(
                Problem(
                    f"no cloth can be worked out from these measures: {stop.message}",
                    found=given,
                    todo=stop.todo,
                )
                for stop in stops
            )
        )
    measured = {measure.key: measure.value_mm for measure in pattern.measures}
    rule = length_rule(kind, measured)
    cut_list = _from_one_cloth(cut(pattern, record))
    tables = Tables()
    choices = Choices(unit, shrinkage=shrinkage)
    plan = lay(cut_list, {"main": cloth}, choices, rule_mm=rule, tables=tables)[0]
    return Estimate(
        message=_message(plan, unit, shrinkage),
        plan=plan,
        buy_mm=plan.buy_mm,
        rule_mm=plan.rule_mm,
        widths=_widths(cut_list, cloth, unit, shrinkage, tables),
        assumptions=pattern.assumptions,
        findings=(*pattern.findings, *cut_list.findings, *plan.findings),
    )


def _from_one_cloth(cut_list: CutList) -> CutList:
    """Return the cut list with every piece cut from the main cloth."""
    return replace(cut_list, pieces=tuple(replace(piece, cloth="main") for piece in cut_list.pieces))


def _missing(kind: Kind, tape: Mapping[str, Figure]) -> Iterator[Problem]:
    for key, measure in missing_measures(kind, set(tape)):
        yield Problem(
            f"{measure.title.lower()} is needed to work out the cloth",
            key=key,
            allowed=f"a length such as {key} = 50 cm",
            todo=f"How to take it: {measure.how}",
        )


def _unusable(kind: Kind, tape: Mapping[str, Figure], unit: str) -> Iterator[Problem]:
    keys = kind.tape_keys()
    for key, figure in tape.items():
        measure = keys.get(key)
        if measure is None:
            near = difflib.get_close_matches(key, kind.measures, 1)
            yield Problem(
                f"{kind.title} has no such measure",
                found=key,
                key=key,
                allowed=", ".join(kind.measures),
                nearest=near[0] if near else "",
            )
        elif not measure.least <= figure.mm <= measure.most:
            yield _out_of_range(key, figure, measure, unit)


def _out_of_range(key: str, figure: Figure, measure: Measure, unit: str) -> Problem:
    return Problem(
        f"{measure.title.lower()} cannot be right",
        found=_written(figure, unit),
        key=key,
        allowed=f"{format_length(measure.least, unit)} to {format_length(measure.most, unit)}",
        todo=f"How to take it: {measure.how}",
    )


def _written(figure: Figure, unit: str) -> str:
    return figure.text or (format_length(figure.mm, unit) if math.isfinite(figure.mm) else f"{figure.mm}")


def _message(plan: Plan, unit: str, shrinkage: float) -> str:
    wide = f"{format_length(plan.cloth.width_mm, unit)} wide"
    if plan.stopped:
        stops = [finding for finding in plan.findings if finding.weight is Weight.STOP]
        return " ".join(f"{stop.message} {stop.todo}" for stop in stops)
    # The other system is rounded up too, so that neither figure is too short.
    other = "cm" if unit in IMPERIAL else "in"
    also = buy_text(shop_steps(plan.buy_mm, other), other)
    purposes = "straightening both ends and for the shop's rounding"
    if shrinkage:
        purposes = f"what the wash takes, {purposes}"
    words = (
        f"Buy {buy_text(plan.buy_mm, unit)} ({also}) of cloth {wide}."
        f" The pieces take up {format_length(plan.length_mm, unit)} of it {folding_words(plan.folding)};"
        f" the rest is for {purposes}."
    )
    if plan.rule_mm is not None:
        words += f" The rule of thumb for wide cloth says {format_length(plan.rule_mm, unit)}."
    return words


def _widths(
    cut_list: CutList, cloth: Cloth, unit: str, shrinkage: float, tables: Tables
) -> tuple[WidthRow, ...]:
    """Return what cloth of common widths needs, each folded in the way that takes least."""
    choices = Choices(unit, Effort(steps=FEW), shrinkage=shrinkage)
    rows: list[WidthRow] = []
    best: Plan | None = None
    for label in IMPERIAL_WIDTHS if unit in IMPERIAL else METRIC_WIDTHS:
        usable = label - SELVAGES
        for folding in COMMON:
            folded = replace(cloth, width_mm=usable, folding=folding)
            (plan,) = lay(cut_list, {"main": folded}, choices, compare=False, tables=tables)
            # A lay found for narrower cloth does on wider cloth too, so that the best one is kept.
            if not plan.stopped and (best is None or _ease(plan) < _ease(best)):
                best = plan
        if best is None:
            rows.append(WidthRow(label, usable, "", 0.0, 0.0))
        else:
            rows.append(WidthRow(label, usable, best.folding, best.length_mm, best.buy_mm))
    return tuple(rows)


def _ease(plan: Plan) -> tuple[float, bool, float]:
    """Return what to choose a lay by: least cloth bought, then the usual folding, then the shortest."""
    return plan.buy_mm, plan.folding != "folded", plan.length_mm
