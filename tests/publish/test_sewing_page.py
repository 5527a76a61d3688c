"""The page of the sewing plan: whole, safe, readable by machine and eye, and the same as the plan."""

import base64
import re
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from likesewn.publish import sewing_plan_html
from likesewn.publish.sewing_style import COLOURS, STYLE
from likesewn.sewing import SewingPlan, StepText, Table
from sewing.examples import finished, garment, lay_plans, opened, usual

VOID = {"meta", "input", "br", "img"}
"""Elements without an end tag (HTML standard, section 13.1.2) that the page uses."""

SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="10mm" height="10mm"><path d="M 0 0 L 1 1"/></svg>'


class Page(HTMLParser):
    """Walks a page, refusing tags that do not close in order, and keeps what the tests ask about."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[tuple[str, str]] = []
        self.text = ""
        self.feed(html)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert len({name for name, _ in attrs}) == len(attrs), (tag, attrs)
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open, tag
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" in self.open:
            return
        self.text += data
        if data.strip():
            self.words.append((self.open[-1], data))

    def having(self, name: str) -> list[dict[str, str | None]]:
        return [attributes for tag, attributes in self.tags if tag == name]

    def ids(self) -> list[str | None]:
        return [attributes["id"] for _, attributes in self.tags if "id" in attributes]


def hostile(plan: SewingPlan) -> SewingPlan:
    """The plan with markup, quotes and a control character in every text that a user or kind may give."""
    bad = "</style><script>alert(1)</script>\"'&amp;<img src=x onerror=alert(2)>\x00\ud800"
    return replace(
        plan,
        title=bad,
        summary=bad,
        before=(bad,),
        steps=(StepText(1, bad, f"{bad} 1.0 cm {bad}", ((0, len(bad)),)),),
        shopping=tuple(replace(item, what=bad, which=bad) for item in plan.shopping),
        tools=(bad,),
        notes=(bad,),
        pieces=Table(bad, (bad, bad), ((bad, bad),), bad),
        cautions=tuple(replace(c, title=bad, text=bad) for c in plan.cautions),
    )


@pytest.mark.parametrize("drawing", [None, SVG])
def test_every_tag_closes_in_order(drawing: str | None) -> None:
    for made in (usual(), opened(), finished("facing"), garment(for_child=True, unit="in", size="")):
        page = Page(sewing_plan_html(made.plan(), drawing))
        assert len(set(page.ids())) == len(page.ids())
        assert [tag for tag, _ in page.tags[:2]] == ["html", "head"]


def test_the_page_says_what_it_is() -> None:
    html = sewing_plan_html(usual().plan())
    page = Page(html)
    assert html.startswith("<!DOCTYPE html>\n")
    assert page.having("html") == [{"lang": "en"}]
    assert {"charset": "utf-8"} in page.having("meta")
    assert ("title", "Sewing plan: Throwing top") in page.words
    assert [words for tag, words in page.words if tag == "h1"] == ["Throwing top"]


def test_nothing_is_run_or_loaded() -> None:
    html = sewing_plan_html(usual().plan(), SVG)
    page = Page(html)
    assert not {"script", "link", "iframe", "object", "form", "base"} & {tag for tag, _ in page.tags}
    for tag, attributes in page.tags:
        assert not any(name.startswith("on") or name == "style" for name in attributes), (tag, attributes)
        for name in ("href", "src", "srcset", "action"):
            assert (attributes.get(name) or "#").startswith(("#", "data:image/svg+xml;base64,"))
    assert not re.search(r"url\(|@import|expression", STYLE)
    assert "http" not in html


def test_contents_lead_to_every_section() -> None:
    page = Page(sewing_plan_html(usual().plan()))
    targets = [(attributes["href"] or "")[1:] for attributes in page.having("a")]
    assert targets == [attributes["id"] for attributes in page.having("section")]
    for section in page.having("section"):
        assert section["aria-labelledby"] in page.ids()


def test_headings_skip_no_level() -> None:
    page = Page(sewing_plan_html(garment(for_child=True).plan(), SVG))
    levels = [int(tag[1]) for tag, _ in page.tags if re.fullmatch(r"h\d", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))


def test_every_step_can_be_ticked_off_by_its_label() -> None:
    plan = usual().plan()
    page = Page(sewing_plan_html(plan))
    boxes = [box["id"] for box in page.having("input")]
    assert all(box["type"] == "checkbox" for box in page.having("input"))
    assert boxes == [label["for"] for label in page.having("label")]
    assert [box for box in boxes if box and box.startswith("step-")] == [
        f"step-{step.number}" for step in plan.steps
    ]


def test_all_that_the_plan_says_is_on_the_page() -> None:
    made = garment(for_child=True)
    plan = made.plan(lay_plans(made))
    shown = Page(sewing_plan_html(plan)).text.replace("\u00a0", " ")
    tables = (plan.pieces, plan.points, plan.stitches, plan.seams, plan.bands, plan.measures)
    wanted = [
        plan.title,
        plan.summary,
        *plan.before,
        *plan.tools,
        *plan.notes,
        *(words for item in plan.shopping for words in (item.what, item.which)),
        *(words for step in plan.steps for words in (step.title, step.text)),
        *(words for caution in plan.cautions for words in (caution.title, caution.text)),
        *(line for t in tables for cells in (t.columns, *t.rows) for c in cells for line in c.split("\n")),
        *(table.note for table in tables),
    ]
    assert len(wanted) > 150
    for words in wanted:
        assert words in shown


def test_steps_keep_their_order_and_their_figures_stand_out() -> None:
    plan = usual().plan()
    html = sewing_plan_html(plan)
    places = [html.index(f'id="step-{step.number}"') for step in plan.steps]
    assert places == sorted(places)
    steps = html[html.index('<ol class="steps">') : html.index("</ol>")]
    bold = [words.replace("\u00a0", " ") for words in re.findall("<b>(.*?)</b>", steps)]
    assert bold == [step.text[a:b] for step in plan.steps for a, b in step.figures]


def test_figures_do_not_break_between_number_and_unit() -> None:
    inches = Page(sewing_plan_html(garment(unit="in").plan())).text
    assert re.search("\\d\u00a0\\d/\\d\u00a0in\\b", inches)
    assert not re.search(r"\d (\d+/\d|in\b(?! the))", inches)
    centimetres = Page(sewing_plan_html(usual().plan())).text
    assert "1.0\u00a0cm" in centimetres
    assert not re.search(r"\d (cm|mm|%)", centimetres)


def test_hostile_words_stay_words() -> None:
    plan = usual().plan()
    html = sewing_plan_html(hostile(plan), SVG)
    page = Page(html)
    assert html.encode()
    assert len(page.having("img")) == 1
    assert not page.having("script")
    assert html.count("</style>") == 1
    assert html.count("<script") == 0
    assert "\x00" not in html
    assert page.text.count("<script>alert(1)</script>") > 15
    assert "&amp;<img src=x" in page.text


def test_the_drawing_is_a_picture_with_a_name() -> None:
    plan = replace(usual().plan(), title='A "better" top')
    (picture,) = Page(sewing_plan_html(plan, SVG)).having("img")
    assert picture["alt"] == 'The pieces of A "better" top, drawn side by side'
    kind, _, data = (picture["src"] or "").partition(",")
    assert kind == "data:image/svg+xml;base64"
    assert base64.b64decode(data).decode() == SVG
    assert Page(sewing_plan_html(plan)).having("img") == []


def test_what_is_empty_is_left_out() -> None:
    plan = replace(finished("facing").plan(), notes=())
    page = Page(sewing_plan_html(plan))
    assert "notes" not in page.ids()
    assert "Bands and bindings" not in page.text
    with_band = Page(sewing_plan_html(usual().plan()))
    assert "notes" in with_band.ids()
    assert "Bands and bindings" in with_band.text


def test_table_heads_name_rows_and_columns() -> None:
    plan = usual().plan()
    page = Page(sewing_plan_html(plan))
    scopes = [head["scope"] for head in page.having("th")]
    tables = (plan.pieces, plan.points, plan.stitches, plan.bands, plan.seams, plan.measures)
    assert scopes == [s for t in tables for s in (*["col"] * len(t.columns), *["row"] * len(t.rows))]
    assert len(page.having("td")) == sum(len(row) - 1 for table in tables for row in table.rows)


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.1 defines it."""
    shares = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (s / 12.92 if s <= 0.03928 else ((s + 0.055) / 1.055) ** 2.4 for s in shares)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio as WCAG 2.1 defines it."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_contrast_is_reckoned_as_the_standard_does() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)  # from memory


@pytest.mark.parametrize("time", ["day", "night"])
def test_words_and_lines_can_be_seen(time: str) -> None:
    """WCAG 2.1: 1.4.6 asks 7 to 1 of text, 1.4.11 asks 3 to 1 of the outlines of controls."""
    colours = COLOURS[time]
    for use in ("ink", "quiet", "thread"):
        assert contrast(colours[use], colours["paper"]) >= 7.0, use
        assert f"--{use}: {colours[use]};" in STYLE
    assert contrast(colours["rule"], colours["paper"]) >= 3.0


def test_the_look_knows_night_paper_and_small_screens() -> None:
    for query in ("(prefers-color-scheme: dark)", "print", "(max-width: 30rem)"):
        assert f"@media {query} {{" in STYLE
    assert STYLE.count("{") == STYLE.count("}")
    assert "@page" in STYLE
