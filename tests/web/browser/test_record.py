"""The tape job in the browser: by mouse, by touch, and by the keyboard alone."""

import re

import pytest
from playwright.sync_api import expect

from windows import line, looked_over, record_of, tab_to, wait_for

FIGURES = {
    "Body length": ("body_length", "67"),
    "Chest width": ("chest_width", "20 7/8 in"),
    "Sleeve length": ("sleeve_length", "570 mm"),
}


def stored(workbench, garment, holds):
    """Wait until the stored record is as wanted; returns it."""
    return wait_for(
        lambda: record_of(workbench, garment), lambda record: record is not None and holds(record)
    )


def typed(record):
    return {key: figure.text for key, figure in record.tape.items()}


def taped(workbench, garment):
    """Wait until every figure of ``FIGURES`` is stored."""
    return stored(workbench, garment, lambda r: typed(r) == dict(FIGURES.values()))


def figure(page, title):
    return page.get_by_role("textbox", name=re.compile(rf"^{title}( [◆◇].*)?$"))


def sure(page, title):
    return page.get_by_role("combobox", name=f"How sure: {title}", exact=True)


def shape(page):
    """Where the front's side runs in the drawing."""
    return line(page, "front.side")


def reshaped(page, before):
    """Wait until the front's side runs elsewhere."""
    return wait_for(lambda: shape(page), lambda now: now != before, what="another shape")


def test_by_mouse(window, workbench):
    garment = workbench.empty()
    page = window(f"/garment/{garment}/record")
    expect(page.get_by_text("◆ 2 measures are still needed:")).to_be_visible()
    before = shape(page)
    for title, (_, value) in FIGURES.items():
        figure(page, title).click()
        figure(page, title).fill(value)
    page.get_by_role("heading", name="Tape measures").click()
    taped(workbench, garment)
    reshaped(page, before)
    expect(page.get_by_text("Nothing needed is missing")).to_be_visible()
    expect(figure(page, "Chest width")).to_have_value("20 7/8 in")
    page.get_by_role("button", name="Undo").click()
    stored(workbench, garment, lambda r: "sleeve_length" not in r.tape)
    expect(figure(page, "Sleeve length")).to_have_value("")
    page.get_by_role("button", name="Redo").click()
    expect(figure(page, "Sleeve length")).to_have_value("570 mm")


def test_by_touch(window, workbench):
    garment = workbench.empty()
    page = window(
        f"/garment/{garment}/record",
        viewport={"width": 360, "height": 740},
        has_touch=True,
        is_mobile=True,
    )
    before = shape(page)
    for title, (_, value) in FIGURES.items():
        figure(page, title).tap()
        page.keyboard.insert_text(value)
    page.keyboard.press("Enter")
    taped(workbench, garment)
    reshaped(page, before)
    # a measure that is tapped in the drawing leads to its field, once the last figure too has shaped it
    sleeve = page.locator('[data-id="sleeve_length"]').first
    expect(sleeve).to_have_attribute("aria-label", re.compile(r"57(\.0)?\u00a0?\s?cm"))
    at = page.locator('[data-id="cuff_width"]').first.bounding_box()
    page.touchscreen.tap(at["x"] + at["width"] / 2, at["y"] + at["height"] / 2)
    expect(figure(page, "Cuff width")).to_be_focused()
    expect(figure(page, "Cuff width")).to_be_in_viewport()
    assert page.evaluate("document.documentElement.scrollWidth") <= 360


def test_by_keyboard_alone(window, workbench):
    garment = workbench.empty()
    page = window(f"/garment/{garment}/record")
    shape(page)
    tab_to(page, "e.matches('[data-row=body_length] input')")
    expect(page.locator("[data-row=body_length] .ls-help").first).to_be_visible()
    page.keyboard.type("67", delay=30)
    page.keyboard.press("Enter")
    expect(figure(page, "Chest width")).to_be_focused()
    # the answer to the first figure comes while the second is being typed, and takes nothing away
    page.keyboard.type("20 7/8 in", delay=60)
    page.keyboard.press("Tab")
    expect(figure(page, "Sleeve length")).to_be_focused()
    page.keyboard.type("570 mm", delay=60)
    page.keyboard.press("Enter")
    taped(workbench, garment)
    page.keyboard.press("Shift+Tab")
    page.keyboard.press("Control+a")
    page.keyboard.press("Delete")
    page.keyboard.press("Enter")
    stored(workbench, garment, lambda r: "sleeve_length" not in r.tape)
    tab_to(page, "e.textContent === 'Undo'")
    page.keyboard.press("Enter")
    taped(workbench, garment)


