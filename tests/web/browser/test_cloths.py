"""The drawer of cloths in the browser: put in, refused in words, changed, removed and put back, used."""

import pytest
from playwright.sync_api import expect

from windows import SIZES, assert_clean, wait_for


@pytest.fixture(autouse=True)
def empty(workbench):
    for cloth in workbench.api.get("/cloths").json():
        workbench.api.delete(f"/cloths/{cloth['cloth']}")


def kept(workbench):
    return workbench.api.get("/cloths").json()


def test_a_cloth_is_put_in_changed_removed_and_put_back(window, workbench):
    page = window("/cloths")
    page.get_by_role("button", name="Put a cloth in").click()
    page.get_by_label("Name").fill("Blue linen")
    page.get_by_label("Width", exact=True).fill("wide")
    page.get_by_label("Length in hand").fill("2.5")
    page.get_by_label("Folding").select_option("open")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("alert").filter(has_text="wide")).to_be_visible()
    assert kept(workbench) == []
    page.get_by_label("Width", exact=True).fill("140")
    page.get_by_label("Length in hand").fill("2.5 m")
    page.get_by_label("It has a nap").check()
    page.get_by_role("button", name="Save").click()
    (cloth,) = wait_for(lambda: kept(workbench), what="the cloth")
    # lengths are kept with their unit, whatever garment they are later used for
    assert set(cloth["text"].splitlines()) == {
        'width = "140 cm"',
        'length = "2.5 m"',
        'folding = "open"',
        "nap = true",
    }
    expect(page.get_by_text("width 140 cm")).to_be_visible()
    page.get_by_role("button", name="Change: Blue linen").click()
    expect(page.get_by_label("Width", exact=True)).to_have_value("140 cm")
    expect(page.get_by_label("It has a nap")).to_be_checked()
    page.get_by_label("It has a nap").uncheck()
    page.get_by_label("Length in hand").fill("")
    page.get_by_role("button", name="Save").click()
    wait_for(lambda: "nap" not in kept(workbench)[0]["text"], what="no nap")
    assert "length" not in kept(workbench)[0]["text"]
    page.get_by_role("button", name="Take out: Blue linen").click()
    wait_for(lambda: kept(workbench) == [], what="an empty drawer")
    page.get_by_role("button", name="Undo").click()
    wait_for(lambda: len(kept(workbench)) == 1, what="the cloth put back")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", SIZES)
def test_it_is_clean(window, workbench, size, scheme):
    new = {"name": "Blue linen", "text": 'width = "140 cm"\n', "note": "From the market"}
    workbench.api.post("/cloths", json=new).raise_for_status()
    page = window("/cloths", viewport={"width": size[0], "height": size[1]}, color_scheme=scheme)
    page.get_by_role("button", name="Change: Blue linen").click()
    expect(page.get_by_label("Width", exact=True)).to_be_visible()
    assert_clean(page)
