"""The whole job: a record goes through every stage and comes out as files.

``run`` does the work and ``files`` renders it; ``Stages`` does it stage by stage, as far as it is asked. None
touches the disk; the clock is handed in, since only the edges of the program may read one.
"""

import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from copy import copy
from dataclasses import dataclass, fields, replace
from datetime import date
from functools import cached_property
from typing import Any

import numpy as np

from likesewn.cut import CutList, CutPiece, cut
from likesewn.garment import Cloth, Edge, Finding, Kind, Pattern, Record, TracedPoints, Weight
from likesewn.garment.finding import finding_data
from likesewn.garment.matching import match_points
from likesewn.geometry import Path, area
from likesewn.lay import (
    Choices,
    Effort,
    Plan,
    alike_pairs,
    buy_text,
    lay,
    leans_of,
    length_rule,
    price_text,
    verify,
)
from likesewn.sewing import SewingPlan, plan_sewing
from likesewn.truing import Checks, Explained, Untrued, explain

__all__ = [
    "Job",
    "Stages",
    "choices_of",
    "cloths_of",
    "files",
    "finding_data",
    "lay_files",
    "lay_out",
    "prove",
    "run",
    "summary",
    "trued_alike",
    "weightiest_first",
]

Clock = Callable[[], float]


@dataclass(frozen=True, slots=True)
class Job:
    """Everything that the stages made of a record.

    Attributes:
        record: The record.
        kind: Its kind, opened out where the two halves are kept as they differ.
        today: The date printed on what was made.
        explained: The trued pattern, with how sure it is, what truing moved and what to measure next.
        cut_list: What to cut.
        plans: How it lies on the cloth.
        sewing: How it is sewn.
        findings: What all stages have to say, the weightiest first.
        elapsed: Seconds by stage.
    """

    record: Record
    kind: Kind
    today: date
    explained: Explained
    cut_list: CutList
    plans: tuple[Plan, ...]
    sewing: SewingPlan
    findings: tuple[Finding, ...]
    elapsed: Mapping[str, float]

    @property
    def pattern(self) -> Pattern:
        """The trued pattern."""
        return self.explained.pattern

    @property
    def stopped(self) -> bool:
        """True when something found makes the result impossible to sew."""
        return any(finding.weight is Weight.STOP for finding in self.findings)


class _Timer:
    def __init__(self, clock: Clock) -> None:
        self.clock = clock
        self.elapsed: dict[str, float] = {}

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        started = self.clock()
        yield
        self.elapsed[name] = self.clock() - started


def cloths_of(record: Record, cut_list: CutList) -> dict[str, Cloth]:
    """Return the record's cloths; a cloth that only pieces name is taken to be like the first."""
    cloths = dict(record.cloths) or {"main": Cloth()}
    for name in {piece.cloth for piece in cut_list.pieces} - set(cloths):
        cloths[name] = next(iter(cloths.values()))
    return cloths


def choices_of(record: Record, kind: Kind, cut_list: CutList, effort: Effort | None = None) -> Choices:
    """Return what a record chooses for its lays; without an effort the search is quick."""
    return Choices(
        unit=record.unit,
        effort=effort or Effort(),
        leans=leans_of(record.grain),
        pairs=alike_pairs(cut_list),
        points=match_points(kind),
        file=record.file,
        lines=record.lines,
    )


def lay_out(
    cut_list: CutList,
    record: Record,
    kind: Kind,
    *,
    rule_mm: float | None = None,
    effort: Effort | None = None,
) -> tuple[Plan, ...]:
    """Lay a garment's pieces on the cloths that its record describes; see ``likesewn.lay.lay``."""
    choices = choices_of(record, kind, cut_list, effort)
    return lay(cut_list, cloths_of(record, cut_list), choices, rule_mm=rule_mm)


def prove(plans: Iterable[Plan], cut_list: CutList, record: Record, kind: Kind) -> list[Finding]:
    """Return what a check from scratch finds wrong with plans; those that are stopped lay nothing."""
    leans, points = leans_of(record.grain), match_points(kind)
    there = [plan for plan in plans if not plan.stopped]
    return [fault for plan in there for fault in verify(plan, cut_list, leans=leans, points=points)]


