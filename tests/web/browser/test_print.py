"""Printing in the browser: pages looked at one by one, files downloaded, read back and measured."""

import ctypes
import io
import json
import zipfile
from itertools import pairwise

import numpy as np
import pypdfium2 as pdfium
import pytest
from playwright.sync_api import expect
from pypdfium2 import raw

from likesewn.garment import read_garment
from windows import SIZES, assert_clean

MM_PER_POINT = 25.4 / 72


def count(page):
    shown = page.get_by_role("status").filter(has_text="sheets of")
    expect(shown).to_be_visible()
    return int(shown.inner_text().split()[0])


def downloaded(page, name):
    with page.expect_download() as begun:
        page.get_by_role("link", name=name).click()
    return begun.value.suggested_filename, begun.value.path().read_bytes()


def sides(page):
    """Lengths of the straight strokes of a PDF page, mm, from the points that they run through."""
    found = []
    for thing in page.get_objects(filter=[raw.FPDF_PAGEOBJ_PATH]):
        points = []
        for i in range(raw.FPDFPath_CountSegments(thing)):
            x, y = ctypes.c_float(), ctypes.c_float()
            raw.FPDFPathSegment_GetPoint(raw.FPDFPath_GetPathSegment(thing, i), x, y)
            points.append((x.value, y.value))
        found += [max(abs(a - c), abs(b - d)) * MM_PER_POINT for (a, b), (c, d) in pairwise(points)]
    return np.array(found)


def test_pages_are_looked_at_one_by_one(window, workbench):
    garment = workbench.example()
    page = window(f"/garment/{garment}/print")
    sheets = count(page)
    pages = page.get_by_label("Page", exact=True)
    expect(pages.locator("option")).to_have_count(sheets + 2)
    expect(page.get_by_role("button", name="Page before")).to_be_disabled()
    page.get_by_role("button", name="Next page").click()
    expect(page.locator("#form").get_by_text("The first page: how to print")).to_be_visible()
    page.get_by_role("button", name="Next page").click()
    expect(pages).to_have_value("A1")
    page.get_by_role("button", name="All sheets").click()
    expect(pages).to_have_value("")
    sheet = page.locator('[data-id="B2"]').first
    sheet.wait_for(state="attached")
    at = sheet.bounding_box()
    page.mouse.click(at["x"] + 8, at["y"] + at["height"] - 8)
    expect(pages).to_have_value("B2")
    expect(page.locator("#form").get_by_text("Sheet B2:")).to_be_visible()


def test_downloads_read_back_and_measured(window, workbench):
    garment = workbench.example()
    page = window(f"/garment/{garment}/print")
    sheets = count(page)
    name, content = downloaded(page, "Pattern to print (PDF)")
    assert name == "Throwing top pattern-a4.pdf"
    document = pdfium.PdfDocument(content)
    assert len(document) == sheets + 1
    for sheet in document:
        assert np.allclose(np.array(sheet.get_size()) * MM_PER_POINT, (210.0, 297.0), atol=0.01)
    for wanted in (100.0, 101.6):
        assert np.count_nonzero(np.abs(sides(document[0]) - wanted) < 0.005) >= 4, wanted
    name, content = downloaded(page, "Everything, as one zip")
    assert name == "Throwing top.zip"
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        held = set(packed.namelist())
        figures = json.loads(packed.read("summary.json"))
        text = packed.read("Throwing top.toml").decode()
        assert packed.read("pattern-a4.pdf") == downloaded(page, "Pattern to print (PDF)")[1]
    assert {"pattern.svg", "lay-plan.pdf", "sewing-plan.html", "reference-sheets-a4.pdf"} <= held
    assert read_garment(text).tape["chest_width"].mm == 530.0
    assert abs(figures["measures"]["chest_width"]["value_mm"] - 530.0) < 1.0
    versions = workbench.api.get(f"/garments/{garment}/versions").raise_for_status().json()
    assert "make" in json.dumps(versions)


def test_another_paper(window, workbench):
    garment = workbench.example()
    page = window(f"/garment/{garment}/print")
    on_a4 = count(page)
    page.get_by_label("Paper").select_option("a3")
    expect(page.get_by_role("status").filter(has_text="of A3 paper")).to_be_visible()
    assert count(page) < on_a4
    name, content = downloaded(page, "Pattern to print (PDF)")
    assert name == "Throwing top pattern-a3.pdf"
    assert len(pdfium.PdfDocument(content)) == count(page) + 1


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", SIZES)
def test_it_is_clean(window, workbench, size, scheme):
    garment = workbench.example()
    viewport = {"width": size[0], "height": size[1]}
    page = window(f"/garment/{garment}/print", viewport=viewport, color_scheme=scheme)
    count(page)
    page.locator("summary").first.click()
    assert_clean(page)
