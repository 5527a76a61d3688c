"""A photograph comes in by the phone's door: a second device finds its address on the page and sends one."""

import re

import pytest
from playwright.sync_api import Error, expect

from web.garment_photo import GPS, taken


@pytest.fixture
def phone(chromium):
    context = chromium.new_context(viewport={"width": 390, "height": 800}, has_touch=True, is_mobile=True)
    context.set_default_timeout(20_000)
    yield context.new_page()
    context.close()


def test_a_phone_sends_a_photograph_of_this_garment(window, workbench, phone):
    garment = workbench.empty()
    page = window(f"/garment/{garment}/record?photo=1")
    expect(page.get_by_text("for this garment alone and for ten minutes")).to_be_visible()
    page.get_by_role("button", name="Take one with the phone").click()
    address = page.get_by_text(re.compile(r"^http://"))
    expect(address).to_be_visible()
    expect(page.get_by_text("It closes by itself in 10 minutes.")).to_be_visible()
    expect(page.get_by_role("img", name="The address as a code")).to_be_visible()
    url = address.inner_text()
    phone.goto(url)
    phone.locator("input[type=file]").set_input_files(
        {"name": "IMG_0001.jpg", "mimeType": "image/jpeg", "buffer": taken().data}
    )
    phone.get_by_role("button", name="Send it").click()
    expect(phone.get_by_text("has arrived")).to_be_visible(timeout=30_000)
    # it appears by itself, ready to be worked on
    expect(page.get_by_role("region", name="Working on IMG_0001.jpg")).to_be_visible()
    (kept,) = workbench.document(garment)["aside"]["photos"]
    assert kept["name"] == "IMG_0001.jpg"
    assert GPS not in workbench.api.get(f"{workbench.origin}/photo/{kept['digest']}").content
    page.get_by_role("button", name="Back to the list").click()
    page.get_by_role("button", name="Close it now").click()
    expect(page.get_by_role("button", name="Take one with the phone")).to_be_visible()
    with pytest.raises(Error, match="ECONNREFUSED"):
        phone.request.get(url, timeout=5000)
