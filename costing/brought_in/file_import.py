"""Finished pieces from before the books, from a table: a piece a row, each with a posting of its own."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils.translation import gettext_lazy

from costing.brought_in.actions import BroughtInPiece, bring_in_pieces
from costing.locations.models import Location
from costing.pieces.calculations import State
from costing.pieces.import_columns import PRICE, TITLE, state_column, usual_state
from costing.pieces.models import FIRST_YEAR, LAST_YEAR
from costing.pieces.queries import standing_pieces
from costing.pieces.status_words import status_words
from inventory.ledger.imported_rows import PostedRows, refuse_day
from inventory.ledger.models import Books
from inventory.materials.models import Kind, Material
from inventory.materials.new_in_place import guessed_material, save_first, size_of
from inventory.sessions.models import Technique
from studio.accounts.roles import WORKERS
from studio.errors import InputError
from studio.imports.cells import NO, Cells, folded
from studio.imports.kinds import ImportColumn, ImportKind, Made
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.submission import Submission
from studio.translation import _
from studio.values.units import Measure

COLUMNS = (
    TITLE,
    ImportColumn(
        "surface",
        gettext_lazy("Surface"),
        ("support", "on what", "board", "canvas", "untergrund", "malgrund", "leinwand"),
        gettext_lazy("One of yours, or a new one with its size, such as Board 30 x 40 cm."),
        required=True,
    ),
    ImportColumn(
        "size",
        gettext_lazy("Size"),
        ("format", "dimensions", "größe", "maße", "abmessungen"),
        gettext_lazy("Height first, where the surface does not say it: 30 x 40 cm."),
    ),
    ImportColumn(
        "technique", gettext_lazy("Technique"), ("pour", "how", "technik"), gettext_lazy("One of yours."), required=True
    ),
    ImportColumn(
        "cost",
        gettext_lazy("Cost of materials"),
        ("cost", "materials", "material cost", "materials cost", "cost price", "kosten", "materialkosten",
         "material", "einstand", "selbstkosten"),
        gettext_lazy("Surface, paint and varnish together. 0 if it is unknown."),
        required=True,
        is_money=True,
    ),
    ImportColumn(
        "labour",
        gettext_lazy("Labour"),
        ("labor", "work", "wage", "labour cost", "arbeit", "arbeitskosten", "lohn"),
        gettext_lazy("What the work cost, as an amount."),
        is_money=True,
    ),
    ImportColumn(
        "overhead", gettext_lazy("Overhead"), ("overheads", "gemeinkosten"), is_money=True
    ),
    PRICE,
    state_column(
        gettext_lazy("Finished or for sale. Blank is for sale with a price, and finished without one.")
    ),
    ImportColumn(
        "location",
        gettext_lazy("Location"),
        ("place", "where", "where it is", "kept at", "ort", "standort", "wo"),
        gettext_lazy("One of yours. Blank is the studio; for a gallery, write a consignment note afterwards."),
    ),
    ImportColumn("year", gettext_lazy("Year on papers"), ("year", "made in", "jahr", "entstanden")),
    ImportColumn("description", gettext_lazy("Description"), ("notes", "note", "beschreibung", "notiz", "notizen")),
    ImportColumn(
        "on",
        gettext_lazy("Stock as of"),
        ("date", "day", "as of", "datum", "tag", "stand"),
        gettext_lazy("Without it, today."),
        is_day=True,
    ),
)  # fmt: skip
AT_A_GALLERY = ("galerie", "gallery", "in der galerie", "at the gallery", "kommission", "on consignment")
IN_THE_STUDIO = frozenset(["studio", "the studio", "atelier", "im atelier", "werkstatt", "-"])


@dataclass(frozen=True, slots=True)
class BroughtInRow:
    """One piece as it stood on a day; `key` tells its row from every other of the table."""

    piece: BroughtInPiece
    on: date | None
    key: str


@dataclass(slots=True)
class BroughtInReader:
    """Reads rows against surfaces, techniques, locations and pieces, and knows which rows were posted before."""

    studio: Studio
    today: date
    may_add: bool = False
    add_new: bool = False
    surfaces: dict[str, Material] = field(default_factory=dict)
    new: dict[str, Material] = field(default_factory=dict)
    techniques: dict[str, Technique] = field(default_factory=dict)
    locations: dict[str, Location] = field(default_factory=dict)
    titles: set[str] = field(default_factory=set)  # of pieces that there are, and of the rows above
    posted: PostedRows = field(default_factory=PostedRows.read)
    closed_through: date | None = None

    def __post_init__(self) -> None:
        surfaces = Material.objects.filter(is_archived=False, kind=Kind.SURFACE)
        self.surfaces = {folded(row.name): row for row in surfaces}
        self.techniques = {folded(row.name): row for row in Technique.objects.all()}
        self.locations = {folded(row.name): row for row in Location.objects.filter(is_active=True)}
        self.titles = {folded(title) for title in standing_pieces().values_list("title", flat=True)}
        self.closed_through = Books.objects.values_list("closed_through", flat=True).first()

    def read(self, cells: Cells) -> BroughtInRow:
        title = cells.words("title", most=160, required=_("Enter the title."))
        if folded(title) in self.titles and not self.posted.stands(cells.key):
            cells.note("title", _("There is a piece with this title already. Give each piece its own."))
        surface = cells.read(
            "surface", lambda name: self._surface(name, cells), required=_("Enter the surface.")
        )
        technique = cells.choice("technique", self.techniques, required=_("Enter the technique."))
        currency = self.studio.currency
        cost = cells.money("cost", currency, required=_("Enter what the materials cost."))
        labour, overhead, price = (cells.money(key, currency) for key in ("labour", "overhead", "price"))
        is_for_sale = self._is_for_sale(cells, price)
        location = self._location(cells)
        year = self._year(cells)
        description = cells.words("description", most=2_000)
        on = cells.day("on")
        refuse_day(cells, on, today=self.today, closed_through=self.closed_through)
        cells.refuse()
        if surface is None or technique is None or cost is None:
            raise InputError(_("This row cannot be read."))
        piece = BroughtInPiece(
            title=title,
            surface=surface,
            technique=technique,
            cost=cost,
            labour=labour or 0,
            overhead=overhead or 0,
            price=price,
            is_for_sale=is_for_sale,
            location=location,
            year=year,
            description=description,
        )
        return BroughtInRow(piece, on, cells.key)

    def _surface(self, name: str, cells: Cells) -> Material:
        """A surface by its name, or by its name and size together; or a new one that is not saved yet."""
        sized = f"{name} {cells['size']}".strip()
        for each in (sized, name):
            known = self.surfaces.get(folded(each))
            if known is not None:
                self._refuse_other_size(known, cells)
                return known
        if not self.may_add:
            raise InputError(
                _("“{name}” is not one of your surfaces. Import the materials first.", name=name[:120])
            )
        size = cells.size("size") if cells["size"] else None
        if cells["size"] and size is None:
            raise InputError(_("Its size cannot be read."))
        named = self.new.get(folded(sized)) or guessed_material(
            sized, Kind.SURFACE, Measure.COUNT, cells.numbers, size
        )
        try:
            named.clean_fields()
        except ValidationError as problem:
            raise InputError(" ".join(problem.messages)) from None
        self.new[folded(sized)] = named
        cells.new = sized
        if not self.add_new:
            raise InputError(
                _(
                    "“{name}” is not one of your surfaces yet. Let what is new be added, or correct its name.",
                    name=sized[:120],
                )
            )
        return named

    def _refuse_other_size(self, surface: Material, cells: Cells) -> None:
        size = cells.size("size") if cells["size"] else None
        own = size_of(surface)
        if size is not None and own is not None and (size.height, size.width) != (own.height, own.width):
            cells.note(
                "size",
                _(
                    "“{name}” measures {size}. Choose another surface.",
                    name=surface,
                    size=cells.days.size(own),
                ),
            )

    def _is_for_sale(self, cells: Cells, price: int | None) -> bool:
        """Whether it is offered; what hangs at a gallery is, too. What was sold before has no place in stock."""
        usual = usual_state(price)
        words = status_words([State.FINISHED, State.FOR_SALE]) | dict.fromkeys(NO, usual)
        words |= dict.fromkeys(AT_A_GALLERY, State.FOR_SALE)
        if folded(cells["state"]) in status_words([State.SOLD]):
            cells.note("state", _("It was sold before you began here: leave its row out."))
            return False
        return (cells.choice("state", words) or usual) == State.FOR_SALE

    def _location(self, cells: Cells) -> Location | None:
        if folded(cells["location"]) in IN_THE_STUDIO:
            return None
        return cells.choice("location", self.locations)

    def _year(self, cells: Cells) -> int | None:
        return cells.whole("year", least=FIRST_YEAR, most=LAST_YEAR)

    def is_there(self, facts: BroughtInRow) -> bool:
        return self.posted.stands(facts.key)

    def words(self, facts: BroughtInRow, formatter: Formatter) -> Mapping[str, str]:
        piece = facts.piece
        state = State.FOR_SALE if piece.is_for_sale else State.FINISHED
        words = {
            "surface": piece.surface.name,
            "cost": formatter.money(piece.cost),
            "state": state.words,
            "on": formatter.day(facts.on or self.today),
        }
        if (size := size_of(piece.surface)) is not None:
            words["size"] = formatter.size(size)
        amounts = {"labour": piece.labour or None, "overhead": piece.overhead or None, "price": piece.price}
        return words | {key: formatter.money(money) for key, money in amounts.items() if money is not None}

    def save(self, facts: BroughtInRow, submission: Submission) -> Made:
        """Post it under a key of its own, and tell its number; one that was reversed may be posted again."""
        surface, key = facts.piece.surface, self.posted.key_for(facts.key)
        on_its_day = replace(submission, on=facts.on or submission.on, key=key)
        pieces = save_first(
            [surface], lambda: bring_in_pieces(pieces=[facts.piece], submission=on_its_day), submission
        )
        return f"{pieces[0].label} {pieces[0].title}", reverse("costing:piece", args=[pieces[0].pk])

    def keep(self, facts: BroughtInRow) -> None:
        self.posted.keep(facts.key)
        self.titles.add(folded(facts.piece.title))


def example(studio: Studio) -> Sequence[Mapping[str, Any]]:
    """Two boards that hung in the net loft before the books began."""
    technique = Technique.objects.order_by("name").values_list("name", flat=True).first() or "Ring pour"
    return [
        {"title": "Before the thaw", "surface": "Round board 20 cm", "technique": technique, "cost": 6_400_000,
         "labour": 9_000_000, "price": 58_000_000, "year": "2024"},
        {"title": "Old rope", "surface": "Round board 20 cm", "technique": technique, "cost": 5_900_000},
    ]  # fmt: skip


FINISHED_PIECES = ImportKind(
    code="finished-pieces",
    title=gettext_lazy("Finished pieces from before, from a file"),
    lead=gettext_lazy(
        "Pieces that were finished before you began here, at a cost of your own. A piece a row."
    ),
    columns=COLUMNS,
    reader=BroughtInReader,
    example=example,
    list_url="costing:pieces",
    made_heading=gettext_lazy("Write these numbers on the backs"),
    can_add=True,
    roles=WORKERS,
    needs_money=True,
)
