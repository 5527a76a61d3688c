"""The stages of a garment as the workbench lists them: how far each is, and what it says at a glance."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from likesewn.garment import Finding, Weight
from likesewn.lay import buy_text
from likesewn.truing import Untrued
from likesewn.units import format_length
from likesewn.web.desk import Desk, Opened
from likesewn.web.words import say

__all__ = ["STAGES", "Status", "quick_statuses", "statuses"]

STAGES = ("record", "true", "cut", "lay", "print", "sew")


@dataclass(frozen=True, slots=True)
class Status:
    """How far a stage is.

    Attributes:
        state: ``wait`` (not begun), ``part`` (begun), ``done``, ``look`` (something is off) or ``stop``.
        says: What it says, in a few words.
    """

    state: str
    says: str


def quick_statuses(opened: Opened) -> dict[str, Status]:
    """Return how far each stage is, as far as it is known without working anything out but the truing."""
    found = {stage: Status("wait", "") for stage in STAGES}
    found["record"] = _recorded(opened)
    found["true"] = _trued(opened)
    return found


def statuses(desk: Desk, opened: Opened) -> dict[str, Status]:
    """Return how far each stage is, working out what is needed for that."""
    found = quick_statuses(opened)
    stages = desk.finished(opened)
    if stages is None:
        return found
    pieces = stages.cut_list.pieces
    found["cut"] = _said(stages.cut_list.findings, say("stages.cut", n=len(pieces)))
    plan = stages.plans[0]
    told = [finding for one in stages.plans for finding in one.findings] + list(
        opened.laid.proofs if opened.laid else ()
    )
    lay_words = say(
        "stages.lay",
        buy=buy_text(plan.buy_mm, stages.record.unit),
        width=format_length(plan.cloth.width_mm, stages.record.unit),
    )
    found["lay"] = _said(told, say("stages.no_lay") if plan.stopped else lay_words)
    stopped = found["cut"].state == "stop"
    found["print"] = Status("wait" if stopped else "done", say("stages.print"))
    ticked = len(_ticks(opened.document.aside))
    steps = len(stages.sewing.steps)
    if not ticked:
        found["sew"] = Status("wait", say("stages.sew", n=steps))
    else:
        found["sew"] = Status(
            "done" if ticked >= steps else "part", say("stages.sewn", done=ticked, steps=steps)
        )
    return found


def _ticks(aside: Mapping[str, object]) -> list[object]:
    ticked = aside.get("ticked")
    return (
        [tick for tick in ticked if str(tick).startswith("step-")] if isinstance(ticked, list | tuple) else []
    )


def _recorded(opened: Opened) -> Status:
    if opened.record is None:
        return Status("stop", say("stages.faults", n=len(opened.draft.problems)))
    measures, photos = len(opened.record.tape), len(opened.record.photos)
    if opened.draft.missing:
        state = "part" if measures or photos else "wait"
        return Status(state, say("stages.missing", n=len(opened.draft.missing)))
    words = say("stages.measures", n=measures)
    return Status("done", f"{words}, {say('stages.photos', n=photos)}" if photos else words)


def _trued(opened: Opened) -> Status:
    if not opened.complete:
        return Status("wait", "")
    found = opened.explained()
    if found is None or isinstance(found, Untrued):
        return Status("stop", say("stages.untrued"))
    return _said(found.pattern.findings, say("stages.trued"))


def _said(findings: Iterable[Finding], fine: str) -> Status:
    weights = [finding.weight for finding in findings]
    for weight, state in ((Weight.STOP, "stop"), (Weight.LOOK, "look")):
        if weight in weights:
            return Status(state, say(f"stages.{state}", n=weights.count(weight)))
    return Status("done", fine)
