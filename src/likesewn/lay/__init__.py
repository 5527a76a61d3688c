"""Cloth: where each piece lies on it, and how much of it to buy.

``plan`` holds the result, ``choices`` what is asked. ``cloth`` checks what is said of the cloth,
``folds`` folds it; ``shapes`` turns cut pieces into outlines along the grain, and ``ways`` into what can
be cut from it as it lies. ``keepout`` knows where one outline may not lie beside another, ``board`` lays
outlines one by one, ``search`` tries orders and ways, and ``compact`` moves all outlines together;
``nest`` searches open lays. ``laying`` ties these into plans, ``leftover`` and ``remarks`` say what was
noticed, and ``verify`` checks a plan from scratch, sharing nothing with the search. ``ranking`` compares
foldings, and ``drawer`` asks which cloths would do. ``buy`` says how much to buy; ``shop`` says it from a
few measures, before anything is traced.
"""

from likesewn.lay.alike import alike_pairs
from likesewn.lay.buy import buy_length, buy_text, length_rule, price_text
from likesewn.lay.choices import Choices
from likesewn.lay.drawer import Fit, fit_on, which_cloths
from likesewn.lay.effort import Effort
from likesewn.lay.grain import leans_of
from likesewn.lay.laying import lay
from likesewn.lay.places import place_words
from likesewn.lay.plan import FOLDINGS, SAFETY_GAP, WIDE_CLOTH, Placed, Plan
from likesewn.lay.ranking import Ranked, rank_foldings
from likesewn.lay.shop import Estimate, WidthRow, estimate
from likesewn.lay.verify import verify

__all__ = [
    "FOLDINGS",
    "SAFETY_GAP",
    "WIDE_CLOTH",
    "Choices",
    "Effort",
    "Estimate",
    "Fit",
    "Placed",
    "Plan",
    "Ranked",
    "WidthRow",
    "alike_pairs",
    "buy_length",
    "buy_text",
    "estimate",
    "fit_on",
    "lay",
    "leans_of",
    "length_rule",
    "place_words",
    "price_text",
    "rank_foldings",
    "verify",
    "which_cloths",
]
