"""Orders and deliveries."""

from decimal import Decimal
from typing import Any

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy, pgettext_lazy

from inventory.ledger.keyed_records import KeyedRecord
from inventory.ledger.models import Posting
from inventory.materials.models import Material, Supplier
from studio.auditing.recording import Virtual, audited
from studio.constraints import one_of, whole
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.money import MOST_RATE_PLACES, format_money, rate_parts
from studio.values.quantities import format_quantity
from studio.values.units import Measure

# What the change log calls the lines of an order; prices apart, because not everybody may see them.
LINES, LINE_PRICES = "lines", "line_prices"


class SentBy(models.TextChoices):
    """How an order reached its supplier."""

    EMAIL = "email", gettext_lazy("By email")
    PHONE = "phone", gettext_lazy("By phone")
    WEBSITE = "website", gettext_lazy("On their website")
    POST = "post", gettext_lazy("By post")
    SHOP = "shop", gettext_lazy("In the shop")


def _lines_in_words(lines: list[dict[str, Any]], _formatter: Formatter) -> str:
    """The lines as the change log shows them: "3 × 500 mL Titanium White; …"."""
    return "; ".join(f"{line['packs']} × {line['pack']} {line['material']}" for line in lines)


def _prices_in_words(lines: list[dict[str, Any]], formatter: Formatter) -> str:
    """Their prices: "Titanium White £24.00; …"."""
    return "; ".join(
        f"{line['material']} {format_money(line['price'], line['currency'], locale=formatter.locale)}"
        for line in lines
    )


@audited(
    without=["number", "currency", "recorded_by", "key", "fingerprint"],
    virtual={
        LINES: Virtual(pgettext_lazy("of an order", "lines"), _lines_in_words),
        LINE_PRICES: Virtual(pgettext_lazy("of an order", "line prices"), _prices_in_words),
    },
)
class Order(KeyedRecord):
    """Goods asked for under a number of our own. Line prices are in its currency.

    It is closed by itself once everything has come; closed by hand, `rest_cancelled` says that the rest will not.
    `expected_on` is the day promised last; what was promised before, its chases keep.
    """

    number = models.PositiveIntegerField(unique=True, editable=False)
    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="orders")
    currency = models.CharField(max_length=3)
    ordered_on = models.DateField()
    expected_on = models.DateField(null=True, blank=True)
    reference = models.CharField(
        max_length=60, blank=True, help_text=gettext_lazy("The supplier's own number for it.")
    )
    deliver_to = models.TextField(blank=True)
    sent_on = models.DateField(null=True, blank=True)
    sent_by = models.CharField(max_length=7, choices=SentBy.choices, blank=True)
    is_closed = models.BooleanField(
        default=False, help_text=gettext_lazy("Nothing more is expected from this order.")
    )
    rest_cancelled = models.BooleanField(
        default=False, help_text=gettext_lazy("It was closed although not everything had come.")
    )
    notes = models.TextField(blank=True)

    class Meta(KeyedRecord.Meta):
        ordering = ["-ordered_on", "-pk"]
        constraints = [
            *KeyedRecord.Meta.constraints,
            models.CheckConstraint(condition=Q(number__gt=0), name="order_numbered"),
            models.CheckConstraint(
                condition=Q(is_closed=True) | Q(rest_cancelled=False), name="order_closed_without_the_rest"
            ),
            one_of("order", "sent_by", ["", *SentBy.values]),
        ]

    def __str__(self) -> str:
        return _("Order {number}", number=self.number)


class OrderLine(models.Model):
    """So many packs of a material; its quantity and its price are those of all of them together."""

    order = models.ForeignKey(Order, on_delete=models.CASCADE, related_name="lines")
    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="order_lines")
    packs = models.PositiveIntegerField(default=1)
    quantity = models.BigIntegerField(validators=[MinValueValidator(1)])
    price = models.BigIntegerField(
        default=0,
        validators=[MinValueValidator(0)],
        help_text=gettext_lazy("Line price in the supplier's currency."),
    )
    typed = models.CharField(
        max_length=60, blank=True, help_text=gettext_lazy("The pack size as it was entered.")
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(quantity__gt=0, price__gte=0, packs__gt=0), name="orderline_sensible"
            ),
            *whole("orderline", "quantity", "price"),
        ]

    def __str__(self) -> str:
        return _("Order line {number}", number=self.pk)

    @property
    def pack(self) -> int:
        """What one pack holds, in thousandths of the base unit."""
        return self.quantity // self.packs

    @property
    def pack_in_words(self) -> str:
        """A pack as it was typed, as on its label; else in the units that everything is counted in."""
        return self.typed or format_quantity(self.pack, Measure(self.material.measure))


class OrderChase(KeyedRecord):
    """One time that a supplier was asked where an order is, and what it promised. Never changed, never deleted."""

    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="chases")
    recorded_at = models.DateTimeField()
    asked_on = models.DateField()
    expected_before = models.DateField(null=True, blank=True)
    promised_on = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=300, blank=True)

    class Meta(KeyedRecord.Meta):
        ordering = ["pk"]

    def __str__(self) -> str:
        return _("Order {number}, asked about", number=self.order.number)