NOT_TRUED = frozenset(
    {
        "name",
        "size",
        "photos",
        "allowances",
        "finish",
        "finish_lengths",
        "fabric",
        "cloths",
        "grain",
        "wearer",
        "machine",
        "for_child",
        "lines",
        "file",
    }
)
"""What a record says that truing does not read; it is for the stages after it."""


def trued_alike(one: Record, other: Record) -> bool:
    """Say whether two records say the same in all that truing reads."""
    plain = [f.name for f in fields(Record) if f.name not in NOT_TRUED and f.name != "points"]
    return all(getattr(one, name) == getattr(other, name) for name in plain) and (
        len(one.points) == len(other.points)
        and all(_same_points(a, b) for a, b in zip(one.points, other.points, strict=True))
    )


def _same_points(one: TracedPoints, other: TracedPoints) -> bool:
    said = [f.name for f in fields(TracedPoints) if f.name != "at"]
    return all(getattr(one, name) == getattr(other, name) for name in said) and np.array_equal(
        one.at, other.at
    )


class Stages:
    """The stages of one record, each done once, when it is first asked for.

    Attributes:
        record: What was observed and chosen.
        kind: The garment's kind.
        today: The date to print on the pieces and pages.
        explained: The trued pattern with all that can be told of it, or why the record cannot be trued.
        elapsed: Seconds by stage, for the stages that are done.
    """

    def __init__(
        self, record: Record, kind: Kind, *, today: date, clock: Clock, effort: Effort | None = None
    ) -> None:
        """Note what is to be done.

        Args:
            record: What was observed and chosen.
            kind: The garment's kind.
            today: The date to print.
            clock: Seconds from any fixed moment, for the times of the stages.
            effort: How hard to look for a short lay; None for a quick search.
        """
        self.record, self.kind, self.today = record, kind, today
        self._effort = effort
        self._timer = _Timer(clock)
        self.elapsed: Mapping[str, float] = self._timer.elapsed

    @cached_property
    def explained(self) -> Explained | Untrued:  # noqa: D102 - said with the class
        with self._timer.stage("true"):
            return explain(self.record, self.kind)

    @property
    def _trued(self) -> Explained:
        if isinstance(self.explained, Untrued):
            raise LookupError(f"there is no pattern: {self.explained.reason}")  # noqa: TRY004 - not a wrong type
        return self.explained

    @cached_property
    def cut_list(self) -> CutList:
        """What to cut; LookupError where the record cannot be trued, as for all that follow."""
        pattern = self._trued.pattern
        with self._timer.stage("cut"):
            return cut(pattern, self.record, today=self.today)

    @cached_property
    def rule_mm(self) -> float | None:
        """The trade's rule for the cloth that this garment takes, mm, or None where there is none."""
        return length_rule(self.kind, {m.key: m.value_mm for m in self._trued.pattern.measures})

    @cached_property
    def plans(self) -> tuple[Plan, ...]:
        """How the pieces lie on the cloth."""
        cut_list, kind = self.cut_list, self._trued.pattern.kind
        with self._timer.stage("lay"):
            return lay_out(cut_list, self.record, kind, rule_mm=self.rule_mm, effort=self._effort)

    @cached_property
    def proofs(self) -> tuple[Finding, ...]:
        """What a check from scratch finds wrong with the plans."""
        return tuple(prove(self.plans, self.cut_list, self.record, self._trued.pattern.kind))

    @cached_property
    def unprintable(self) -> tuple[Finding, ...]:
        """What is found of letters that the PDF pages cannot show."""
        cut_list = self.cut_list
        texts = [self.record.name, *(plan.cloth_name for plan in self.plans)]
        texts += [text for piece in cut_list.pieces for text in (piece.title, *piece.labels)]
        if "".join(texts).isascii():
            return ()
        from likesewn.publish.typesetting import unprintable  # noqa: PLC0415 - loaded only where it is needed

        return unprintable(texts)

    @cached_property
    def sewing(self) -> SewingPlan:
        """How it is sewn."""
        plans = self.plans
        with self._timer.stage("sew"):
            return plan_sewing(self._trued.pattern, self.cut_list, self.record, plans)

    def take_over(self, earlier: "Stages") -> None:
        """Take what truing made of an earlier record, where this one says the same to truing."""
        done = vars(earlier).get("explained")
        if done is not None and self.kind == earlier.kind and trued_alike(self.record, earlier.record):
            vars(self)["explained"] = done

    def with_plans(self, plans: tuple[Plan, ...]) -> "Stages":
        """Return the same stages with other plans, such as those of a longer search."""
        other = copy(self)
        for later in ("proofs", "sewing"):
            vars(other).pop(later, None)
        vars(other)["plans"] = plans
        return other

    def job(self) -> Job | Untrued:
        """Return all of it, or why the record cannot be trued."""
        explained = self.explained
        if isinstance(explained, Untrued):
            return explained
        plans, sewing = self.plans, self.sewing
        said = [*explained.pattern.findings, *self.cut_list.findings]
        said += [*(f for plan in plans for f in plan.findings), *self.proofs, *self.unprintable]
        kind = explained.pattern.kind
        return Job(
            self.record,
            kind,
            self.today,
            explained,
            self.cut_list,
            plans,
            sewing,
            weightiest_first(said),
            self.elapsed,
        )


