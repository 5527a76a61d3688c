"""The sewing plan as one web page that stands by itself: no script, nothing loaded from elsewhere.

It reads on a phone beside the machine and on paper; steps can be ticked off without a script. Text and
background of each pairing differ by at least 7 to 1 in the sense of WCAG 2.1, success criterion 1.4.6.
"""

import base64
import re
from collections.abc import Iterable, Sequence
from html import escape

from likesewn.publish.sewing_style import STYLE
from likesewn.sewing import SewingPlan, ShoppingItem, StepText, Table

__all__ = ["sewing_plan_html"]

_FORBIDDEN = re.compile("[^\t\n\r\u0020-\u007e\u00a0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""Control characters and lone surrogates, which have no place in a document, escaped or not."""

_TOGETHER = re.compile(r"(?<=\d) (?=\d+/\d|(?:mm|cm|m|in|yd|%)(?!\w))")
"""The space inside a figure, between whole and fraction or before a unit, where no line may break."""


def sewing_plan_html(plan: SewingPlan, drawing_svg: str | None = None) -> str:
    """Return the sewing plan as one HTML page.

    Args:
        plan: The plan.
        drawing_svg: A drawing of the pieces as a whole SVG document, shown as a picture (so that nothing
            inside it can run or load); None for no picture.

    Returns:
        The page, UTF-8 text; all words from the plan are escaped.
    """
    sections = [
        ("before", "Before you start", _tick_list("before", plan.before)),
        ("buy", "What you need", _needs(plan.shopping, plan.tools)),
        ("notes", "Worth knowing first", _plain_list(plan.notes)),
        ("cautions", "Take care", _cautions(plan)),
        ("pieces", "The pieces", _picture(plan.title, drawing_svg) + _tables((plan.pieces, plan.points))),
        ("settings", "Stitches and settings", _tables((plan.stitches,), titled=False)),
        ("steps", "Order of work", _steps(plan.steps)),
        ("figures", "Figures", _tables((plan.bands, plan.seams, plan.measures))),
    ]
    shown = [(name, title, body) for name, title, body in sections if body]
    contents = "".join(f'<li><a href="#{name}">{title}</a></li>\n' for name, title, _ in shown)
    body = "".join(
        f'<section id="{name}" aria-labelledby="{name}-title">\n'
        f'<h2 id="{name}-title">{title}</h2>\n{content}</section>\n'
        for name, title, content in shown
    )
    title = _text(plan.title)
    summary = f"<p>{_text(plan.summary)}</p>\n" if plan.summary else ""
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta name="color-scheme" content="light dark">\n'
        f"<title>Sewing plan: {title}</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n"
        f'<header>\n<p class="what">Sewing plan</p>\n<h1 dir="auto">{title}</h1>\n'
        f"{summary}"
        f'<nav aria-label="Contents">\n<ul>\n{contents}</ul>\n</nav>\n</header>\n'
        f"<main>\n{body}</main>\n</body>\n</html>\n"
    )


def _text(words: str) -> str:
    shown = _TOGETHER.sub("\u00a0", _FORBIDDEN.sub("\ufffd", words))
    return escape(shown).replace("\n", "<br>")


def _plain_list(items: Sequence[str], look: str = "plain") -> str:
    if not items:
        return ""
    return f'<ul class="{look}">\n' + "".join(f"<li>{_text(item)}</li>\n" for item in items) + "</ul>\n"


def _tick_list(name: str, items: Sequence[str]) -> str:
    rows = (_tick(f"{name}-{i}", _text(item)) for i, item in enumerate(items, 1))
    return '<ul class="ticks">\n' + "".join(f"<li>{row}</li>\n" for row in rows) + "</ul>\n"


def _tick(name: str, label: str) -> str:
    return f'<input type="checkbox" id="{name}"><label for="{name}">{label}</label>'


def _needs(shopping: Iterable[ShoppingItem], tools: Sequence[str]) -> str:
    items = [f"<b>{_text(item.what)}</b>: {_text(item.which)}" for item in shopping]
    rows = "".join(f"<li>{_tick(f'buy-{i}', item)}</li>\n" for i, item in enumerate(items, 1))
    return f'<ul class="ticks">\n{rows}</ul>\n<h3>At hand</h3>\n{_plain_list(tools, "hand")}'


def _cautions(plan: SewingPlan) -> str:
    return "".join(f"<h3>{_text(c.title)}</h3>\n<p>{_text(c.text)}</p>\n" for c in plan.cautions)


def _picture(title: str, drawing_svg: str | None) -> str:
    if drawing_svg is None:
        return ""
    data = base64.b64encode(drawing_svg.encode()).decode()
    alt = f"The pieces of {title}, drawn side by side"
    return f'<figure><img src="data:image/svg+xml;base64,{data}" alt="{_text(alt)}"></figure>\n'


def _steps(steps: Iterable[StepText]) -> str:
    rows = "".join(
        f"<li>\n<h3>{_tick(f'step-{s.number}', f'<span>{s.number}</span> {_text(s.title)}')}</h3>\n"
        f"<p>{_with_figures(s)}</p>\n</li>\n"
        for s in steps
    )
    return f'<ol class="steps">\n{rows}</ol>\n'


def _with_figures(step: StepText) -> str:
    parts: list[str] = []
    end = 0
    for start, stop in step.figures:
        parts += (_text(step.text[end:start]), f"<b>{_text(step.text[start:stop])}</b>")
        end = stop
    return "".join((*parts, _text(step.text[end:])))


def _tables(tables: Iterable[Table], *, titled: bool = True) -> str:
    return "".join(_table(table, titled=titled) for table in tables if table.rows)


def _table(table: Table, *, titled: bool) -> str:
    name = f"<caption>{_text(table.title)}</caption>\n" if titled else ""
    heads = "".join(f'<th scope="col">{_text(column)}</th>' for column in table.columns)
    rows = "".join(
        f'<tr><th scope="row">{_text(first)}</th>' + "".join(f"<td>{_text(c)}</td>" for c in rest) + "</tr>\n"
        for first, *rest in table.rows
    )
    note = f"<p>{_text(table.note)}</p>\n" if table.note else ""
    return f"<table>\n{name}<thead>\n<tr>{heads}</tr>\n</thead>\n<tbody>\n{rows}</tbody>\n</table>\n{note}"