class Delivery(models.Model):
    """Goods received, as corrected since.

    Line prices are the invoice's currency, and `invoiced` is their sum; `paid` is what that sum cost in the studio's
    own, as are carriage, duty and tax (all millionths). Where an exchange rate was typed, it is kept to its last digit
    as a whole number and how many of its digits are decimals; it is missing where what was paid was typed instead.
    """

    class SharedBy(models.TextChoices):
        VALUE = "value", gettext_lazy("By value of the lines")
        MASS = "mass", gettext_lazy("By weight of the lines")

    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="deliveries")
    order = models.ForeignKey(
        Order, on_delete=models.PROTECT, null=True, blank=True, related_name="deliveries"
    )
    received_on = models.DateField()
    reference = models.CharField(
        max_length=60, blank=True, help_text=gettext_lazy("Invoice or delivery note number.")
    )
    currency = models.CharField(max_length=3)
    invoiced = models.BigIntegerField()
    paid = models.BigIntegerField()
    rate_digits = models.BigIntegerField(null=True, blank=True)
    rate_places = models.BigIntegerField(null=True, blank=True)
    rate_on = models.DateField(null=True, blank=True)
    carriage = models.BigIntegerField(default=0)
    carriage_shared_by = models.CharField(max_length=6, choices=SharedBy.choices, default=SharedBy.VALUE)
    duty = models.BigIntegerField(default=0)
    tax = models.BigIntegerField(default=0, help_text=gettext_lazy("Tax that cannot be reclaimed."))
    posting = models.OneToOneField(Posting, on_delete=models.PROTECT, related_name="delivery")

    class Meta:
        ordering = ["-received_on", "-pk"]
        verbose_name_plural = "deliveries"
        constraints = [
            models.CheckConstraint(
                condition=Q(invoiced__gte=0, paid__gte=0, carriage__gte=0, duty__gte=0, tax__gte=0),
                name="delivery_sensible",
            ),
            models.CheckConstraint(
                condition=Q(rate_digits__isnull=True, rate_places__isnull=True)
                | Q(rate_digits__isnull=False, rate_places__isnull=False)
                & Q(rate_digits__gt=0, rate_places__range=(0, MOST_RATE_PLACES)),
                name="delivery_rate_whole_or_missing",
            ),
            one_of("delivery", "carriage_shared_by", ["value", "mass"]),
            *whole("delivery", "invoiced", "paid", "rate_digits", "rate_places", "carriage", "duty", "tax"),
        ]

    def __str__(self) -> str:
        return _("Delivery {number}", number=self.pk)

    @property
    def rate(self) -> Decimal | None:
        """Studio currency for one unit of the invoice's, as it was typed."""
        if self.rate_digits is None or self.rate_places is None:
            return None
        return Decimal(self.rate_digits).scaleb(-self.rate_places)

    @rate.setter
    def rate(self, rate: Decimal | None) -> None:
        self.rate_digits, self.rate_places = (None, None) if rate is None else rate_parts(rate)


class DeliveryLine(models.Model):
    """One line of a delivery: it made one lot.

    `price` is the line total in the purchase currency, `landed` what the lot cost.
    """

    delivery = models.ForeignKey(Delivery, on_delete=models.PROTECT, related_name="lines")
    order_line = models.ForeignKey(
        OrderLine, on_delete=models.SET_NULL, null=True, blank=True, related_name="received"
    )
    lot = models.OneToOneField("inventory.Lot", on_delete=models.PROTECT, related_name="delivery_line")
    packs = models.PositiveIntegerField(default=1)
    quantity = models.BigIntegerField()
    price = models.BigIntegerField()
    landed = models.BigIntegerField()
    typed = models.CharField(
        max_length=60, blank=True, help_text=gettext_lazy("The quantity as it was entered, for the record.")
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(quantity__gt=0, price__gte=0, landed__gte=0, packs__gt=0),
                name="deliveryline_sensible",
            ),
            *whole("deliveryline", "quantity", "price", "landed"),
        ]

    def __str__(self) -> str:
        return _("Delivery line {number}", number=self.pk)


class DeliveryCorrection(models.Model):
    """One time that a delivery was put right: its figures, each as it was before and after, beside the posting."""

    delivery = models.ForeignKey(Delivery, on_delete=models.PROTECT, related_name="corrections")
    posting = models.OneToOneField(Posting, on_delete=models.PROTECT, related_name="delivery_correction")

    class Meta:
        ordering = ["posting_id"]

    def __str__(self) -> str:
        return _("Correction of delivery {number}", number=self.delivery_id)


DELIVERY_FIGURES = (
    "supplier_id", "currency", "received_on", "rate", "rate_on", "invoiced", "paid",
    "carriage", "carriage_shared_by", "duty", "tax",
)  # fmt: skip
LINE_FIGURES = ("packs", "quantity", "price", "landed", "typed")


class CorrectedFigure(models.Model):
    """One column of a delivery, or of one of its lines, before and after: as it is stored, written out."""

    correction = models.ForeignKey(DeliveryCorrection, on_delete=models.PROTECT, related_name="figures")
    line = models.ForeignKey(DeliveryLine, on_delete=models.PROTECT, null=True, related_name="corrected")
    name = models.CharField(max_length=20)
    before = models.CharField(max_length=60, blank=True)
    after = models.CharField(max_length=60, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["correction", "name"],
                condition=Q(line__isnull=True),
                name="correctedfigure_once_of_delivery",
            ),
            models.UniqueConstraint(
                fields=["correction", "line", "name"], name="correctedfigure_once_of_line"
            ),
            models.CheckConstraint(
                condition=Q(line__isnull=True, name__in=DELIVERY_FIGURES)
                | Q(line__isnull=False, name__in=LINE_FIGURES),
                name="correctedfigure_named",
            ),
            models.CheckConstraint(condition=~Q(before=F("after")), name="correctedfigure_differs"),
        ]

    def __str__(self) -> str:
        return f"{self.name}: {self.before} → {self.after}"
