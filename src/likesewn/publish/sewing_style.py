"""The look of the sewing plan's page: paper and ink, on a screen by day or night and in print."""

__all__ = ["COLOURS", "STYLE"]

COLOURS = {
    "day": {"paper": "#fbfaf6", "ink": "#23282b", "quiet": "#4b5355", "thread": "#8a3324", "rule": "#7d8584"},
    "night": {
        "paper": "#1b1f20",
        "ink": "#ece9e1",
        "quiet": "#bfc3bf",
        "thread": "#f0a58f",
        "rule": "#858d8b",
    },
}
"""Colours by time of day and use: ``ink``, ``quiet`` and ``thread`` are read on ``paper``."""


def _properties(colours: dict[str, str]) -> str:
    return " ".join(f"--{use}: {colour};" for use, colour in colours.items())


STYLE = (
    f"""\
:root {{ color-scheme: light dark; {_properties(COLOURS["day"])} }}
@media (prefers-color-scheme: dark) {{ :root {{ {_properties(COLOURS["night"])} }} }}
"""
    """\
* { box-sizing: border-box; }
html { -webkit-text-size-adjust: 100%; text-size-adjust: 100%; }
body {
  margin: 0 auto; padding: 1.5rem 1rem 4rem; max-width: 44rem;
  background: var(--paper); color: var(--ink);
  font: 1.125rem/1.6 Charter, "Bitstream Charter", Cambria, Georgia, serif; overflow-wrap: break-word;
}
h1, h2, h3, caption { line-height: 1.25; text-wrap: balance; }
h1 { margin: 0; font-size: 2.25rem; }
h2 { margin: 3.5rem 0 1rem; padding-top: .75rem; border-top: 3px double var(--rule); font-size: 1.5rem; }
h3 { margin: 1.5rem 0 .25rem; font-size: 1.125rem; }
p { margin: .25rem 0 1rem; }
a { color: var(--ink); text-decoration-color: var(--thread); text-underline-offset: .2em; }
:focus-visible { outline: 3px solid var(--thread); outline-offset: 3px; }
.what { margin: 0; color: var(--thread); font-style: italic; }
nav ul { display: flex; flex-wrap: wrap; gap: 0 1.25rem; margin: 0; padding: 0; list-style: none; }
nav li { margin: 0; }
nav a { display: inline-block; padding: .4rem 0; }
li { margin: .4rem 0; }
.plain, .hand { margin: .5rem 0 1rem; padding-left: 1.25rem; }
.hand { columns: 15rem 2; }
.hand li { margin: 0 0 .4rem; break-inside: avoid; }
.ticks, .steps { padding: 0; list-style: none; }
.ticks li, .steps h3 { display: flex; align-items: flex-start; gap: .75rem; }
.steps li { margin: 0 0 1.75rem; break-inside: avoid; }
.steps h3 { font-size: 1.25rem; }
.steps h3 span { color: var(--thread); font-variant-numeric: lining-nums tabular-nums; }
.steps p { margin: 0 0 0 2.25rem; }
.steps b { font-weight: 600; }
label { cursor: pointer; }
input { flex: none; width: 1.5rem; height: 1.5rem; margin: .1em 0 0; accent-color: var(--thread); }
input:checked + label { color: var(--quiet); text-decoration: line-through; }
figure { margin: 1rem 0 2rem; padding: .5rem; border: 1px solid var(--rule); background: #fff; }
img { display: block; width: 100%; height: auto; max-height: 90vh; object-fit: contain; }
table { width: 100%; margin: 1.5rem 0 .5rem; border-collapse: collapse; font-size: 1rem; line-height: 1.45; }
caption { padding-bottom: .5rem; font-size: 1.125rem; font-weight: bold; text-align: left; }
th, td { padding: .5rem .75rem .5rem 0; vertical-align: top; text-align: left; }
th:last-child, td:last-child { padding-right: 0; }
thead th { border-bottom: 2px solid var(--ink); font-weight: normal; font-style: italic; }
tbody th { font-weight: 600; }
tbody tr { border-bottom: 1px solid var(--rule); break-inside: avoid; }
td { font-variant-numeric: lining-nums tabular-nums; }
table + p { color: var(--quiet); font-size: 1rem; }
@media (max-width: 30rem) {
  h1 { font-size: 1.875rem; }
  .steps p { margin-left: 0; }
  table, table + p { font-size: .9375rem; }
  th, td { padding-right: .5rem; }
}
@page { margin: 16mm 15mm 18mm; }
@media print {
  :root { --paper: #fff; --ink: #000; --quiet: #333; --thread: #000; --rule: #777; color-scheme: light; }
  body { max-width: none; padding: 0; font-size: 11pt; line-height: 1.45; }
  nav { display: none; }
  h1 { font-size: 22pt; }
  h2 { margin-top: 6mm; font-size: 15pt; }
  h2, h3, caption, thead { break-after: avoid; }
  h3, caption { font-size: 11.5pt; }
  .steps h3 { font-size: 12.5pt; }
  .steps li { margin-bottom: 5mm; }
  input { width: 4mm; height: 4mm; }
  table { break-inside: avoid; }
  table, table + p { font-size: 10pt; line-height: 1.35; }
  th, td { padding-top: 1mm; padding-bottom: 1mm; }
  img { max-height: 95mm; }
}
"""
)
