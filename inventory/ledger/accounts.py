"""The accounts of the ledger: where quantity and money can be. Every millionth is in exactly one of them."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from inventory.ledger.models import Place

if TYPE_CHECKING:
    from inventory.ledger.movements import EntryFacts


@dataclass(frozen=True, slots=True)
class AccountReference:
    """One account: its kind, and the row that it is kept for."""

    place: Place
    lot: int | None = None
    mix: int | None = None
    pour: int | None = None
    reason: int | None = None

    @classmethod
    def of(cls, entry: "EntryFacts") -> "AccountReference":
        """The account that an entry was posted to."""
        return cls(Place(entry.place), entry.lot_id, entry.mix_id, entry.pour_id, entry.reason_id)

    @property
    def number(self) -> int:
        """The row that the account is kept for; 0 for one of its kind."""
        return self.lot or self.mix or self.pour or self.reason or 0


OUTSIDE = AccountReference(Place.OUTSIDE)
GAIN = AccountReference(Place.GAIN)


def lot_account(lot: int) -> AccountReference:
    """A lot in stock."""
    return AccountReference(Place.LOT, lot=lot)


def mix_account(mix: int) -> AccountReference:
    """A mix being made: what goes in comes out as the mix's own lot, in the same posting."""
    return AccountReference(Place.MIX, mix=mix)


def work_in_progress(pour: int) -> AccountReference:
    """A pour not yet sold."""
    return AccountReference(Place.WORK, pour=pour)


def cost_of_sales(pour: int) -> AccountReference:
    """A pour that has been sold."""
    return AccountReference(Place.SOLD, pour=pour)


def disposal(reason: int) -> AccountReference:
    """A loss, a gift, own use, a sample or a stocktake difference, by its reason."""
    return AccountReference(Place.LOSS, reason=reason)
