"""Pieces from a table, made of pours that are recorded, and what was sold of them."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from django.utils.translation import gettext_lazy

from costing.errors import CostingError
from costing.pieces.actions.pieces import PieceFacts, make_piece, move_on
from costing.pieces.calculations import SELLABLE, State
from costing.pieces.import_columns import PRICE, TITLE, state_column, usual_state
from costing.pieces.models import Piece
from costing.pieces.queries import pours_without_piece, standing_pieces, with_parts
from costing.pieces.status_words import status_words
from costing.pricing.models import SalesChannel
from costing.selling.actions.sales import sell
from inventory.sessions.models import Pour
from studio.accounts.roles import WORKERS
from studio.errors import InputError
from studio.imports.cells import NO, Cells, folded
from studio.imports.kinds import ImportColumn, ImportKind
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.submission import Submission
from studio.translation import _

COLUMNS = (
    TITLE,
    ImportColumn(
        "pour",
        gettext_lazy("Number"),
        ("piece number", "pour", "canvas", "nummer", "nr", "guss"),
        gettext_lazy("Of the surface that was poured, such as P0012. Or give day and surface."),
    ),
    ImportColumn(
        "poured_on", gettext_lazy("Poured on"), ("poured", "made on", "made", "gegossen am", "gemacht am")
    ),
    ImportColumn(
        "surface",
        gettext_lazy("Surface"),
        ("size", "board", "canvas size", "untergrund", "malgrund", "größe", "format"),
        gettext_lazy("The name used in Meniscus."),
    ),
    PRICE,
    state_column(
        gettext_lazy(
            "Wet, dry, finished, for sale or sold. Blank is for sale with a price, and finished without one."
        )
    ),
    ImportColumn(
        "sold_on",
        gettext_lazy("Sold on"),
        ("sold", "sale date", "date sold", "verkauft am", "verkauft"),
        is_day=True,
    ),
    ImportColumn(
        "sold_for",
        gettext_lazy("Sold for"),
        ("sale price", "paid", "verkauft für", "erlös", "verkaufspreis brutto"),
        gettext_lazy("What the buyer paid, tax included. Blank is the price."),
        is_money=True,
    ),
    ImportColumn(
        "channel",
        gettext_lazy("Sales channel"),
        ("channel", "sold at", "where", "sold through", "verkaufsweg", "kanal", "verkauft über"),
        gettext_lazy("One that you have added."),
    ),
)
WAY = (State.WET, State.DRY, State.FINISHED, State.FOR_SALE)  # step by step


@dataclass(frozen=True, slots=True)
class Sold:
    """A sale of one piece."""

    on: date
    price: int
    channel: SalesChannel


@dataclass(frozen=True, slots=True)
class PieceRow:
    """A piece that there is, or a new one of a pour; how far it has come; and its sale, if it was sold."""

    title: str
    piece: Piece | None
    pour: Pour | None
    price: int | None
    state: State
    sold: Sold | None


@dataclass(slots=True)
class PieceReader:
    """Reads rows against pieces, good pours that are in no piece, and sales channels."""

    studio: Studio
    today: date
    pieces: dict[str, list[Piece]] = field(default_factory=lambda: defaultdict(list))
    free: list[Pour] = field(default_factory=list)
    channels: dict[str, SalesChannel] = field(default_factory=dict)
    taken: set[str] = field(default_factory=set)  # titles of the rows above

    def __post_init__(self) -> None:
        for piece in with_parts(standing_pieces()):
            self.pieces[folded(piece.title)].append(piece)
        self.free = list(pours_without_piece())
        channels = SalesChannel.objects.filter(is_active=True).prefetch_related("terms")
        self.channels = {folded(each.name): each for each in channels}

    def read(self, cells: Cells) -> PieceRow:
        title = cells.words("title", most=120, required=_("Enter the title."))
        if folded(title) in self.taken:
            cells.note("title", _("This title stands above already. Give each piece its own."))
        poured_on = cells.day("poured_on")
        price = cells.money("price", self.studio.currency)
        piece = self._known(cells, title, poured_on)
        pour = None if piece or not title else self._pour(cells, poured_on)
        state = self._state(cells, price)
        sold = self._sold(cells, price if piece is None else piece.price)
        if piece is not None and price is not None and price != piece.price:
            cells.note("price", _("“{title}” has another price. Change it on its own page.", title=title))
        cells.refuse()
        return PieceRow(title, piece, pour, price, state, sold)

    def _known(self, cells: Cells, title: str, poured_on: date | None) -> Piece | None:
        label = cells["pour"].upper()
        alike = [
            piece
            for piece in self.pieces.get(folded(title), ())
            if (not label or label in (piece.number, piece.label))
            and (not poured_on or piece.made_on == poured_on)
        ]
        if len(alike) > 1:
            cells.note(
                "title", _("Several pieces have this title. Give the number of the one that is meant.")
            )
        return alike[0] if alike else None

    def _pour(self, cells: Cells, poured_on: date | None) -> Pour | None:
        """The free pour that is named, or the first of its day and surface."""
        label, surface = cells["pour"].upper(), folded(cells["surface"])
        if not label and not (poured_on and surface):
            cells.note("pour", _("Enter its number, or the day that it was poured and its surface."))
            return None
        for pour in self.free:
            is_named = label in (pour.label, pour.canvas_label)
            is_alike = pour.session.held_on == poured_on and folded(pour.surface.name) == surface
            if is_named or (not label and is_alike):
                return pour
        missing = _(
            "No good pour without a piece is recorded so. Log its session, import past sessions, or bring the piece in "
            "as a finished piece from before."
        )
        cells.note("pour" if label else "poured_on", missing)
        return None

    def _state(self, cells: Cells, price: int | None) -> State:
        usual = usual_state(price)
        chosen = cells.choice("state", status_words([*WAY, State.SOLD]) | dict.fromkeys(NO, usual))
        if chosen == State.SOLD:
            if not cells["sold_on"]:
                cells.note("sold_on", _("Enter the day on which it was sold."))
            return usual
        return chosen or usual

    def _sold(self, cells: Cells, price: int | None) -> Sold | None:
        on = cells.day("sold_on")
        if not cells["sold_on"]:
            for key in ("sold_for", "channel"):
                if cells[key]:
                    cells.note("sold_on", _("Enter the day on which it was sold."))
                    break
            return None
        if on and on > self.today:
            cells.note("sold_on", _("That day is still to come."))
        paid = cells.money("sold_for", self.studio.currency)
        paid = price if paid is None else paid
        if paid is None and not cells["sold_for"]:
            cells.note("sold_for", _("Enter what the buyer paid."))
        channel = cells.choice("channel", self.channels, required=_("Enter the sales channel."))
        return Sold(on, paid, channel) if on and paid is not None and channel else None

    def is_there(self, facts: PieceRow) -> bool:
        return facts.piece is not None and (facts.sold is None or facts.piece.state not in SELLABLE)

    def words(self, facts: PieceRow, formatter: Formatter) -> Mapping[str, str]:
        words = {"state": State.SOLD.words if facts.sold else facts.state.words}
        if facts.pour is not None:
            words |= {"pour": facts.pour.label, "poured_on": formatter.day(facts.pour.session.held_on)}
        if facts.price is not None:
            words["price"] = formatter.money(facts.price)
        if facts.sold is not None:
            sold = facts.sold
            words |= {"sold_on": formatter.day(sold.on), "sold_for": formatter.money(sold.price)}
        return words

    def save(self, facts: PieceRow, submission: Submission) -> None:
        on = replace(submission, on=facts.sold.on if facts.sold else submission.on)
        piece = facts.piece or self._made(facts, on)
        if facts.sold is not None:
            if piece.state not in SELLABLE:
                raise CostingError(_("“{title}” is not finished, so it cannot be sold.", title=piece.title))
            sell(piece=piece, channel=facts.sold.channel, price=facts.sold.price, submission=on)

    def _made(self, facts: PieceRow, submission: Submission) -> Piece:
        if facts.pour is None:
            raise InputError(
                _("Enter its number, or the day that it was poured and its surface."), field="pour"
            )
        made = PieceFacts(facts.title, [facts.pour], price=facts.price)
        piece = make_piece(facts=made, submission=submission)
        end = max(facts.state, State.FINISHED, key=WAY.index) if facts.sold else facts.state
        for state in WAY[1 : WAY.index(end) + 1]:
            piece = move_on(piece=piece, to=state, submission=submission, anyway=True)
        return piece

    def keep(self, facts: PieceRow) -> None:
        self.taken.add(folded(facts.title))
        self.free = [pour for pour in self.free if pour != facts.pour]


def example(studio: Studio) -> Sequence[Mapping[str, Any]]:
    """Two boards of the net loft."""
    channel = SalesChannel.objects.order_by("name").values_list("name", flat=True).first() or "Stall"
    return [
        {"title": "Low water", "poured_on": date(2026, 5, 9), "surface": "Round board 20 cm", "price": 48_000_000,
         "sold_on": date(2026, 6, 6), "sold_for": 45_000_000, "channel": channel},
        {"title": "First light", "poured_on": date(2026, 5, 9), "surface": "Round board 20 cm", "price": 52_000_000},
    ]  # fmt: skip


PIECES = ImportKind(
    code="pieces",
    title=gettext_lazy("Pieces and past sales from a file"),
    lead=gettext_lazy(
        "A piece a row, with its sale, if it was sold. Each needs its pour: import the past sessions first, or bring "
        "in finished pieces from before."
    ),
    columns=COLUMNS,
    reader=PieceReader,
    example=example,
    list_url="costing:pieces",
    roles=WORKERS,
    needs_money=True,
)
