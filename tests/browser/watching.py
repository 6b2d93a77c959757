"""What a page does besides showing itself: errors in the console, calls to other hosts, its weight and measures."""

from typing import Any
from urllib.parse import urlsplit

from playwright.sync_api import BrowserContext, ConsoleMessage, Page, Request

# Width that does not fit, tables that lie over what stands beside them, bytes without photos, and what is too low to be
# touched with a gloved hand. A link in the middle of a sentence is as high as its line, which WCAG 2.2 allows (success
# criterion 2.5.8, the exception "Inline"); the menu and question marks of a desk with a mouse have its least height,
# 24 px.
MEASURE = """() => {
  const page = document.documentElement;
  const photos = /\\/(pieces\\/\\d+\\/(photo|thumbnail)|photos\\/\\d+(\\/thumbnail)?|counts\\/\\d+\\/picture)\\/$/;
  const entries = performance.getEntriesByType("navigation").concat(performance.getEntriesByType("resource"));
  const weight = entries.filter(entry => !photos.test(new URL(entry.name).pathname))
    .reduce((sum, entry) => sum + entry.encodedBodySize, 0);
  const low = [];
  for (const control of document.querySelectorAll("a[href], button, input, select, textarea, summary")) {
    const box = control.closest("label") || control;
    const place = box.getBoundingClientRect();
    const isInline = control.localName === "a" && getComputedStyle(control).display === "inline";
    if (control.type === "hidden" || isInline || !control.checkVisibility({ visibilityProperty: true })) { continue; }
    const isByMouse = control.closest(".rail, .term-mark") && !matchMedia("(pointer: coarse)").matches;
    if (place.width > 1 && place.height > 1 && place.height < (isByMouse ? 24 : 44)) {
      low.push(control.outerHTML.slice(0, 120) + " is " + Math.round(place.height) + " px high");
    }
  }
  const spilt = [];
  const slides = place => ["auto", "scroll"].includes(getComputedStyle(place).overflowX);
  const scrolls = place => place && (slides(place) || scrolls(place.parentElement));
  for (const table of document.querySelectorAll("main table")) {
    const over = table.getBoundingClientRect().right - table.parentElement.getBoundingClientRect().right;
    if (over > 1 && !scrolls(table.parentElement)) {
      spilt.push((table.caption || table).innerText.slice(0, 60) + " spills over by " + Math.round(over) + " px");
    }
  }
  return { wider: page.scrollWidth - page.clientWidth, weight, low, spilt };
}"""

# Chromium shows a PDF by pages of its own, and looks beside it for an icon.
BROWSERS_OWN = ("chrome-extension://", "chrome://")


class Watch:
    """Notes what goes wrong on the pages of one browser context."""

    def __init__(self, context: BrowserContext, home: str) -> None:
        self.home = urlsplit(home).netloc
        self.wrong: list[str] = []
        context.on("console", self._said)
        context.on("weberror", lambda error: self.wrong.append(f"script failed: {error.error}"))
        context.on("request", self._asked)

    def _said(self, message: ConsoleMessage) -> None:
        # A broken content security policy is told here too. A form that is refused comes back with status 422.
        place = message.location["url"]
        is_own = (
            place.startswith(BROWSERS_OWN)
            or place.endswith("/favicon.ico")
            or "status of 422" in message.text
        )
        if message.type in ("error", "warning") and not is_own:
            self.wrong.append(f"console: {message.text} ({place})")

    def _asked(self, request: Request) -> None:
        is_own = request.url.startswith((*BROWSERS_OWN, "data:", "blob:"))
        if not is_own and urlsplit(request.url).netloc != self.home:
            self.wrong.append(f"asked another host: {request.url}")

    def told(self) -> list[str]:
        """What went wrong since the last time of asking."""
        told, self.wrong = self.wrong, []
        return told


def measure(page: Page) -> dict[str, Any]:
    """`wider` pixels than the screen, `spilt` tables, `weight` in bytes without photos, `low` targets."""
    measured: dict[str, Any] = page.evaluate(MEASURE)
    return measured
