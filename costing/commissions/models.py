"""Pieces that are made to order: what was agreed, and what was paid before the sale.

Money received before a piece is sold is owed to the buyer: a customer deposit, a liability, and no income. What is held
of a commission is the sum of its payments; the sale sets it off against the price. Money is millionths of the currency
unit.
"""

from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q, Sum
from django.utils.text import Truncator
from django.utils.translation import gettext_lazy, pgettext_lazy

from costing.contacts.models import Contact
from costing.pricing.models import SalesChannel
from inventory.ledger.keyed_records import KeyedRecord
from studio.auditing.recording import audited
from studio.constraints import called, one_of, whole
from studio.translation import _

LONGEST_WANTED = 1_000
HEADING = 60  # characters of what is wanted, where a commission is named


class CommissionState(models.TextChoices):
    OPEN = "open", gettext_lazy("Open")
    SOLD = "sold", gettext_lazy("Finished as a sale")
    CANCELLED = "cancelled", gettext_lazy("Cancelled")


@audited(secrets=("wanted",), units={"price": "money"}, without=["recorded_by", "key", "fingerprint"])
@called(
    pgettext_lazy("table", "commission"),
    contact=pgettext_lazy("column", "contact"),
    wanted=pgettext_lazy("column", "what is wanted"),
    price=pgettext_lazy("column", "agreed price"),
    agreed_on=pgettext_lazy("column", "agreed on"),
    wanted_by=pgettext_lazy("column", "wanted by"),
    state=pgettext_lazy("column", "status"),
)
class Commission(KeyedRecord):
    """A piece to be made for a contact at an agreed price. An erased contact leaves the figures."""

    contact = models.ForeignKey(
        Contact, on_delete=models.SET_NULL, null=True, blank=True, related_name="commissions"
    )
    wanted = models.TextField(max_length=LONGEST_WANTED, blank=True)
    price = models.BigIntegerField(validators=[MinValueValidator(1)])
    agreed_on = models.DateField()
    wanted_by = models.DateField(null=True, blank=True)
    state = models.CharField(
        max_length=9, choices=CommissionState.choices, default=CommissionState.OPEN, editable=False
    )

    class Meta:
        ordering = ["-agreed_on", "-pk"]
        constraints = [
            *KeyedRecord.Meta.constraints,
            one_of("commission", "state", CommissionState.values),
            models.CheckConstraint(condition=Q(price__gt=0), name="commission_priced"),
            models.CheckConstraint(
                condition=Q(wanted_by__isnull=True) | Q(wanted_by__gte=F("agreed_on")),
                name="commission_days_in_order",
            ),
            *whole("commission", "price"),
        ]

    def __str__(self) -> str:
        """Without the words: this is what the change log keeps for good."""
        return _("Commission {number}", number=self.pk)

    @property
    def title(self) -> str:
        return Truncator(self.wanted.strip().partition("\n")[0]).chars(HEADING) or str(self)

    @property
    def is_open(self) -> bool:
        return self.state == CommissionState.OPEN

    @property
    def is_cancelled(self) -> bool:
        return self.state == CommissionState.CANCELLED

    def clean(self) -> None:
        """Raises ValidationError, naming what is wrong with it."""
        if not self.is_open:
            raise ValidationError(_("This commission is closed, so it is not changed any more."))
        if not self.wanted.strip():
            raise ValidationError({"wanted": _("Write what is to be made.")})
        if self.contact is None and self.pk is None:
            raise ValidationError({"contact": _("Choose who orders it.")})
        if self.wanted_by and self.agreed_on and self.wanted_by < self.agreed_on:
            raise ValidationError({"wanted_by": _("Use the day of the agreement or a later one.")})
        if self.pk is not None and self.price is not None and self.price < paid_for(self):
            raise ValidationError(
                {"price": _("More than that has already been paid. Pay some of it back first.")}
            )


class PaymentKind(models.TextChoices):
    RECEIVED = "received", gettext_lazy("Received")
    RETURNED = "returned", gettext_lazy("Paid back")
    KEPT = "kept", gettext_lazy("Kept")
    SET_OFF = "set_off", gettext_lazy("Set off against the price")


MOVES_MONEY = (PaymentKind.RECEIVED, PaymentKind.RETURNED)


class CommissionPayment(KeyedRecord):
    """Money that came in for a commission (above zero), or what became of it (below zero).

    It is paid back or kept when the commission is cancelled, and set off when the piece is sold. A payment is never
    changed: a mistake is reversed by its opposite. `fee` is what the card took of it; the sale takes it over.
    """

    commission = models.ForeignKey(Commission, on_delete=models.PROTECT, related_name="payments")
    kind = models.CharField(max_length=8, choices=PaymentKind.choices)
    on = models.DateField()
    amount = models.BigIntegerField()
    fee = models.BigIntegerField(default=0)
    channel = models.ForeignKey(
        SalesChannel, on_delete=models.PROTECT, null=True, blank=True, related_name="commission_payments"
    )
    reason = models.CharField(max_length=200, blank=True)
    reverses = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="reversed_by"
    )
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["on", "pk"]
        constraints = [
            *KeyedRecord.Meta.constraints,
            one_of("commissionpayment", "kind", PaymentKind.values),
            models.CheckConstraint(
                condition=Q(reverses__isnull=False)
                | Q(kind=PaymentKind.RECEIVED, amount__gt=0, fee__gte=0)
                | (~Q(kind=PaymentKind.RECEIVED) & Q(amount__lt=0, fee__lte=0)),
                name="commissionpayment_right_way",
            ),
            models.CheckConstraint(
                condition=Q(kind=PaymentKind.KEPT, channel__isnull=True)
                | (~Q(kind=PaymentKind.KEPT) & Q(channel__isnull=False)),
                name="commissionpayment_by_some_way",
            ),
            *whole("commissionpayment", "amount", "fee"),
        ]

    def __str__(self) -> str:
        return _("Payment {number}", number=self.pk)

    @property
    def is_reversible(self) -> bool:
        """Whether it may still be reversed as a mistake, as long as the commission is open.

        Money is paid back by cancelling, so that can be reversed once the commission is opened again.
        """
        return self.kind in MOVES_MONEY and self.reverses is None and not hasattr(self, "reversed_by")


def paid_for(commission: Commission) -> int:
    """What was received for a commission and not paid back."""
    found = commission.payments.filter(kind__in=MOVES_MONEY).aggregate(sum=Sum("amount"))["sum"]
    return int(found or 0)
