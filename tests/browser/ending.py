"""A browser that keeps what it has in a folder, as a phone does, and is ended without a warning."""

import os
import signal
from pathlib import Path

from playwright.sync_api import Browser, BrowserContext

from tests.browser.chromium import OPTIONS, PHONE, chromium_path
from tests.browser.conftest import SLOWEST_MS

# Everything goes to a proxy that is not there: what a page asks for by itself and what its worker does, from the start.
NO_NETWORK = ["--proxy-server=http://127.0.0.1:1", "--proxy-bypass-list=<-loopback>"]


def opened_on(browser: Browser, folder: Path, address: str, *, is_online: bool = True) -> BrowserContext:
    """A browser that keeps what it has in a folder, as a phone does."""
    options = OPTIONS if is_online else [*OPTIONS, *NO_NETWORK]
    context = browser.browser_type.launch_persistent_context(
        folder, executable_path=chromium_path(), args=options, base_url=address, **PHONE.options
    )
    context.set_default_timeout(SLOWEST_MS)
    return context


def end_browser_of(folder: Path) -> None:
    """As a phone whose battery is empty: no page is told."""
    for process in Path("/proc").iterdir():
        if process.name.isdigit() and str(folder) in _command_of(process):
            os.kill(int(process.name), signal.SIGKILL)


def _command_of(process: Path) -> str:
    try:
        return (process / "cmdline").read_bytes().decode("utf-8", "replace")
    except OSError:
        return ""