def weightiest_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return findings each once, those that stop the work before the rest."""
    rank = {Weight.STOP: 0, Weight.LOOK: 1, Weight.NOTE: 2}
    return tuple(sorted(dict.fromkeys(findings), key=lambda finding: rank[finding.weight]))


def run(
    record: Record, kind: Kind, *, today: date, clock: Clock, effort: Effort | None = None
) -> Job | Untrued:
    """Take a record through every stage; arguments as for ``Stages``.

    Returns:
        What the stages made, or why the record cannot be trued.
    """
    return Stages(record, kind, today=today, clock=clock, effort=effort).job()


def files(job: Job, *, paper: str, clock: Clock) -> dict[str, bytes]:
    """Return every file of the job by name.

    Args:
        job: What the stages made.
        paper: Paper to print on, such as ``a4`` or ``letter``.
        clock: As for ``run``.

    Raises:
        InputError: The paper is not known.
    """
    from likesewn import publish  # noqa: PLC0415 - drawing is loaded only where something is drawn

    timer = _Timer(clock)
    with timer.stage("print"):
        drawing = publish.pattern_drawing(job.cut_list, job.today)
        titles = {piece.name: piece.title for piece in job.cut_list.pieces}
        made: dict[str, bytes] = {"pattern.svg": publish.pattern_svg(drawing).encode()}
        made[f"pattern-{paper}.pdf"] = publish.pattern_pdf(drawing, paper)
        made["truing.svg"] = publish.truing_svg(job.explained, job.record.name).encode()
        made |= lay_files(job.plans, titles, unit=job.record.unit, paper=paper)
        picture = publish.overview_svg(drawing)
        made["sewing-plan.html"] = publish.sewing_plan_html(job.sewing, picture).encode()
    timed = replace(job, elapsed={**job.elapsed, **timer.elapsed})
    made["summary.json"] = json.dumps(summary(timed), indent=2, ensure_ascii=False).encode() + b"\n"
    return made


def lay_files(plans: Sequence[Plan], titles: Mapping[str, str], *, unit: str, paper: str) -> dict[str, bytes]:
    """Return the lay plans as pictures and on paper, by file name.

    Args:
        plans: The plans, the main one first.
        titles: Names of the pieces as printed, by name.
        unit: Unit for lengths in words.
        paper: Paper to print on.

    Raises:
        InputError: The paper is not known.
    """
    from likesewn import publish  # noqa: PLC0415 - drawing is loaded only where something is drawn

    made: dict[str, bytes] = {}
    for plan in plans:
        name = "lay-plan" if plan is plans[0] else f"lay-plan-{plan.cloth_name}"
        made[f"{name}.svg"] = publish.lay_plan_svg(plan, titles, unit).encode()
        made[f"{name}.pdf"] = publish.lay_plan_pdf(plan, titles, unit, paper)
    return made


def summary(job: Job) -> dict[str, Any]:
    """Return the job's figures as plain data: the content of ``summary.json``."""
    pattern, cut_list = job.pattern, job.cut_list
    return {
        "format": 1,
        "garment": job.record.name,
        "kind": job.kind.name,
        "measures": {
            m.key: {"value_mm": m.value_mm, "sigma_mm": m.sigma_mm, "asked_mm": m.asked_mm}
            for m in pattern.measures
        },
        **_walk_data(pattern),
        **_explained_data(job.explained),
        "bands": [
            {
                "name": b.name,
                "edge_mm": b.edge_mm,
                "ratio": b.ratio,
                "trade_ratio": b.trade_ratio,
                "bound_ratio": b.bound_ratio,
                "cut_length_mm": b.cut_length_mm,
                "cut_width_mm": b.cut_width_mm,
                "finished_width_mm": b.finished_width_mm,
                "ring_mm": b.ring_mm,
                "strain": b.strain,
                "quarter_ahead_mm": b.quarter_ahead_mm,
            }
            for b in cut_list.bands
        ],
        "finishes": [
            {"name": f.name, "finish": f.finish, "moved_mm": f.moved_mm, "message": f.message}
            for f in cut_list.finishes
        ],
        "pieces": [_piece_data(piece) for piece in cut_list.pieces],
        "cloth": [
            {
                "name": p.cloth_name,
                "width_mm": p.cloth.width_mm,
                "folding": p.folding,
                "length_mm": p.length_mm,
                "buy_mm": p.buy_mm,
                "buy": buy_text(p.buy_mm, job.record.unit),
                "price": price_text(p.buy_mm, p.cloth, job.record.unit),
                "used_fraction": p.used_fraction,
                "bound_mm": p.bound_mm,
                "rule_mm": p.rule_mm,
            }
            for p in job.plans
        ],
        "findings": [finding_data(finding) for finding in job.findings],
        "assumptions": [
            {"key": a.key, "value_mm": a.value_mm, "message": a.message} for a in pattern.assumptions
        ],
        "elapsed_s": {stage: round(seconds, 4) for stage, seconds in job.elapsed.items()},
    }