def test_an_unsure_figure_is_written_with_twice_the_usual_uncertainty(window, workbench):
    garment = workbench.example()
    page = window(f"/garment/{garment}/record")
    expect(sure(page, "Chest width")).to_have_value("own")
    expect(figure(page, "Chest width")).to_have_value("53 +- 0.3")
    sure(page, "Hem width").select_option("unsure")
    record = stored(workbench, garment, lambda r: r.tape["hem_width"].sigma_mm)
    assert record.tape["hem_width"].text == "54 +- 0.6"
    expect(figure(page, "Hem width")).to_have_value("54")
    figure(page, "Hem width").fill("55 cm")
    figure(page, "Hem width").press("Enter")
    record = stored(workbench, garment, lambda r: r.tape["hem_width"].mm == 550.0)
    assert record.tape["hem_width"].sigma_mm == 6.0
    sure(page, "Chest width").select_option("sure")
    record = stored(workbench, garment, lambda r: r.tape["chest_width"].sigma_mm is None)
    assert record.tape["chest_width"].text == "53"


def test_what_is_no_length_is_refused_at_its_field_and_stays_there(window, workbench):
    garment = workbench.example()
    before = workbench.document(garment)["text"]
    page = window(f"/garment/{garment}/record")
    figure(page, "Cuff width").fill("49 cmm")
    figure(page, "Cuff width").press("Enter")
    row = page.locator("[data-row=cuff_width]").first
    expect(row.get_by_role("alert")).to_contain_text("Cmm is not a unit")
    expect(figure(page, "Cuff width")).to_have_value("49 cmm")
    expect(figure(page, "Cuff width")).to_have_attribute("aria-invalid", "true")
    assert workbench.document(garment)["text"] == before
    # another figure may be mended meanwhile
    figure(page, "Hem width").fill("55")
    figure(page, "Hem width").press("Enter")
    stored(workbench, garment, lambda r: r.tape["hem_width"].mm == 550.0)
    expect(figure(page, "Cuff width")).to_have_value("49 cmm")
    figure(page, "Cuff width").fill("11.5")
    figure(page, "Cuff width").press("Enter")
    stored(workbench, garment, lambda r: r.tape["cuff_width"].mm == 115.0)
    expect(row.get_by_role("alert")).to_be_hidden()


def test_two_windows_follow_one_another(window, workbench):
    garment = workbench.example()
    one = window(f"/garment/{garment}/record")
    two = window(f"/garment/{garment}/record")
    figure(two, "Neck width").fill("2")  # still being typed
    figure(one, "Hem width").fill("56")
    figure(one, "Hem width").press("Enter")
    expect(figure(two, "Hem width")).to_have_value("56")
    expect(figure(two, "Neck width")).to_have_value("2")
    figure(two, "Neck width").fill("20")
    figure(two, "Neck width").press("Enter")
    expect(figure(one, "Neck width")).to_have_value("20")
    record = stored(workbench, garment, lambda r: r.tape["neck_width"].mm == 200.0)
    assert record.tape["hem_width"].mm == 560.0


def test_the_address_leads_to_a_field(window, workbench):
    garment = workbench.example()
    page = window(f"/garment/{garment}/record?measure=side_length")
    expect(figure(page, "Side length")).to_be_focused()
    page = window(f"/garment/{garment}/record?measure=front_armhole_drop")
    expect(figure(page, "Armhole drop, front alone")).to_be_focused()
    page = window(f"/garment/{garment}/record?field=fabric.stretch_across")
    expect(page.get_by_label("Stretch across the grain")).to_be_focused()


def test_a_measure_in_the_drawing_leads_to_its_field(window, workbench):
    garment = workbench.example()
    page = window(f"/garment/{garment}/record")
    page.locator('[data-id="cuff_width"]').first.wait_for(state="attached")
    at = page.locator('[data-id="cuff_width"]').first.bounding_box()
    page.mouse.click(at["x"] + at["width"] / 2, at["y"] + at["height"] / 2)
    expect(figure(page, "Cuff width")).to_be_focused()
    page.mouse.move(at["x"] + at["width"] / 2, at["y"] + at["height"] / 2 + 1)
    expect(page.locator(".ls-figure.ls-over")).to_contain_text("Cuff width")


