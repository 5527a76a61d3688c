"""The whole job from an empty shelf, by tape (mouse, touch, the keyboard alone) and by photograph.

What is downloaded in the end is read back and measured.
"""

import io
import json
import zipfile

import pypdfium2 as pdfium
import pytest
from playwright.sync_api import expect

from likesewn.garment import load_kind, read_garment
from web.garment_photo import taken

FIGURES = {"Body length": "66", "Chest width": "20 1/2 in", "Sleeve length": "590 mm", "Neck width": "19"}
WANTED = {"body_length": 660.0, "chest_width": 520.7, "sleeve_length": 590.0, "neck_width": 190.0}


def everything(page) -> dict[str, bytes]:
    """Download the zip with everything and return its files by name."""
    link = page.get_by_role("link", name="Everything, as one zip")
    link.wait_for()
    with page.expect_download() as begun:
        link.focus()
        page.keyboard.press("Enter")
    with zipfile.ZipFile(io.BytesIO(begun.value.path().read_bytes())) as packed:
        return {name: packed.read(name) for name in packed.namelist()}


def assert_sews(files: dict[str, bytes], wanted: dict[str, float]) -> None:
    """Read the figures back: measures as asked, sewn pairs of one length, a pattern to print at true size."""
    figures = json.loads(files["summary.json"])
    for key, mm in wanted.items():
        assert figures["measures"][key]["value_mm"] == pytest.approx(mm, abs=0.1), key
    assert max(abs(seam["difference_mm"]) for seam in figures["seams"]) <= 0.01
    assert all(abs(corner["degrees"] - 90.0) <= 0.05 for corner in figures["square_corners"])
    document = pdfium.PdfDocument(files["pattern-a4.pdf"])
    assert len(document) > 4
    assert document[0].get_size() == pytest.approx((210 / 25.4 * 72, 297 / 25.4 * 72), abs=0.03)
    assert b"<svg" in files["lay-plan.svg"]
    assert b"Order of work" in files["sewing-plan.html"]


def begin(page, press, name: str) -> str:
    """Begin a garment on the shelf; returns its id."""
    expect(page.get_by_role("heading", name="Your garments")).to_be_visible()
    press(page.get_by_role("button", name="New garment"))
    box = page.get_by_role("dialog")
    box.get_by_label("Name").fill(name)
    press(box.get_by_role("button", name="Begin"))
    page.wait_for_url("**/record")
    return page.url.split("/")[-2]


@pytest.mark.parametrize("touch", [False, True], ids=["mouse", "touch"])
def test_by_tape(window, workbench, touch):
    size = {"width": 390, "height": 844} if touch else {"width": 1280, "height": 900}
    page = window("/", viewport=size, has_touch=touch)

    def press(target):
        target.scroll_into_view_if_needed()
        target.tap() if touch else target.click()

    garment = begin(page, press, "Kiln top")
    for title, figure in FIGURES.items():
        field = page.get_by_role("textbox", name=title, exact=False).first
        press(field)
        field.fill(figure)
        field.blur()
    expect(page.locator('.ls-stages a[href$="/record"]')).to_contain_text("4 measures")
    for stage, sign in (
        ("true", "Measures, asked and trued"),
        ("cut", "Usual allowances"),
        ("lay", "Order of cutting"),
    ):
        press(page.locator(f'.ls-stages a[href$="/{stage}"]'))
        expect(page.get_by_text(sign).first).to_be_visible()
    press(page.locator('.ls-stages a[href$="/print"]'))
    assert_sews(everything(page), WANTED)
    press(page.locator('.ls-stages a[href$="/sew"]'))
    first = page.get_by_role("checkbox").first
    first.wait_for()
    press(first)
    expect(first).to_be_checked()
    press(page.get_by_role("link", name="Shelf", exact=False).first)
    expect(page.get_by_role("link", name="Kiln top")).to_be_visible()
    kept = read_garment(workbench.document(garment)["text"])
    assert kept.tape["chest_width"].mm == pytest.approx(520.7)
    press(page.get_by_role("button", name="Remove: Kiln top"))
    expect(page.get_by_role("link", name="Kiln top")).to_have_count(0)
    press(page.get_by_role("button", name="Undo"))
    expect(page.get_by_role("link", name="Kiln top")).to_be_visible()
    workbench.api.delete(f"/garments/{garment}")


def tab_to(page, target, most: int = 120) -> None:
    """Press Tab until the target has the focus."""
    for _ in range(most):
        if target.evaluate("(node) => node === document.activeElement"):
            return
        page.keyboard.press("Tab")
    raise AssertionError("the keyboard does not reach it")


def test_by_keyboard_alone(window, workbench):
    page = window("/")
    expect(page.get_by_role("heading", name="Your garments")).to_be_visible()
    tab_to(page, page.get_by_role("button", name="New garment"))
    page.keyboard.press("Enter")
    name = page.get_by_role("dialog").get_by_label("Name")
    expect(name).to_be_visible()
    tab_to(page, name)
    page.keyboard.type("Tile apron")
    tab_to(page, page.get_by_role("dialog").get_by_role("button", name="Begin"))
    page.keyboard.press("Enter")
    page.wait_for_url("**/record")
    page.locator(".lsd-svg path").first.wait_for(state="attached")
    garment = page.url.split("/")[-2]
    for title, figure in FIGURES.items():
        tab_to(page, page.get_by_role("textbox", name=title, exact=False).first)
        page.keyboard.type(figure)
    page.keyboard.press("Tab")
    expect(page.locator('.ls-stages a[href$="/record"]')).to_contain_text("4 measures")
    for stage, sign in (
        ("true", "Measures, asked and trued"),
        ("cut", "Usual allowances"),
        ("lay", "Order of cutting"),
    ):
        tab_to(page, page.locator(f'.ls-stages a[href$="/{stage}"]'))
        page.keyboard.press("Enter")
        expect(page.get_by_text(sign).first).to_be_visible()
    tab_to(page, page.locator('.ls-stages a[href$="/print"]'))
    page.keyboard.press("Enter")
    assert_sews(everything(page), WANTED)
    tab_to(page, page.locator('.ls-stages a[href$="/sew"]'))
    page.keyboard.press("Enter")
    first = page.get_by_role("checkbox").first
    first.wait_for()
    tab_to(page, first)
    page.keyboard.press("Space")
    expect(first).to_be_checked()
    workbench.api.delete(f"/garments/{garment}")


def test_by_photograph(window, workbench):
    page = window("/")
    page.get_by_role("button", name="From a photograph").click()
    box = page.get_by_role("dialog")
    box.get_by_label("Name").fill("Photographed top")
    box.get_by_role("button", name="Begin").click()
    page.wait_for_url("**/record*")
    garment = page.url.split("/")[-2]
    page.locator('input[type="file"]').first.set_input_files(
        {"name": "front.jpg", "mimeType": "image/jpeg", "buffer": taken().data}
    )
    page.get_by_role("button", name="Trace it").click()
    page.get_by_role("button", name="Use it", exact=True).click()
    expect(page.locator('.ls-stages a[href$="/record"]')).to_contain_text("photograph")
    record = read_garment(workbench.document(garment)["text"])
    assert record.photos
    assert {points.piece for points in record.points} <= {p.name for p in load_kind(record.kind).pieces}
    page.locator('.ls-stages a[href$="/print"]').click()
    figures = json.loads(everything(page)["summary.json"])
    assert max(abs(seam["difference_mm"]) for seam in figures["seams"]) <= 0.01
    workbench.api.delete(f"/garments/{garment}")
