"""Papers: page sizes, text that fits its place, and the frame every printed sheet shares.

ReportLab is loaded when a sheet is opened, never by importing this module: Django's start-up stays light.
Text is drawn as bare strings, never read as markup: nothing typed can restyle or break a page or open a file.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import IO, TYPE_CHECKING, Literal, NamedTuple

from studio.errors import InputError
from studio.papers.typography import Colour, TextStyle, fit, loaded_fonts, printable, shorten, width_of, wrap
from studio.translation import _, language

if TYPE_CHECKING:
    from reportlab.lib.utils import ImageReader

MM = 72 / 25.4  # points in a millimetre

SOFT_INK: Colour = (0.36, 0.41, 0.43)
LIQUID: Colour = (0.02, 0.38, 0.41)
HAIRLINE: Colour = (0.79, 0.82, 0.81)

LOGO = 80.0, 46.0  # points on A4: the room for a logo, as high as the heading's two lines
LEAST_HEADING = 12.5  # points on A4: a title that is longer stands on two lines
PHOTO_DPI, PHOTO_QUALITY = 200, 80
JPEG = b"\xff\xd8"  # how such a file begins (ITU-T T.81)
LARGEST_PHOTO = 4_000_000  # pixels: a paper takes thumbnails, and a photo that unpacks to more is not one


class Paper(NamedTuple):
    """One paper size: sides and margin in millimetres, how large its type is beside A4, and printed in grey or not."""

    name: str
    width_mm: float
    height_mm: float
    margin_mm: float
    scale: float
    is_grey: bool = False

    @property
    def width(self) -> float:
        return self.width_mm * MM

    @property
    def height(self) -> float:
        return self.height_mm * MM

    @property
    def margin(self) -> float:
        return self.margin_mm * MM


# A sizes: ISO 216. US Letter is 8.5 × 11 in.
PAPERS = {
    "a4": Paper("A4", 210, 297, 18, 1.0),
    "a5": Paper("A5", 148, 210, 12, 0.9),
    "a6": Paper("A6", 105, 148, 8, 0.8),
    "us letter": Paper("US Letter", 215.9, 279.4, 18, 1.0),
}
OTHER_NAMES = {"letter": "us letter"}


def paper_named(name: str | Paper, *, is_grey: bool = False) -> Paper:
    """Return the paper called name, in either case; raises InputError that lists the papers there are."""
    if isinstance(name, Paper):
        return name
    plain = " ".join(name.lower().split())
    try:
        return PAPERS[OTHER_NAMES.get(plain, plain)]._replace(is_grey=is_grey)
    except KeyError:
        choices = ", ".join(paper.name for paper in PAPERS.values())
        problem = _("“{name}” is not a known document. Choose {choices}.", name=name, choices=choices)
        raise InputError(problem, field="paper") from None


class Box(NamedTuple):
    """A part of the page, in points from its top left corner."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        return self.right - self.left

    @property
    def height(self) -> float:
        return self.bottom - self.top


def _grey(colour: Colour) -> float:
    """How light a colour is: luma of ITU-R BT.601, as Pillow turns photos grey."""
    red, green, blue = colour
    return round(0.299 * red + 0.587 * green + 0.114 * blue, 3)


def at_printed_size(photo: bytes, box: Box, *, is_grey: bool = False) -> BytesIO:
    """A photo as a JPEG with no more pixels than are printed in the box. Raises what Pillow does for a damaged file."""
    from PIL import Image, ImageOps

    side, out = _printed_pixels(box), BytesIO()
    with Image.open(BytesIO(photo)) as picture:
        if picture.width * picture.height > LARGEST_PHOTO:
            raise ValueError("too many pixels")
        picture.draft("L" if is_grey else "RGB", side)
        seen = picture.convert("RGBA") if picture.has_transparency_data else picture
        if seen.mode == "RGBA":
            seen = Image.alpha_composite(Image.new("RGBA", seen.size, "white"), seen)
        plain = ImageOps.grayscale(seen) if is_grey else seen.convert("RGB")
        plain.thumbnail(side, Image.Resampling.BILINEAR)
        plain.save(out, "JPEG", quality=PHOTO_QUALITY, optimize=True)
    out.seek(0)
    return out


