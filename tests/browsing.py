"""A real browser for the tests of pages."""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager

import pytest

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
# Without this a window loads, besides the page, the list under a line for addresses, which takes longer than the page.
_BARE = "--disable-features=WebUIOmniboxPopup,WebUIOmniboxAimPopup"
in_a_browser = pytest.mark.skipif(CHROMIUM is None, reason="no Chromium is installed")


@contextmanager
def chromium(*flags: str) -> Iterator:
    """One that draws without a graphics card."""
    sync_api = pytest.importorskip("playwright.sync_api")
    with sync_api.sync_playwright() as play:
        found = launched(play.chromium, *flags)
        yield found
        found.close()


@contextmanager
def window(browser, **looks) -> Iterator:
    """Nothing kept from other windows. Pages are closed first: with pages in it a window takes ten times as long."""
    found = browser.new_context(**looks)
    found.set_default_timeout(20_000)
    try:
        yield found
    finally:
        for page in found.pages:
            page.close()
        found.close()


def launched(kind, *flags: str):
    """Another of them while one runs."""
    return kind.launch(executable_path=CHROMIUM, args=["--no-sandbox", _BARE, *(flags or ["--disable-gpu"])])