def _walk_data(of: Pattern | Checks) -> dict[str, Any]:
    """Return every sewn pair, square corner and smooth join, of a pattern or of the pieces before truing."""
    return {
        "seams": [
            {
                "name": s.name,
                "left": s.left,
                "right": s.right,
                "left_mm": s.left_mm,
                "right_mm": s.right_mm,
                "ease_mm": s.ease_mm,
                "difference_mm": s.difference_mm,
            }
            for s in of.seams
        ],
        "square_corners": [{"name": a.name, "degrees": a.degrees} for a in of.square_corners],
        "smooth_joins": [{"name": a.name, "degrees": a.degrees} for a in of.smooth_joins],
    }


def _explained_data(explained: Explained) -> dict[str, Any]:
    return {
        "edges": [
            {"name": e.name, "length_mm": e.length_mm, "sigma_mm": e.sigma_mm} for e in explained.edges
        ],
        "corners": [
            {"piece": c.piece, "corner": c.corner, "at_mm": list(c.at), "sigma_mm": list(c.sigma_mm)}
            for c in explained.corners
        ],
        "before_truing": explained.before and _walk_data(explained.before),
        "moved": [
            {"piece": m.piece, "edge": m.edge, "mm": m.mm, "near": m.near or None} for m in explained.moves
        ],
        "measure_next": [
            {
                "key": n.key,
                "again": n.again,
                "with": n.level or None,
                "seam_lines_now_mm": n.before_mm,
                "seam_lines_then_mm": n.after_mm,
            }
            for n in explained.next_measures
        ],
    }


def _piece_data(piece: CutPiece) -> dict[str, Any]:
    halves = 2.0 if piece.on_fold else 1.0
    closing = [edge for edge in piece.seam if edge.fold]
    return {
        "name": piece.name,
        "copies": piece.copies,
        "on_fold": piece.on_fold,
        "cloth": piece.cloth,
        "area_mm2": halves * abs(area(Path.join([edge.path for edge in piece.seam]))),
        "cut_area_mm2": halves * abs(area(_closed(piece, closing))),
    }


def _closed(piece: CutPiece, closing: list[Edge]) -> Path:
    """Return the cut line closed along the fold, where there is one."""
    line = Path.join(list(piece.cut.values()))
    return Path.join([line, Path.line(line.end, line.start)]) if closing else line