def _reader_of(photo: bytes, box: Box, *, is_grey: bool) -> "ImageReader":
    """A photo to be drawn in the box: a JPEG no larger than it is printed as it is, byte for byte."""
    from reportlab.lib.utils import ImageReader

    most = max(_printed_pixels(box))
    reader = ImageReader(BytesIO(photo))
    if is_grey or not photo.startswith(JPEG) or max(reader.getSize()) > most:
        return ImageReader(at_printed_size(photo, box, is_grey=is_grey))
    reader.getRGBData()  # type: ignore[no-untyped-call]  # which a damaged file refuses, and the reader keeps
    return reader


def _printed_pixels(box: Box) -> tuple[int, int]:
    """The sides of a box in the pixels that are printed in it."""
    width, height = (max(1, round(points * PHOTO_DPI / 72)) for points in (box.width, box.height))
    return width, height


class Sheet:
    """One PDF being drawn: places in points from the top left corner, letters standing on a baseline."""

    def __init__(self, paper: Paper, *, title: str, author: str) -> None:
        from reportlab import rl_config
        from reportlab.pdfgen.canvas import Canvas

        from studio.papers.pdf_file import PdfFile

        rl_config.useA85 = (
            0  # photos and pages as plain bytes: a fifth smaller and far quicker than as letters
        )
        loaded_fonts()
        self.paper = paper
        # invariant: no clock in the file, so the same rows make the same bytes
        self._canvas = Canvas(
            "", pagesize=(paper.width, paper.height), pageCompression=1, invariant=1, lang=language()
        )
        self._canvas.setTitle(printable(title))
        self._canvas.setAuthor(printable(author))
        self._canvas.setCreator("Meniscus")
        self._pdf = PdfFile(self._canvas)
        self._style: TextStyle | None = None

    def text(
        self,
        x: float,
        baseline: float,
        text: str,
        style: TextStyle,
        align: Literal["left", "right", "centre"] = "left",
    ) -> None:
        """Draw one line of text that starts, ends or is centred at x."""
        text = printable(text)
        if not text:
            return
        if style != self._style:
            self._canvas.setFont(style.font, style.size)
            self._fill(style.colour)
            self._style = style
        if align != "left":
            x -= width_of(text, style) / (1 if align == "right" else 2)
        self._canvas.drawString(x, self.paper.height - baseline, text)

    def lines(
        self, x: float, baseline: float, lines: Sequence[str], style: TextStyle, leading: float
    ) -> None:
        """Draw lines of text under one another, the first on the baseline given."""
        for number, line in enumerate(lines):
            self.text(x, baseline + number * leading, line, style)

    def rule(self, x: float, y: float, width: float) -> None:
        """Draw a hairline to the right."""
        self._stroke(HAIRLINE)
        self._canvas.setLineWidth(0.5)
        self._canvas.line(x, self.paper.height - y, x + width, self.paper.height - y)

    def box(self, box: Box, *, fill: Colour | None = None) -> None:
        """Draw a frame to write in; filled, it is a patch of colour, and its frame still stands out in grey print."""
        self._stroke(SOFT_INK)
        self._canvas.setLineWidth(0.6)
        if fill is not None:
            self._fill(fill)
        bottom = self.paper.height - box.bottom
        self._canvas.rect(box.left, bottom, box.width, box.height, stroke=1, fill=int(fill is not None))

    def qr_code(self, text: str, box: Box) -> None:
        """Draw a QR code (ISO/IEC 18004) of a text in a square box; half of its quiet zone lies around the box."""
        import segno  # here, because few papers need it

        rows = [bytes(row) for row in segno.make(text, error="m", micro=False).matrix_iter(border=2)]
        step = min(box.width, box.height) / len(rows)
        left, top = box.left, self.paper.height - box.top
        path = self._canvas.beginPath()
        for place, row in enumerate(rows):
            for run in re.finditer(rb"\x01+", row):
                path.rect(left + run.start() * step, top - (place + 1) * step, step * len(run[0]), step)
        self._fill((0, 0, 0))
        self._canvas.drawPath(path, stroke=0, fill=1)

    def meniscus(self, x: float, y: float, width: float, *, climb: float = 5, thickness: float = 1.4) -> None:
        """Draw the house's accent: liquid lying level at y, drawn up a little where it meets either side."""
        bottom, reach, right = self.paper.height - y, climb * 3, x + width
        level, edge = bottom + thickness, bottom + climb
        path = self._canvas.beginPath()
        path.moveTo(x, bottom)
        path.lineTo(x, edge)
        path.curveTo(x + 0.12 * reach, level, x + 0.4 * reach, level, x + reach, level)
        path.lineTo(right - reach, level)
        path.curveTo(right - 0.4 * reach, level, right - 0.12 * reach, level, right, edge)
        path.lineTo(right, bottom)
        path.close()
        self._fill(LIQUID)
        self._canvas.drawPath(path, stroke=0, fill=1)

    def photo(self, photo: bytes, box: Box, align: Literal["centre", "right"] = "centre") -> float:
        """Draw a JPEG or PNG at the top of the box, in its own proportions; returns where it ends. Equal ones are
        stored once.

        A photo that cannot be read leaves an empty frame: the rest of the paper is still wanted.
        """
        try:
            reader = _reader_of(photo, box, is_grey=self.paper.is_grey)
        except (OSError, SyntaxError, ValueError):  # the ways in which Pillow refuses a damaged file
            bottom = self.paper.height - box.bottom
            self._stroke(HAIRLINE)
            self._canvas.setLineWidth(0.5)
            self._canvas.rect(box.left + 0.25, bottom + 0.25, box.width - 0.5, box.height - 0.5)
            return box.bottom
        width, height = reader.getSize()
        scale = min(box.width / width, box.height / height)
        left = box.left + (box.width - width * scale) / (1 if align == "right" else 2)
        foot = self.paper.height - box.top - height * scale
        self._canvas.drawImage(reader, left, foot, width * scale, height * scale)
        return box.top + height * scale

    def _fill(self, colour: Colour) -> None:
        """Fill what comes next with a colour, or with its grey: a printer then needs black alone."""
        self._style = None
        if self.paper.is_grey:
            self._canvas.setFillGray(_grey(colour))
        else:
            self._canvas.setFillColorRGB(*colour)

    def _stroke(self, colour: Colour) -> None:
        if self.paper.is_grey:
            self._canvas.setStrokeGray(_grey(colour))
        else:
            self._canvas.setStrokeColorRGB(*colour)

    def turn_page(self) -> None:
        """End this page; the next mark starts another."""
        self._pdf.end_page()
        self._style = None

    def at_actual_size(self) -> None:
        """Ask the printing dialogue not to scale, for sheets whose marks must land on die-cut labels."""
        self._canvas.setViewerPreference("PrintScaling", "None")

    def finish(self) -> bytes:
        """Return the PDF; nothing can be drawn after this."""
        with self.finish_file() as file:
            return file.read()

    def finish_file(self) -> IO[bytes]:
        """The PDF as a file, at its beginning: a long one is never all in memory."""
        return self._pdf.finish()


