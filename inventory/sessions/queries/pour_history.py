"""What became of pours since their session: how they left, and which postings corrected what they cost.

Money is millionths of the currency unit.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby
from operator import attrgetter

from django.db.models import Q

from inventory.ledger.models import Entry, Place, Posting
from inventory.ledger.movements import incoming, names_in, outgoing, recorded_movements
from inventory.sessions.models import Pour


@dataclass(frozen=True, slots=True)
class Departure:
    """A posting by which a pour left unsold work, and who carries its cost since; nobody named for a sale."""

    posting: Posting
    carriers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CostCorrection:
    """A posting that changed what something had cost: its materials before and after."""

    posting: Posting
    before: int
    after: int


def departures_of(pour: Pour) -> list[Departure]:
    """How a pour left unsold work, oldest first; nothing that was taken back. Six queries at most."""
    left = Entry.objects.in_force().filter(pour=pour, place=Place.WORK).exclude(quantity=0)
    movements = recorded_movements(outgoing(left).order_by("posting_id", "line"))
    names = names_in(movements)
    return [
        Departure(
            posting,
            tuple(
                dict.fromkeys(
                    names.of(each.destination) for each in group if each.destination.place != Place.SOLD
                )
            ),
        )
        for posting, group in groupby(movements, key=attrgetter("posting"))
    ]


def cost_corrections_of(pours: Iterable[Pour]) -> list[CostCorrection]:
    """The postings that changed what materials of these pours cost after they were charged, oldest first: two queries.

    What was corrected and put back since is not told.
    """
    charged = incoming(
        Entry.objects.in_force().filter(pour__in=[pour.pk for pour in pours], place=Place.WORK)
    )
    is_late = Q(quantity=0) | Q(posting__corrects__isnull=False)
    late = set(charged.filter(is_late).values_list("posting_id", flat=True))
    if not late:
        return []
    postings = Posting.objects.select_related("recorded_by", "corrects").in_bulk(late)
    corrections, cost = [], 0
    rows = charged.order_by("posting_id", "line").values_list("posting_id", "money")
    for number, group in groupby(rows, key=lambda row: row[0]):
        before, cost = cost, cost + sum(money for _posting, money in group)
        if number in late and cost != before:
            corrections.append(CostCorrection(postings[number], before, cost))
    return corrections
