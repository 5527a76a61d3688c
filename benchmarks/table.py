"""Rows of the table, and how they are timed and shown."""

import time
from collections.abc import Callable
from dataclasses import dataclass, fields
from statistics import median

__all__ = ["Row", "best_of", "markdown"]


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table; all texts."""

    what: str
    ours: str
    baseline: str
    baseline_took: str
    ratio: str
    bar: str
    met: str


def best_of(runs: int, work: Callable[[], object]) -> tuple[float, float]:
    """Return the median and the least time of some runs, seconds, after one run to warm up."""
    work()
    took: list[float] = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        took.append(time.perf_counter() - start)
    return median(took), min(took)


def markdown(rows: list[Row]) -> str:
    """Return the rows as a Markdown table, its columns lined up."""
    heads = ("What", "Ours", "Baseline", "Baseline's", "Ratio", "Bar", "Met")
    lines = [heads, *(tuple(getattr(row, f.name) for f in fields(row)) for row in rows)]
    widths = [max(len(line[i]) for line in lines) for i in range(len(heads))]
    shown = [
        "| " + " | ".join(c.ljust(w) for c, w in zip(line, widths, strict=True)) + " |" for line in lines
    ]
    shown.insert(1, "|" + "|".join("-" * (w + 2) for w in widths) + "|")
    return "\n".join(shown)
