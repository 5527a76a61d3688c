"""Garments that the tests of the sewing plan share: a pottery studio's throwing top, in many variants."""

from dataclasses import replace
from functools import cache
from typing import NamedTuple

import numpy as np

from likesewn.cut import CutList, cut
from likesewn.garment import Cloth, Fabric, Figure, Pattern, Record, TracedPoints, Wearer
from likesewn.garment.kind import Kind, Step
from likesewn.garment.kinds import load_kind
from likesewn.geometry import point_at
from likesewn.lay import Choices, Plan, lay
from likesewn.sewing import SewingPlan, plan_sewing
from likesewn.truing import Untrued, true

KIND = load_kind("set-in-sleeve-top")

TAPE = {"body_length": Figure(660.0), "chest_width": Figure(520.0), "sleeve_length": Figure(590.0)}
APART = {**TAPE, "front_armhole_curve": Figure(238.0), "back_armhole_curve": Figure(250.0)}
"""Figures that tell front and back armholes apart, so that the sleeve opens out."""


class Garment(NamedTuple):
    pattern: Pattern
    cut_list: CutList
    record: Record

    def plan(self, plans: tuple[Plan, ...] = ()) -> SewingPlan:
        return plan_sewing(self.pattern, self.cut_list, self.record, plans)

    def with_steps(self, *steps: Step) -> "Garment":
        kind = replace(self.pattern.kind, steps=steps)
        return self._replace(pattern=replace(self.pattern, kind=kind))


def record(**changes: object) -> Record:
    usual = Record(
        name="Throwing top",
        kind=KIND.name,
        size="M",
        tape=TAPE,
        fabric=Fabric("knit", 0.5),
        cloths={"main": Cloth()},
        wearer=Wearer("Ines"),
    )
    return replace(usual, **changes)  # type: ignore[arg-type]


def garment(kind: Kind = KIND, **changes: object) -> Garment:
    made = record(**changes)
    pattern = true(made, kind)
    assert not isinstance(pattern, Untrued), pattern.reason
    return Garment(pattern, cut(pattern, made), made)


@cache
def usual() -> Garment:
    """Knit, overlock, neckband, folded sleeve, centimetres."""
    return garment()


@cache
def opened() -> Garment:
    """The same with an armhole that differs front and back."""
    return garment(tape=APART)


@cache
def finished(finish: str) -> Garment:
    """The same with another neck finish."""
    return garment(finish={"neck": {"finish": finish}})


def lay_plans(made: Garment) -> tuple[Plan, ...]:
    return lay(made.cut_list, made.record.cloths, Choices(made.record.unit))


def step(plan: SewingPlan, title: str) -> str:
    """Return the text of the one step of that title."""
    (text,) = (s.text for s in plan.steps if s.title == title)
    return text


def number(plan: SewingPlan, title: str) -> int:
    """Return the number of the one step of that title."""
    (found,) = (s.number for s in plan.steps if s.title == title)
    return found


@cache
def uneven() -> Garment:
    """Its left front was traced longer at the shoulder and armhole, and shorter at the side."""
    entries = []
    for name in ("shoulder", "armhole", "side"):
        path = usual().pattern.piece("front").edge(name).path
        right = np.array([point_at(path, share * path.length) for share in np.linspace(0.02, 0.98, 15)])
        below = right[:, 1] - right[:, 1].min()
        left = right + np.stack([0.02 * below + 8.0, 0.06 * below], axis=1)
        if name == "shoulder":
            left = right * [1.05, 1.0]
        if name == "side":
            left = right + 12.0
        entries += [TracedPoints("front", name, right, side="right")]
        entries += [TracedPoints("front", name, left * [-1.0, 1.0], side="left")]
    return garment(points=tuple(entries), symmetric=False)