def _page_of(page: int, pages: int) -> str:
    return _("page {page} of {pages}", page=page, pages=pages)


@dataclass(frozen=True)
class PageFrame:
    """What surrounds the rows of a paper: whose it is, what, where and when; a note above and one below.

    `contact` stands under the studio's name, `logo` (a JPEG) at the right.
    """

    studio: str
    title: str
    place_and_date: str = ""
    note: str = ""
    footer: str = ""
    contact: Sequence[str] = ()
    logo: bytes | None = None

    def body(self, paper: Paper, *, first: bool) -> Box:
        """Return the room between heading and footer on the first page or on a later one."""
        right, bottom = paper.width - paper.margin, paper.height - paper.margin
        bottom -= 9 * paper.scale * len(self._footer_lines(paper)) + 8
        heading = 13 * paper.scale
        if first:
            contact = self._contact_lines(paper)
            lines = 10 * len(contact) + (4 if contact else 0) + 14 * len(self._heading_lines(paper))
            heading = (48 + lines) * paper.scale
        return Box(paper.margin, paper.margin + heading + 14, right, bottom)

    def draw(self, sheet: Sheet, page: int, pages: int) -> Box:
        """Draw heading and footer of page so many of pages; returns the room left for the body."""
        paper, body = sheet.paper, self.body(sheet.paper, first=page == 1)
        if page == 1:
            self._draw_first_heading(sheet, body)
        else:
            small = TextStyle(9 * paper.scale, colour=SOFT_INK)
            name = small._replace(bold=True, colour=LIQUID)
            baseline = paper.margin + 9 * paper.scale
            studio = shorten(self.studio, name, body.width * 0.6)
            room = body.width - width_of(studio, name) - 12 * paper.scale
            sheet.text(body.left, baseline, studio, name)
            sheet.text(body.right, baseline, shorten(self.title, small, room), small, "right")
        sheet.meniscus(body.left, body.top, body.width)
        foot = self._footer_style(paper)
        baseline = body.bottom + 8 + 7 * paper.scale
        sheet.lines(body.left, baseline, self._footer_lines(paper), foot, 9 * paper.scale)
        sheet.text(body.right, baseline, _page_of(page, pages), foot, "right")
        return body

    def _draw_first_heading(self, sheet: Sheet, body: Box) -> None:
        scale, top = sheet.paper.scale, sheet.paper.margin
        studio = TextStyle(10 * scale, bold=True, colour=LIQUID)
        title = TextStyle(24 * scale, bold=True)
        width = self._text_width(sheet.paper)
        sheet.text(body.left, top + 10 * scale, shorten(self.studio, studio, width), studio)
        contact, small = self._contact_lines(sheet.paper), self._contact_style(sheet.paper)
        sheet.lines(body.left, top + 20 * scale, contact, small, 10 * scale)
        below = top + (10 * len(contact) + (4 if contact else 0)) * scale
        words, fitted = fit(self.title, title, width)
        if fitted.size >= LEAST_HEADING * scale:
            sheet.text(body.left, below + 38 * scale, words, fitted)
        else:  # on two lines, as high together
            title = title._replace(size=LEAST_HEADING * scale)
            sheet.lines(body.left, below + 25 * scale, wrap(self.title, title, width, 2), title, 15 * scale)
        lines = self._heading_lines(sheet.paper)
        sheet.lines(body.left, below + 56 * scale, lines, self._heading_style(sheet.paper), 14 * scale)
        if self.logo:
            side = LOGO[0] * scale, LOGO[1] * scale
            sheet.photo(self.logo, Box(body.right - side[0], top, body.right, top + side[1]), "right")

    def _text_width(self, paper: Paper) -> float:
        """How wide the heading may be beside the logo."""
        return paper.width - 2 * paper.margin - ((LOGO[0] + 8) * paper.scale if self.logo else 0)

    @staticmethod
    def _heading_style(paper: Paper) -> TextStyle:
        return TextStyle(9.5 * paper.scale, colour=SOFT_INK)

    def _heading_lines(self, paper: Paper) -> list[str]:
        width, style = paper.width - 2 * paper.margin, self._heading_style(paper)
        return [*wrap(self.place_and_date, style, width, 2), *wrap(self.note, style, width, 2)]

    @staticmethod
    def _contact_style(paper: Paper) -> TextStyle:
        return TextStyle(max(6.5, 7.5 * paper.scale), colour=SOFT_INK)

    def _contact_lines(self, paper: Paper) -> list[str]:
        """The lines beside one another, as far as they fit."""
        lines = wrap(" · ".join(self.contact), self._contact_style(paper), self._text_width(paper), 2)
        return [line.strip(" ·") for line in lines]

    @staticmethod
    def _footer_style(paper: Paper) -> TextStyle:
        return TextStyle(max(6.5, 7 * paper.scale), colour=SOFT_INK)

    def _footer_lines(self, paper: Paper) -> list[str]:
        style = self._footer_style(paper)
        room = paper.width - 2 * paper.margin - width_of(_page_of(9999, 9999), style) - 8
        return wrap(self.footer, style, room, 4) or [""]
