"""A browser for the tests of the page: the Chromium of the system, led by playwright, and a judge of accessibility."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.resources import files
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

NEEDED = "INLAYFIT_NEEDS_BROWSER"
"""Where this is set, a browser that is missing is a failure and no reason to skip."""

PROGRAMS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
DESK, PHONE = {"width": 1400, "height": 900}, {"width": 390, "height": 844}


def missing(reason: str) -> None:
    """Skip, or fail where a browser is needed."""
    if os.environ.get(NEEDED):
        pytest.fail(f"{reason}, and {NEEDED} is set")
    pytest.skip(reason)


@contextmanager
def chromium() -> Iterator[Browser]:
    """Give the browser of the system, without a window."""
    program = next((found for name in PROGRAMS if (found := shutil.which(name))), None)
    if program is None:
        missing(f"no browser is installed: none of {', '.join(PROGRAMS)}")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=["--no-sandbox"])
        try:
            yield browser
        finally:
            browser.close()


def axe_source() -> str:
    """Return the script of axe-core, Deque's rules for WCAG (MPL-2.0, for the tests alone)."""
    return files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")


class Watch:
    """Everything that a page complains of or asks for besides itself."""

    def __init__(self, page: Page, path: Path) -> None:
        self.told: list[str] = []
        self.asked: list[str] = []
        own = path.as_uri()
        page.on("console", lambda message: self.told.append(message.text))
        page.on("pageerror", lambda error: self.told.append(str(error)))
        page.on("request", lambda request: request.url == own or self.asked.append(request.url))
