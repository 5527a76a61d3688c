"""Cloth: where each piece lies on it, and how much of it to buy.

``plan`` holds the result; ``shapes`` turns cut pieces into outlines along the grain, and ``ways`` into what
can be cut on cloth folded in a given manner; ``profile`` drops an outline against those that already lie;
``rows`` searches for a short lay, and ``remarks`` puts into words what it noticed; ``verify`` checks a plan
from scratch, sharing nothing with the search; ``buy`` says how much to buy; ``shop`` says it from a few
measures, before anything is traced.
"""

from likesewn.lay.buy import buy_length, buy_text, length_rule
from likesewn.lay.plan import FOLDINGS, SAFETY_GAP, WIDE_CLOTH, Placed, Plan
from likesewn.lay.rows import lay
from likesewn.lay.shop import Estimate, WidthRow, estimate
from likesewn.lay.verify import verify

__all__ = [
    "FOLDINGS",
    "SAFETY_GAP",
    "WIDE_CLOTH",
    "Estimate",
    "Placed",
    "Plan",
    "WidthRow",
    "buy_length",
    "buy_text",
    "estimate",
    "lay",
    "length_rule",
    "verify",
]
