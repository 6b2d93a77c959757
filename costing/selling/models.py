"""Sales, the pieces sold in them, and what was refunded. Money is millionths of the currency unit."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy

from costing.commissions.models import Commission
from costing.contacts.models import Contact
from costing.pieces.models import Piece
from costing.pricing.models import SalesChannel
from inventory.ledger.keyed_records import KeyedRecord
from inventory.ledger.models import Posting
from studio.constraints import one_of, whole
from studio.translation import _

FEES = ("commission", "card_fee", "fixed_fee")
SHARED = ("postage", "postage_paid", "tax", *FEES)


class Sale(models.Model):
    """One or several pieces sold together, to one buyer, through one channel. What it brought, its lines say."""

    channel = models.ForeignKey(SalesChannel, on_delete=models.PROTECT, related_name="sales")
    sold_on = models.DateField()
    number = models.PositiveIntegerField(
        null=True, blank=True, unique=True, help_text=gettext_lazy("Receipt number, without gaps.")
    )
    buyer = models.ForeignKey(
        Contact, on_delete=models.SET_NULL, null=True, blank=True, related_name="purchases"
    )
    tax_rate = models.BigIntegerField(
        default=0, help_text=gettext_lazy("Tax that was included in the price, in millionths (20% = 200000).")
    )
    commission = models.OneToOneField(
        Commission,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="sale",
        help_text=gettext_lazy("Which order it finishes; none once the sale is undone."),
    )
    paid_before = models.BigIntegerField(
        default=0, help_text=gettext_lazy("What was paid for the commission and set off against the price.")
    )
    corrects = models.OneToOneField(
        "self",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="corrected_by",
        help_text=gettext_lazy(
            "Which sale it stands in place of: that one was recorded wrongly, and undone."
        ),
    )
    note = models.CharField(max_length=200, blank=True)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-sold_on", "-pk"]
        constraints = [
            models.CheckConstraint(condition=Q(number__isnull=True) | Q(number__gt=0), name="sale_numbered"),
            models.CheckConstraint(condition=Q(paid_before__gte=0), name="sale_paid_before_sensible"),
            *whole("sale", "tax_rate", "paid_before"),
        ]

    def __str__(self) -> str:
        return _("Sale {number}", number=self.pk)


class SaleLine(models.Model):
    """A piece in a sale, with its share of everything that was charged for the sale as a whole.

    A piece is sold once: a return reverses the posting and frees it to be sold again. Tax is on price and postage.
    """

    sale = models.ForeignKey(Sale, on_delete=models.PROTECT, related_name="lines")
    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="sale_lines")
    full_price = models.BigIntegerField(help_text=gettext_lazy("Before any discount, tax included."))
    price = models.BigIntegerField(help_text=gettext_lazy("What the buyer paid for it, tax included."))
    postage = models.BigIntegerField(default=0, help_text=gettext_lazy("Its share of the postage charged."))
    postage_paid = models.BigIntegerField(default=0, help_text=gettext_lazy("Its share of the postage paid."))
    tax = models.BigIntegerField(default=0)
    commission = models.BigIntegerField(default=0)
    card_fee = models.BigIntegerField(default=0)
    fixed_fee = models.BigIntegerField(default=0)
    posting = models.OneToOneField(Posting, on_delete=models.PROTECT, related_name="sale_line")
    returned_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["-sale__sold_on", "-sale_id", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["piece"], condition=Q(returned_on__isnull=True), name="saleline_piece_sold_once"
            ),
            models.CheckConstraint(
                condition=Q(
                    price__gt=0, full_price__gte=F("price"), **{f"{name}__gte": 0 for name in SHARED}
                ),
                name="saleline_sensible",
            ),
            *whole("saleline", "full_price", "price", *SHARED),
        ]

    def __str__(self) -> str:
        return f"{self.sale_id}: {self.piece_id}"

    @property
    def discount(self) -> int:
        return self.full_price - self.price

    @property
    def paid(self) -> int:
        """What the buyer paid for the piece and its share of the postage, tax included."""
        return self.price + self.postage

    @property
    def fees(self) -> int:
        """What the sales channel took."""
        return self.commission + self.card_fee + self.fixed_fee

    @property
    def net_proceeds(self) -> int:
        """What the sale left after tax, the sales channel's fees and the postage paid, before any refund."""
        return self.paid - self.tax - self.fees - self.postage_paid


class Condition(models.TextChoices):
    """In which state a piece came back."""

    AS_SOLD = "as_sold", gettext_lazy("As it was sold: for sale again")
    SECOND = "second", gettext_lazy("Damaged: for sale again as a second")
    WRITTEN_OFF = "written_off", gettext_lazy("Damaged: write it off")


class Refund(KeyedRecord):
    """Money given back for a piece: with the piece (it has a `condition`), or without it as a partial refund.

    `tax` is what of the amount was tax, `fees` what the sales channel gave back of its own.
    """

    line = models.ForeignKey(SaleLine, on_delete=models.PROTECT, related_name="refunds")
    on = models.DateField()
    amount = models.BigIntegerField()
    tax = models.BigIntegerField(default=0)
    fees = models.BigIntegerField(default=0)
    condition = models.CharField(max_length=11, choices=Condition.choices, blank=True)
    number = models.PositiveIntegerField(
        null=True, blank=True, unique=True, help_text=gettext_lazy("Credit note number, without gaps.")
    )
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["on", "pk"]
        constraints = [
            *KeyedRecord.Meta.constraints,
            models.UniqueConstraint(fields=["line"], condition=~Q(condition=""), name="refund_returned_once"),
            models.CheckConstraint(
                condition=Q(tax__gte=0, fees__gte=0, amount__gte=F("tax"))
                & (Q(amount__gt=0) | ~Q(condition="")),
                name="refund_sensible",
            ),
            models.CheckConstraint(
                condition=Q(number__isnull=True) | Q(number__gt=0), name="refund_numbered"
            ),
            one_of("refund", "condition", ["", *Condition.values]),
            *whole("refund", "amount", "tax", "fees"),
        ]

    def __str__(self) -> str:
        return f"{self.line_id}: {self.amount}"

    @property
    def taken_back(self) -> int:
        """By how much it lessens the net proceeds."""
        return self.amount - self.tax - self.fees
