"""What a posting came to, material by material."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from inventory.ledger.models import Place, Posting, PostingKind
from inventory.ledger.movements import RecordedMovement
from inventory.ledger.reversal_guards import reason_against
from inventory.materials.models import Material
from studio.translation import _
from studio.values.money import rounding_left_over


@dataclass(frozen=True, slots=True)
class Change:
    """What one kind of place gained (or, below zero, lost): quantity in thousandths, money in millionths."""

    place: Place
    quantity: int = 0
    money: int = 0

    @property
    def undone(self) -> int:
        """What comes back when the posting is reversed."""
        return -self.quantity

    @property
    def is_none(self) -> bool:
        return not self.quantity and not self.money


@dataclass(frozen=True, slots=True)
class MaterialChanges:
    """One material of a posting, with a change for every place the posting touched."""

    material: Material
    changes: list[Change]


@dataclass(frozen=True, slots=True)
class Summary:
    """All movements of a posting together. Over its places money adds up to nothing: what one lost another gained."""

    places: list[Place]
    materials: list[MaterialChanges]
    totals: list[Change]

    def rounding(self, currency: str) -> list[int]:
        """By how much each place's printed total differs from its printed lines; nothing where none does.

        Each figure is rounded by itself, so that a movement reads the same wherever it is printed.
        """
        left = [
            rounding_left_over((row.changes[place].money for row in self.materials), total.money, currency)
            for place, total in enumerate(self.totals)
        ]
        return left if any(left) else []

    def in_place(self, place: Place) -> list[tuple[Material, Change]]:
        """What one kind of place gained and lost."""
        return [
            (row.material, change)
            for row in self.materials
            for change in row.changes
            if change.place == place and change.quantity
        ]


def summary_of(movements: Iterable[RecordedMovement]) -> Summary:
    """Sum a posting's movements up by material and kind of place."""
    sums: dict[tuple[int, Place], list[int]] = defaultdict(lambda: [0, 0])
    materials: dict[int, Material] = {}
    for each in movements:
        materials[each.material_id] = each.material
        for account, sign in ((each.source, -1), (each.destination, 1)):
            total = sums[each.material_id, account.place]
            total[0] += sign * each.quantity
            total[1] += sign * each.money
    touched = {place for (_, place), amounts in sums.items() if any(amounts)}
    places = [place for place in Place if place in touched]
    return Summary(
        places,
        [
            MaterialChanges(material, [Change(place, *sums.get((pk, place), (0, 0))) for place in places])
            for pk, material in sorted(materials.items(), key=lambda item: item[1].name)
        ],
        [
            Change(place, money=sum(money for (_, where), (_, money) in sums.items() if where == place))
            for place in places
        ],
    )


def reversal_obstacle(posting: Posting) -> str:
    """Why a posting is not offered for reversal; empty when it is. The writer has the last word."""
    if hasattr(posting, "reversed_by"):
        return _("It was reversed by posting {number}.", number=posting.reversed_by.number)
    if posting.kind == PostingKind.REVERSAL:
        return _("It reverses another posting. Enter the original again instead.")
    if posting.kind == PostingKind.SALE:
        return _(
            "It belongs to a sale. Correct that sale or record a return of the piece instead, so that both go together."
        )
    if posting.kind == PostingKind.PIECE_WRITE_OFF:
        return _("It belongs to a piece. Bring the piece back instead, so that its state follows.")
    return reason_against(posting)
