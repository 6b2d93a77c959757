"""Finding the browser, and opening it the same way for the tests and for the pictures."""

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from playwright.sync_api import Browser, sync_playwright

# Chromium keeps to the pages under test: it asks nothing of the internet by itself.
OPTIONS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


class NoBrowser(Exception):
    """Raised when no Chromium is installed."""


@dataclass(frozen=True, slots=True)
class Screen:
    """What somebody looks at the pages with."""

    width: int
    height: int
    scheme: str = "light"
    touch: bool = False
    script: bool = True

    def __str__(self) -> str:
        words = [f"{self.width}", self.scheme, "" if self.script else "no script"]
        return " ".join(word for word in words if word)

    @property
    def options(self) -> dict[str, Any]:
        """For `browser.new_context`."""
        return {
            "viewport": {"width": self.width, "height": self.height},
            "color_scheme": self.scheme,
            "has_touch": self.touch,
            "is_mobile": self.touch,
            "java_script_enabled": self.script,
            "locale": "en-GB",
            "timezone_id": "UTC",
        }


PHONE = Screen(360, 800, touch=True)
DESK = Screen(1440, 900)
DESK_WITHOUT_SCRIPT = Screen(1440, 900, script=False)
EVERY_SCREEN = [
    Screen(width, height, scheme, touch=width < 1440)
    for width, height in ((360, 800), (768, 1024), (1440, 900))
    for scheme in ("light", "dark")
]


def chromium_path() -> str:
    """The Chromium to drive. Raises NoBrowser."""
    path = os.environ.get("MENISCUS_CHROMIUM") or shutil.which("chromium")
    if not path or not os.access(path, os.X_OK):
        raise NoBrowser("No Chromium found: install Debian's chromium, or name one in MENISCUS_CHROMIUM.")
    return path


def is_required() -> bool:
    """Whether a missing browser is a failure, as it is where all tests must run."""
    return os.environ.get("CI") == "true" or os.environ.get("MENISCUS_BROWSER_REQUIRED") == "1"


@contextmanager
def chromium() -> Iterator[Browser]:
    """A running browser. Raises NoBrowser."""
    path = chromium_path()
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=OPTIONS)
        try:
            yield browser
        finally:
            browser.close()
