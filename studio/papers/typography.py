"""Lettering: the fonts that travel with the project, and text measured and shortened to fit its place.

ReportLab is loaded when text is first measured, never by importing this module.
Scripts written from right to left would be drawn back to front and unjoined, so they count as missing from the fonts.
"""

import re
import threading
import unicodedata
from pathlib import Path
from typing import NamedTuple

Colour = tuple[float, float, float]
INK: Colour = (0.10, 0.13, 0.16)

ELLIPSIS = "…"
# Characters of the scripts that the fonts cover, so that most text needs no look at the fonts.
_COVERED = re.compile(
    r"[\x00-\u024f\u0370-\u0373\u0391-\u03a1\u03a3-\u03ff\u0400-\u04ff\u1ea0-\u1ef9\u2010-\u201f\u20ac]*"
)
MISSING = "?"


class TextStyle(NamedTuple):
    """How text looks: size in points, weight and colour."""

    size: float
    bold: bool = False
    colour: Colour = INK

    @property
    def font(self) -> str:
        return "Meniscus-Bold" if self.bold else "Meniscus"


class _Fonts(NamedTuple):
    widths: dict[str, float]
    bold_widths: dict[str, float]
    drawable: "_DrawableCharacters"


class _DrawableCharacters(dict[int, int | str | None]):
    """A translation table filled as characters turn up: what to draw for each one typed."""

    def __init__(self, covered: frozenset[int]) -> None:
        super().__init__()
        self.covered = covered

    def __missing__(self, code: int) -> int | str | None:
        drawn = self._decide(code)
        if code <= 0xFFFF:  # keeps the table small whatever is typed
            self[code] = drawn
        return drawn

    def _decide(self, code: int) -> int | str | None:
        if code in (0x00A0, 0x202F):  # no-break spaces hold "1 234 €" together
            return code
        category = unicodedata.category(chr(code))
        if category in ("Zs", "Zl", "Zp") or chr(code).isspace():
            return " "
        if category in ("Cc", "Cf") or 0xFE00 <= code <= 0xFE0F:
            return None
        if unicodedata.bidirectional(chr(code)) in ("R", "AL"):
            return MISSING
        # beyond the first plane ReportLab writes codes that no reader can copy back out of the file
        return code if code in self.covered and code <= 0xFFFF else MISSING


_loaded_fonts: _Fonts | None = None
_loading = threading.Lock()


def loaded_fonts() -> _Fonts:
    global _loaded_fonts
    if _loaded_fonts is None:
        with _loading:  # registering twice would swap a font under a sheet half drawn
            if _loaded_fonts is None:
                _loaded_fonts = _registerfonts()
    return _loaded_fonts


def _registerfonts() -> _Fonts:
    from reportlab.pdfbase.pdfmetrics import registerFont
    from reportlab.pdfbase.ttfonts import TTFont

    folder = Path(__file__).parent / "fonts"
    regular = TTFont(TextStyle(1).font, str(folder / "DejaVuSans.ttf"))
    bold = TTFont(TextStyle(1, bold=True).font, str(folder / "DejaVuSans-Bold.ttf"))
    registerFont(regular)
    registerFont(bold)
    covered = frozenset(regular.face.charToGlyph) & frozenset(bold.face.charToGlyph)
    widths, bold_widths = (
        {chr(code): font.face.charWidths.get(code, font.face.defaultWidth) / 1000 for code in covered}
        for font in (regular, bold)
    )
    return _Fonts(widths, bold_widths, _DrawableCharacters(covered))


def printable(text: str) -> str:
    """Return text as one drawable line: invisible characters removed, those the fonts lack shown as question marks."""
    if not (text.isascii() and text.isprintable()):
        text = unicodedata.normalize("NFC", text).translate(loaded_fonts().drawable)
    return " ".join([word for word in text.split(" ") if word])


def unprintable(text: str) -> str:
    """The characters of a text that are printed as question marks, each once; most texts have none."""
    if _COVERED.fullmatch(text):
        return ""
    drawable = loaded_fonts().drawable
    composed = unicodedata.normalize("NFC", text)
    return "".join(
        dict.fromkeys(each for each in composed if each != MISSING and drawable[ord(each)] == MISSING)
    )


def text_width(text: str, style: TextStyle) -> float:
    """Return the width of text in points, as it would be drawn."""
    return width_of(printable(text), style)


def width_of(text: str, style: TextStyle) -> float:
    fonts = loaded_fonts()
    widths = fonts.bold_widths if style.bold else fonts.widths
    return style.size * sum(map(widths.__getitem__, text))


def shorten(text: str, style: TextStyle, width: float) -> str:
    """Return text, cut with an ellipsis where it is wider than width points."""
    text = printable(text)
    if width_of(text, style) <= width:
        return text
    end = _fitting_length(text, style, width - width_of(ELLIPSIS, style))
    space = text.rfind(" ", 0, end + 1)
    if space > end * 2 // 3:  # whole words read better, unless that gives up much of the room
        end = space
    return text[:end].rstrip(" ,;:") + ELLIPSIS


def wrap(text: str, style: TextStyle, width: float, lines: int) -> list[str]:
    """Return text as at most so many lines of width points, the last one shortened; empty text has none."""
    rest = printable(text)
    wrapped: list[str] = []
    while rest and len(wrapped) < lines - 1:
        line, rest = _break_line(rest, style, width)
        wrapped.append(line)
    if rest:
        wrapped.append(shorten(rest, style, width))
    return wrapped


def fit(text: str, style: TextStyle, width: float, smallest: float = 6) -> tuple[str, TextStyle]:
    """Return text in a style made small enough for width points: a price is never cut while it can shrink."""
    text = printable(text)
    natural = width_of(text, style)
    if natural > width:
        style = style._replace(size=max(smallest, style.size * width / natural))
        text = shorten(text, style, width + 0.01)
    return text, style


def _break_line(text: str, style: TextStyle, width: float) -> tuple[str, str]:
    if width_of(text, style) <= width:
        return text, ""
    end = max(1, _fitting_length(text, style, width))
    space = text.rfind(" ", 0, end + 1)
    if space > 0:
        end = space
    return text[:end], text[end:].lstrip(" ")


def _fitting_length(text: str, style: TextStyle, width: float) -> int:
    fonts = loaded_fonts()
    widths = fonts.bold_widths if style.bold else fonts.widths
    reach = 0.0
    for index, character in enumerate(text):
        reach += style.size * widths[character]
        if reach > width:
            while index > 0 and unicodedata.combining(text[index]):  # a letter keeps its accents
                index -= 1
            return index
    return len(text)
