"""What can go wrong on the shelf, said so that the person at the bench knows what to do."""

from dataclasses import dataclass

from studio.errors import MeniscusError


class InventoryError(MeniscusError):
    """Raised when something on the shelf cannot be done as asked."""


class LedgerError(InventoryError):
    """Raised when a posting would break a rule of the ledger."""


class ClosedPeriod(LedgerError):
    """Raised when a posting is dated in a period that has been closed."""


class KeyReused(LedgerError):
    """Raised when a request key comes back with different contents."""


class CannotReverse(LedgerError):
    """Raised when a posting cannot be taken back; the text says what stands in the way."""


@dataclass(frozen=True, slots=True)
class ShelfShortfall:
    """One material the shelf holds too little of; quantities in thousandths of its base unit."""

    material: int
    name: str
    measure: str
    needed: int
    held: int

    @property
    def short(self) -> int:
        return self.needed - self.held


class NotEnough(InventoryError):
    """Raised when more would leave the shelf than the books say it holds.

    `shortfalls` lists every material.
    """

    def __init__(self, shortfalls: list[ShelfShortfall], described: list[str]) -> None:
        super().__init__(
            "The books hold too little. "
            + " ".join(described)
            + " Correct the amounts; or, if the bottles really held more than the books say, confirm that."
        )
        self.shortfalls = shortfalls
        self.described = described
