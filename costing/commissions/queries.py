"""Readers: what was paid for commissions, what is held of it as customer deposits, and what was kept.

Money is millionths of the currency unit.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Max, Q, QuerySet, Sum

from costing.commissions.models import MOVES_MONEY, Commission, CommissionPayment, PaymentKind
from costing.contacts.models import Contact
from costing.contacts.queries import Dealing
from studio.translation import _


@dataclass(frozen=True, slots=True)
class Held:
    """What is held of a commission: owed to the buyer, no income yet. `fees` are what cards took of it."""

    amount: int
    fees: int
    last: date | None


@dataclass(frozen=True, slots=True)
class CommissionFigures:
    """A commission with what was paid for it, what of that is held, and what was kept."""

    commission: Commission
    paid: int
    held: int
    kept: int

    @property
    def left(self) -> int:
        """What of the agreed price is still to be paid, as long as it is open."""
        return self.commission.price - self.paid if self.commission.is_open else 0


def commissions() -> QuerySet[Commission]:
    return Commission.objects.select_related("contact")


def figures_of(rows: Iterable[Commission]) -> list[CommissionFigures]:
    """Each with its figures, in one query however many there are."""
    rows = list(rows)
    sums = (
        CommissionPayment.objects.filter(commission__in=[row.pk for row in rows])
        .order_by()
        .values("commission")
        .annotate(
            paid=Sum("amount", filter=Q(kind__in=MOVES_MONEY)),
            held=Sum("amount"),
            kept=Sum("amount", filter=Q(kind=PaymentKind.KEPT)),
        )
    )
    by_row = {each["commission"]: each for each in sums}
    empty = {"paid": 0, "held": 0, "kept": 0}
    found = [(row, by_row.get(row.pk, empty)) for row in rows]
    return [
        CommissionFigures(row, int(each["paid"] or 0), int(each["held"] or 0), -int(each["kept"] or 0))
        for row, each in found
    ]


def held_for(commission: Commission) -> Held:
    found = commission.payments.aggregate(amount=Sum("amount"), fees=Sum("fee"), last=Max("on"))
    return Held(int(found["amount"] or 0), int(found["fees"] or 0), found["last"])


def customer_deposits(on: date | None = None) -> int:
    """What is held of all commissions, at the end of a day or now: a liability of the studio."""
    payments = CommissionPayment.objects.all() if on is None else CommissionPayment.objects.filter(on__lte=on)
    return int(payments.aggregate(sum=Sum("amount"))["sum"] or 0)


def kept_deposits(first: date | None, last: date | None) -> int:
    """What of deposits was kept in a period, the first and last day included: income without a sale."""
    kept = CommissionPayment.objects.filter(kind=PaymentKind.KEPT)
    if first is not None:
        kept = kept.filter(on__gte=first)
    if last is not None:
        kept = kept.filter(on__lte=last)
    return -int(kept.aggregate(sum=Sum("amount"))["sum"] or 0)


def paid_ahead(days: Iterable[date], channels: Iterable[int]) -> QuerySet[CommissionPayment]:
    """What came in for commissions on these days, and what sales set off: takings that are no sale, and the reverse."""
    payments = CommissionPayment.objects.exclude(kind=PaymentKind.KEPT)
    return payments.filter(on__in=set(days), channel__in=set(channels)).order_by("pk")


def orders_of(contact: Contact) -> list[Dealing]:
    """What a contact has ordered."""
    return [
        Dealing(
            _("Ordered"),
            None,
            row.agreed_on,
            row.wanted_by,
            price=row.price,
            note=row.get_state_display(),
            commission=(row.pk, row.wanted),
        )
        for row in Commission.objects.filter(contact=contact)
    ]
