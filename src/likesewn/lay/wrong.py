"""What the checks of a lay plan share: how a fault is said, and where the folds are."""

from likesewn.garment import Finding, Weight
from likesewn.lay.plan import Plan

__all__ = ["OVERLAP", "folds", "wrong"]

OVERLAP = 0.01
"""Area of overlap that rounding may leave, mm2."""


def wrong(
    code: str,
    where: str,
    message: str,
    *,
    amount: float | None = None,
    limit: float | None = None,
    unit: str = "mm",
) -> Finding:
    """Return a finding that stops the plan."""
    return Finding(
        code=code,
        weight=Weight.STOP,
        where=where,
        message=message,
        amount=amount,
        limit=limit,
        unit=unit if amount is not None else "",
        todo="Do not cut by this plan; lay the pieces again.",
    )


def folds(plan: Plan) -> tuple[float, ...]:
    """Return the y of each fold along the cloth."""
    if plan.folding in {"open", "crosswise"}:
        return ()
    if plan.folding == "selvages to the middle":
        return (0.0, plan.cloth.width_mm / 2)
    return (0.0,)