def test_particulars_are_kept_and_another_unit_changes_no_length(window, workbench):
    garment = workbench.example()
    page = window(f"/garment/{garment}/record?field=garment.unit")
    before = {key: figure.mm for key, figure in record_of(workbench, garment).tape.items()}
    page.get_by_label("Unit").select_option("in")
    record = stored(workbench, garment, lambda r: r.unit == "in")
    assert {key: figure.mm for key, figure in record.tape.items()} == before
    assert record.wearer.head_mm == 570.0
    expect(figure(page, "Hem width")).to_have_value("54 cm")
    page.get_by_label("Size").fill("L")
    page.get_by_label("For a child").check()
    page.get_by_label("Neck: width of the old finish").fill("3/4")
    page.get_by_label("Neck: width of the old finish").press("Tab")
    record = stored(workbench, garment, lambda r: r.finish_lengths)
    assert (record.size, record.for_child) == ("L", True)
    assert record.finish_lengths["neck"]["old_width"] == pytest.approx(19.05)


def test_the_garment_file_is_saved_where_it_can_be_used(window, workbench):
    garment = workbench.example()
    text = workbench.document(garment)["text"]
    page = window(f"/garment/{garment}/record?field=file")
    area = page.get_by_role("textbox", name="The garment file")
    expect(area).to_have_value(text)
    area.fill(text.replace("hem_width = 54", "hem_width = 5400"))
    page.get_by_role("button", name="Save the file").click()
    refusal = page.locator(".ls-code").get_by_role("alert")
    line = text[: text.index("hem_width")].count("\n") + 1
    expect(refusal).to_contain_text(f"line {line}: This length is too large to be right. Found: 5400")
    assert workbench.document(garment)["text"] == text
    area.fill(text.replace("hem_width = 54", "hem_width = 55"))
    page.get_by_role("button", name="Save the file").click()
    stored(workbench, garment, lambda r: r.tape["hem_width"].mm == 550.0)
    expect(figure(page, "Hem width")).to_have_value("55")
    with page.expect_download() as download:
        page.get_by_role("link", name="Download the file").click()
    assert download.value.path().read_text() == workbench.document(garment)["text"]


def test_a_file_with_a_fault_is_shown_with_what_is_wrong_and_can_be_mended(window, workbench):
    garment = workbench.example()
    document = workbench.document(garment)
    text = document["text"].replace("hem_width = 54", 'hem_width = "5 furlongs"')
    new = {"revision": document["revision"], "text": text, "said": "broken"}
    workbench.api.put(f"/garments/{garment}/file", json=new).raise_for_status()
    page = window(f"/garment/{garment}/record")
    expect(page.get_by_role("heading", name="What is wrong in the garment file")).to_be_visible()
    expect(page.get_by_text(re.compile('Found: "5 furlongs"')).first).to_be_visible()
    expect(figure(page, "Hem width")).to_have_value("5 furlongs")
    figure(page, "Hem width").fill("54")
    figure(page, "Hem width").press("Enter")
    stored(workbench, garment, lambda r: r.tape["hem_width"].mm == 540.0)
    expect(page.get_by_role("heading", name="What is wrong in the garment file")).to_be_hidden()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 1280])
def test_axe_finds_nothing(window, workbench, scheme, width):
    garment = workbench.example()
    page = window(f"/garment/{garment}/record", color_scheme=scheme, viewport={"width": width, "height": 900})
    shape(page)
    figure(page, "Hem width").click()
    figure(page, "Hem width").fill("54 cmm")
    figure(page, "Hem width").press("Enter")
    expect(page.get_by_role("alert").filter(has_text="cmm")).to_be_visible()
    folded = page.locator("details:not([open]) > summary")
    while folded.count():
        folded.first.click()
    found = looked_over(page)
    assert found.violations_count == 0, found.generate_report()


def test_what_is_typed_in_a_hurry_is_neither_lost_nor_taken_out_of_its_field(window, workbench):
    garment = workbench.empty()
    page = window(f"/garment/{garment}/record")
    shape(page)
    hurried = {"body_length": "67", "chest_width": "53", "shoulder_width": "43", "neck_width": "19"}
    for key, value in hurried.items():
        page.locator(f"[data-row={key}] input").first.fill(value)
    page.locator("[data-row=neck_width] input").first.press("Enter")
    for key, value in hurried.items():
        expect(page.locator(f"[data-row={key}] input").first).to_have_value(value)
    stored(workbench, garment, lambda r: typed(r) == hurried)
    for key, value in hurried.items():
        expect(page.locator(f"[data-row={key}] input").first).to_have_value(value)
