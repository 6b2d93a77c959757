"""An order on paper: to whom, from whom, where to, and its lines in packs."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from studio.papers.frame import SOFT_INK, Box, PageFrame, Paper, Sheet, fill_pages, paper_named
from studio.papers.typography import TextStyle, fit, wrap
from studio.translation import _

MOST_ADDRESS_LINES = 8
MOST_NOTE_LINES = 12


@dataclass(frozen=True, slots=True)
class PaperLine:
    """One line of the order, every text ready to print; no price where nobody shall see it."""

    name: str
    detail: str
    packs: str
    pack: str
    price: str = ""


@dataclass(frozen=True, slots=True)
class OrderPaper:
    """Everything on the paper. Addresses are a heading and their lines, `facts` pairs of a term and its text."""

    addresses: Sequence[tuple[str, Sequence[str]]]
    facts: Sequence[tuple[str, str]]
    lines: Sequence[PaperLine]
    total: str = ""
    notes: str = ""

    @property
    def has_prices(self) -> bool:
        return any(line.price for line in self.lines)


@dataclass(frozen=True, slots=True)
class _Block:
    """Something of a known height, in points, that is drawn from a place downwards."""

    height: float
    draw: Callable[[Sheet, float], None]


class _Layout:
    """The parts of the paper in blocks; a line of the order is never torn in two."""

    def __init__(self, paper: Paper, body: Box, *, has_prices: bool) -> None:
        scale = self.scale = paper.scale
        self.left, self.width, self.right = body.left, body.width, body.right
        self.text = TextStyle(10 * scale)
        self.strong = TextStyle(10 * scale, bold=True)
        self.total = TextStyle(12 * scale, bold=True)
        self.small = TextStyle(8.5 * scale, colour=SOFT_INK)
        self.leading, self.gap = 13.5 * scale, 8 * scale
        # What each column to the right of the name is wide: how many packs, of what size, the price.
        self.columns = [self.width * share for share in ((0.1, 0.2, 0.18) if has_prices else (0.12, 0.24))]
        self.name_width = self.width - sum(self.columns) - self.gap

    def blocks(self, order: OrderPaper) -> list[_Block]:
        blocks = [self._side_by_side(order.addresses)] if order.addresses else []
        blocks += [self._facts(order.facts), self._heads(order.has_prices)]
        blocks += [self._line(line) for line in order.lines]
        if order.total:
            blocks.append(self._total(order.total))
        if order.notes:
            blocks.append(self._notes(order.notes))
        return blocks

    def _side_by_side(self, addresses: Sequence[tuple[str, Sequence[str]]]) -> _Block:
        width = (self.width - self.gap * (len(addresses) - 1)) / len(addresses)
        shown = [
            (
                heading,
                [part for line in lines for part in wrap(line, self.text, width, 2)][:MOST_ADDRESS_LINES],
            )
            for heading, lines in addresses
        ]
        height = self.leading * (2.4 + max(len(lines) for _heading, lines in shown))

        def draw(sheet: Sheet, y: float) -> None:
            for place, (heading, lines) in enumerate(shown):
                x = self.left + place * (width + self.gap)
                baseline = y + self.leading * 1.1
                sheet.text(x, baseline, *fit(heading, self.small, width))
                sheet.lines(x, baseline + self.leading, lines, self.text, self.leading)

        return _Block(height, draw)

    def _facts(self, facts: Sequence[tuple[str, str]]) -> _Block:
        term_width = self.width * 0.3

        def draw(sheet: Sheet, y: float) -> None:
            for place, (term, text) in enumerate(facts, start=1):
                baseline = y + place * self.leading
                sheet.text(self.left, baseline, *fit(term, self.small, term_width - self.gap))
                sheet.text(self.left + term_width, baseline, *fit(text, self.strong, self.width - term_width))

        return _Block(self.leading * (len(facts) + 1.2), draw)

    def _heads(self, has_prices: bool) -> _Block:
        heads = [_("Packs"), _("Pack size"), *([_("Price")] if has_prices else [])]

        def draw(sheet: Sheet, y: float) -> None:
            baseline = y + self.small.size
            sheet.text(self.left, baseline, *fit(_("Material"), self.small, self.name_width))
            for head, right, width in zip(heads, self._rights(), self.columns, strict=True):
                sheet.text(right, baseline, *fit(head, self.small, width - self.gap), "right")
            sheet.rule(self.left, y + 13 * self.scale, self.width)

        return _Block(13 * self.scale, draw)

    def _rights(self) -> list[float]:
        """Where each column of figures ends."""
        return [self.right - sum(self.columns[place + 1 :]) for place in range(len(self.columns))]

    def _line(self, line: PaperLine) -> _Block:
        names = wrap(line.name, self.strong, self.name_width, 3)
        details = wrap(line.detail, self.small, self.name_width, 2)
        height = (len(names) * self.leading) + len(details) * self.small.size * 1.3 + 10 * self.scale
        figures = [line.packs, line.pack, line.price][: len(self.columns)]

        def draw(sheet: Sheet, y: float) -> None:
            baseline = y + 4 * self.scale + self.text.size
            sheet.lines(self.left, baseline, names, self.strong, self.leading)
            below = baseline + (len(names) - 1) * self.leading + self.small.size * 1.3
            sheet.lines(self.left, below, details, self.small, self.small.size * 1.3)
            for figure, right, width in zip(figures, self._rights(), self.columns, strict=True):
                sheet.text(right, baseline, *fit(figure, self.text, width - self.gap), "right")
            sheet.rule(self.left, y + height, self.width)

        return _Block(height, draw)

    def _total(self, total: str) -> _Block:
        def draw(sheet: Sheet, y: float) -> None:
            baseline = y + 8 * self.scale + self.total.size
            sheet.text(self.left, baseline, *fit(_("Total"), self.total, self.width * 0.4))
            sheet.text(self.right, baseline, *fit(total, self.total, self.width * 0.5), "right")

        return _Block(self.total.size + 20 * self.scale, draw)

    def _notes(self, notes: str) -> _Block:
        lines = [part for line in notes.splitlines() for part in wrap(line, self.text, self.width, 4)]
        lines = lines[:MOST_NOTE_LINES]

        def draw(sheet: Sheet, y: float) -> None:
            sheet.text(self.left, y + self.leading, *fit(_("Notes"), self.small, self.width))
            sheet.lines(self.left, y + 2 * self.leading, lines, self.text, self.leading)

        return _Block((len(lines) + 2) * self.leading, draw)


def draw_order(order: OrderPaper, frame: PageFrame, *, paper: str = "A4") -> bytes:
    """Return the order as a PDF on the paper named. Raises InputError when the paper is not known."""
    chosen = paper_named(paper)
    sheet = Sheet(chosen, title=f"{frame.title}, {frame.studio}", author=frame.studio)
    first, later = frame.body(chosen, first=True), frame.body(chosen, first=False)
    blocks = _Layout(chosen, first, has_prices=order.has_prices).blocks(order)
    pages = fill_pages([block.height for block in blocks], first.height, later.height)
    for number, page in enumerate(pages, start=1):
        y = frame.draw(sheet, number, len(pages)).top + 4
        for index in page:
            blocks[index].draw(sheet, y)
            y += blocks[index].height
        sheet.turn_page()
    return sheet.finish()
