"""Draws the docs' pictures and writes the page of measures and the JSON Schema: run by `make docs`."""

from datetime import date
from pathlib import Path

from likesewn.cut import cut
from likesewn.examples import example_text
from likesewn.garment import kind_names, load_kind, read_garment
from likesewn.garment.schema import schema_text
from likesewn.publish import measure_drawings, overview_svg, pattern_drawing
from likesewn.publish.lay_pictures import lay_pictures
from likesewn.publish.svg import svg
from likesewn.truing import Untrued, true

HERE = Path(__file__).parent


def main() -> None:
    """Draw everything anew."""
    schema = HERE.parent / "src" / "likesewn" / "garment" / "garment.schema.json"
    schema.write_text(schema_text(), encoding="utf-8")
    pictures = HERE / "pictures"
    pictures.mkdir(exist_ok=True)
    text = example_text("throwing-top")
    record = read_garment(text, "throwing-top.toml")
    kind = load_kind(record.kind)
    pattern = true(record, kind)
    if isinstance(pattern, Untrued):
        raise SystemExit(pattern.reason)
    drawing = pattern_drawing(cut(pattern, record), date(2026, 11, 25))
    (pictures / "throwing-top.svg").write_text(overview_svg(drawing), encoding="utf-8")
    for number, (picture, _) in enumerate(lay_pictures(), start=1):
        (pictures / f"photograph-{number}.svg").write_text(svg(picture, screen_width=420), encoding="utf-8")
    lines = ["# How each measure is taken", "", "Made by `make docs`; do not edit by hand.", ""]
    for name in kind_names():
        known = load_kind(name)
        lines += [f"## {known.title} (`{name}`)", "", known.summary, ""]
        drawn = measure_drawings(known, pattern) if name == kind.name else {}
        for key, measure in known.measures.items():
            need = " Needed." if measure.needed else ""
            lines += [f"### {measure.title} (`{key}`)", "", f"{measure.how}{need}", ""]
            if key in drawn:
                file = f"{name}-{key}.svg"
                (pictures / file).write_text(drawn[key], encoding="utf-8")
                lines += [f'<img src="pictures/{file}" width="420" alt="{measure.title}">', ""]
    (HERE / "measures.md").write_text("\n".join(lines), encoding="utf-8")


if __name__ == "__main__":
    main()
