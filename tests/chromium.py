"""The browser of the tests: this machine's Chromium, kept to itself."""

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from playwright.sync_api import Browser, BrowserContext, expect, sync_playwright

from patience import PATIENCE

expect.set_options(timeout=1000.0 * PATIENCE)

SWITCHES = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


@contextmanager
def chromium(*more: str) -> Iterator[Browser]:
    """Open Chromium with further switches; without one, CI fails and a person's own run skips."""
    path = shutil.which("chromium")
    if path is None:
        if os.environ.get("CI"):
            pytest.fail("chromium is not installed, and the workbench cannot be tested without it")
        pytest.skip("chromium is not installed")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=[*SWITCHES, *more])
        yield browser
        browser.close()


def patient(context: BrowserContext) -> BrowserContext:
    """Let what a page is told to do wait as long as what is expected of it."""
    context.set_default_timeout(1000.0 * PATIENCE)
    return context
