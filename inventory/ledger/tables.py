"""Lists of postings, of one posting's movements, of where the money is, and of reasons."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from inventory.ledger.accounts import AccountReference
from inventory.ledger.models import Lot, Place, Posting, PostingKind, ReasonKind
from inventory.ledger.movements import AccountMovement, RecordedMovement
from studio.pages.addresses import row_address
from studio.pages.columns import (
    FILE,
    Badge,
    Column,
    DayColumn,
    MoneyColumn,
    NumberColumn,
    QuantityColumn,
    TenthsColumn,
    edit_column,
)
from studio.pages.tables import Table

REVERSED: Badge = ("stop", _("Reversed"))


def reversed_badge(posting: Posting) -> Badge | None:
    return REVERSED if hasattr(posting, "reversed_by") else None


def lot_column(lot: Callable[[Any], Lot | None] = lambda row: row.lot) -> Column[Any]:
    """The lot of a row, if there is one, which leads to its page."""
    return Column(
        "lot",
        _("Lot"),
        lambda row: getattr(lot(row), "label", ""),
        link=lambda row: reverse("inventory:lot", args=[getattr(lot(row), "pk", 0)]),
        term="lot",
    )


class PostingTable(Table[Posting]):
    caption = _("Postings")
    file_name = "postings"
    columns = (
        NumberColumn(
            "number",
            _("Posting"),
            lambda row: row.number,
            link=lambda row: row_address("inventory:posting", row.number),
            css="",
        ),
        DayColumn("day", _("Day"), lambda row: row.effective_on, css="day bare"),
        Column(
            "kind",
            _("What"),
            lambda row: PostingKind(row.kind).label,
            template="ledger/kind.html",
            css="bare",
        ),
        Column("reverses", _("Reverses"), lambda row: row.reverses_id, only_on=FILE),
        Column("state", _("Status"), lambda row: "", badge=reversed_badge, only_on=FILE),
        Column("note", _("Note"), lambda row: row.note),
        Column("person", pgettext_lazy("person", "By"), lambda row: row.recorded_by.get_username()),
    )


class LossTable(Table[AccountMovement]):
    """What left for a reason or was found, as seen from the stock: a loss is below zero."""

    caption = _("Losses and stocktake differences")
    file_name = "losses"
    columns = (
        NumberColumn(
            "number",
            _("Posting"),
            lambda row: row.posting.number,
            link=lambda row: row_address("inventory:posting", row.posting.number),
            css="",
        ),
        DayColumn("day", _("Day"), lambda row: row.effective_on),
        Column(
            "kind",
            _("What"),
            lambda row: PostingKind(row.posting.kind).label,
            badge=lambda row: REVERSED if row.is_reversed else None,
        ),
        Column(
            "material",
            _("Material"),
            lambda row: row.material.name,
            link=lambda row: row_address("inventory:material", row.material.pk),
        ),
        Column(
            "from",
            _("Lot or pour"),
            lambda row: row.counterpart_name,
            link=lambda row: account_link(row.counterpart),
        ),
        TenthsColumn(
            "quantity",
            _("Quantity"),
            lambda row: (-row.quantity, row.material.measure) if row.quantity else None,
        ),
        Column("reason", _("Reason"), lambda row: row.account_name),
        Column("note", _("Note"), lambda row: row.posting.note),
        MoneyColumn("money", _("Value"), lambda row: -row.money),
    )


@dataclass(frozen=True, slots=True)
class MovementRow:
    """One movement in words, with the addresses of its two accounts."""

    from_name: str
    from_url: str
    to_name: str
    to_url: str
    movement: RecordedMovement
    role: str


class PostingMovementTable(Table[MovementRow]):
    caption = _("Every movement of the posting")
    file_name = "movements"
    columns = (
        Column(
            "material",
            _("Material"),
            lambda row: row.movement.material.name,
            colour=lambda row: row.movement.material.colour,
        ),
        DayColumn("day", _("Day"), lambda row: row.movement.effective_on),
        Column(
            "from", pgettext_lazy("place", "From"), lambda row: row.from_name, link=lambda row: row.from_url
        ),
        Column("to", pgettext_lazy("place", "To"), lambda row: row.to_name, link=lambda row: row.to_url),
        Column("role", pgettext_lazy("of a movement", "Role"), lambda row: row.role),
        QuantityColumn(
            "quantity",
            _("Quantity"),
            lambda row: (
                (row.movement.quantity, row.movement.material.measure) if row.movement.quantity else None
            ),
        ),
        MoneyColumn("money", _("Value"), lambda row: row.movement.money),
    )


@dataclass(frozen=True, slots=True)
class WorthLine:
    """Money that came from one place or is in it, and the address of the entries behind it."""

    place: Place
    label: str
    money: int
    href: str
    note: str = ""

    @property
    def came_in(self) -> bool:
        return self.place in (Place.OUTSIDE, Place.GAIN)


class WorthTable(Table[WorthLine]):
    caption = _("Where the money is")
    columns = (
        Column("what", _("What"), lambda row: row.label, note=lambda row: row.note),
        MoneyColumn(
            "received",
            _("Received"),
            lambda row: row.money if row.came_in else None,
            link=lambda row: row.href,
            css="number beside",
        ),
        MoneyColumn(
            "went_to",
            _("Where it went"),
            lambda row: None if row.came_in else row.money,
            link=lambda row: row.href,
            css="number beside",
        ),
    )


def account_link(account: AccountReference) -> str:
    """The page of what an account is kept for, if it has one."""
    if account.lot:
        return row_address("inventory:lot", account.lot)
    return row_address("inventory:pour", account.pour) if account.pour else ""


@dataclass(frozen=True, slots=True)
class EffectRow:
    """What a posting would change in one account; its money is rounded as it is printed."""

    account: str
    name: str
    address: str
    quantity: str
    before: int
    after: int

    @property
    def change(self) -> int:
        return self.after - self.before


class EffectTable(Table[EffectRow]):
    caption = _("What changes, before and after")
    columns = (
        Column("name", _("Where"), lambda row: row.name, link=lambda row: row.address),
        Column("account", _("Account"), lambda row: row.account),
        Column("quantity", _("Quantity"), lambda row: row.quantity),
        MoneyColumn("before", pgettext_lazy("figure", "Before"), lambda row: row.before),
        MoneyColumn("after", pgettext_lazy("figure", "After"), lambda row: row.after),
        MoneyColumn("change", pgettext_lazy("figure", "Change"), lambda row: row.change),
    )


class ReasonTable(Table[Any]):
    """Reasons with `money`: the cost of what left for each."""

    caption = _("Reasons")
    columns = (
        Column("name", _("Reason"), lambda row: row.name),
        Column("kind", _("Kind"), lambda row: ReasonKind(row.kind).label),
        MoneyColumn(
            "money",
            _("Value so far"),
            lambda row: row.money or 0,
            link=lambda row: f"{reverse('inventory:postings')}?reason={row.pk}",
        ),
        edit_column("inventory:reason-edit", name=lambda row: row.name, label=_("Rename")),
    )
