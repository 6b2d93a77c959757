"""Market days: what a pitch cost, what was packed for it, and the cash that was counted after it.

Money is millionths of the currency unit.
"""

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy, pgettext_lazy

from costing.markets.calculations import travel_by_distance
from costing.pieces.models import Piece
from costing.pricing.models import SalesChannel
from inventory.ledger.closing import refuse_closed
from inventory.ledger.keyed_records import KeyedRecord
from studio.auditing.recording import audited
from studio.constraints import called, one_of, whole
from studio.translation import _

MONEY = ("pitch_fee", "distance_rate", "travel_sum", "till_float")
IN_REPORTS = ("held_on", "pitch_fee", "distance", "distance_unit", "distance_rate", "travel_sum", "minutes")
LONGEST_TRIP = 5_000_000  # thousandths of a kilometre or mile: own choice
LONGEST_WORK = 6_000  # minutes, four people for a day and a night: own choice
NOT_BELOW_ZERO = [MinValueValidator(0)]


class DistanceUnit(models.TextChoices):
    """What roads are measured in."""

    KILOMETRE = "km", gettext_lazy("Kilometres")
    MILE = "mi", gettext_lazy("Miles")


@audited(units=dict.fromkeys(MONEY, "money"))
@called(
    pgettext_lazy("table", "market day"),
    name=pgettext_lazy("column", "name"),
    held_on=pgettext_lazy("column", "day"),
    place=pgettext_lazy("column", "place"),
    cash_channel=pgettext_lazy("column", "sales channel for cash"),
    card_channel=pgettext_lazy("column", "sales channel for cards"),
    pitch_fee=pgettext_lazy("column", "pitch fee"),
    distance=pgettext_lazy("column", "distance, in thousandths"),
    distance_unit=pgettext_lazy("column", "unit of the distance"),
    distance_rate=pgettext_lazy("column", "rate per km or mile"),
    travel_sum=pgettext_lazy("column", "travel"),
    minutes=pgettext_lazy("column", "minutes worked"),
    till_float=pgettext_lazy("column", "float"),
    notes=pgettext_lazy("column", "notes"),
)
class MarketDay(models.Model):
    """One day with a stall. Every sale of that day through its channels is its takings.

    `distance` is thousandths of its unit and `distance_rate` for a whole one, so that what was typed stays exact.
    """

    name = models.CharField(max_length=120)
    held_on = models.DateField()
    place = models.CharField(max_length=120, blank=True)
    cash_channel = models.ForeignKey(
        SalesChannel, on_delete=models.PROTECT, null=True, blank=True, related_name="market_days_by_cash"
    )
    card_channel = models.ForeignKey(
        SalesChannel, on_delete=models.PROTECT, null=True, blank=True, related_name="market_days_by_card"
    )
    pitch_fee = models.BigIntegerField(default=0, validators=NOT_BELOW_ZERO)
    distance = models.PositiveIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(LONGEST_TRIP)]
    )
    distance_unit = models.CharField(
        max_length=2, choices=DistanceUnit.choices, default=DistanceUnit.KILOMETRE
    )
    distance_rate = models.BigIntegerField(null=True, blank=True, validators=NOT_BELOW_ZERO)
    travel_sum = models.BigIntegerField(null=True, blank=True, validators=NOT_BELOW_ZERO)
    minutes = models.PositiveIntegerField(default=0, validators=[MaxValueValidator(LONGEST_WORK)])
    till_float = models.BigIntegerField(default=0, validators=NOT_BELOW_ZERO)
    notes = models.TextField(blank=True, max_length=2000)

    class Meta:
        ordering = ["-held_on", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["held_on", "cash_channel"], name="marketday_cash_once"),
            models.UniqueConstraint(fields=["held_on", "card_channel"], name="marketday_card_once"),
            models.CheckConstraint(
                condition=Q(cash_channel__isnull=False) | Q(card_channel__isnull=False),
                name="marketday_has_a_channel",
            ),
            models.CheckConstraint(
                condition=Q(cash_channel__isnull=True)
                | Q(card_channel__isnull=True)
                | ~Q(cash_channel=F("card_channel")),
                name="marketday_cash_apart_from_card",
            ),
            models.CheckConstraint(
                condition=Q(distance__isnull=True, distance_rate__isnull=True)
                | Q(
                    distance__isnull=False,
                    distance_rate__isnull=False,
                    distance__gt=0,
                    distance_rate__gte=0,
                    travel_sum__isnull=True,
                ),
                name="marketday_travel_once",
            ),
            models.CheckConstraint(
                condition=Q(pitch_fee__gte=0, till_float__gte=0, minutes__lte=LONGEST_WORK)
                & (Q(travel_sum__isnull=True) | Q(travel_sum__gte=0)),
                name="marketday_sensible",
            ),
            one_of("marketday", "distance_unit", DistanceUnit.values),
            *whole("marketday", *MONEY),
        ]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        """Raises ValidationError, naming what is wrong with it."""
        if not self.channels:
            raise ValidationError({"cash_channel": _("Choose a sales channel for cash, for cards, or both.")})
        if self.cash_channel_id == self.card_channel_id:
            apart = _("Cash and cards need a channel each, so that the cash can be counted.")
            raise ValidationError({"card_channel": apart})
        if (self.distance is None) != (self.distance_rate is None):
            missing = "distance_rate" if self.distance_rate is None else "distance"
            raise ValidationError({missing: _("Enter both the distance and the rate, or neither.")})
        self._refuse_closed()

    def _refuse_closed(self) -> None:
        """Raise ClosedPeriod where another cost or another day would change what a closed period came to."""
        before = type(self).objects.filter(pk=self.pk).values(*IN_REPORTS).first()
        now = {name: getattr(self, name) for name in IN_REPORTS}
        if before != now:
            refuse_closed(self.held_on, *([before["held_on"]] if before else []))
        if self.distance is not None and self.travel_sum is not None:
            raise ValidationError({"travel_sum": _("Enter a distance or a sum, not both.")})
        self._refuse_shared_channels()

    def _refuse_shared_channels(self) -> None:
        if self.held_on is None:
            return
        others = MarketDay.objects.filter(held_on=self.held_on).exclude(pk=self.pk)
        other = others.filter(Q(cash_channel__in=self.channels) | Q(card_channel__in=self.channels)).first()
        if other is not None:
            raise ValidationError(
                {
                    "held_on": _(
                        "“{name}” already counts the sales of one of these channels on that day. "
                        "Choose other channels, or another day.",
                        name=other.name,
                    )
                }
            )

    @property
    def channels(self) -> list[int]:
        """The numbers of the channels whose sales of the day are its takings."""
        return [pk for pk in (self.cash_channel_id, self.card_channel_id) if pk is not None]

    @property
    def travel(self) -> int:
        """What getting there cost, by distance or as a sum."""
        if self.distance is not None:
            return travel_by_distance(self.distance, self.distance_rate or 0)
        return self.travel_sum or 0


class PackedPiece(models.Model):
    """A piece that was packed for a market day, in which box; and whether it was missing afterwards."""

    market_day = models.ForeignKey(MarketDay, on_delete=models.CASCADE, related_name="packed")
    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="packed_for")
    box = models.CharField(max_length=40)
    is_missing = models.BooleanField(default=False)

    class Meta:
        ordering = ["box", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["market_day", "piece"], name="packedpiece_once"),
            models.CheckConstraint(condition=~Q(box=""), name="packedpiece_in_a_box"),
        ]

    def __str__(self) -> str:
        return _("{piece} in {box}", piece=self.piece_id, box=self.box)


class CashCount(KeyedRecord):
    """The cash that was in the till after a market day, beside what was expected then. A later count replaces it."""

    market_day = models.ForeignKey(MarketDay, on_delete=models.PROTECT, related_name="cash_counts")
    expected = models.BigIntegerField(
        help_text=gettext_lazy("The float and the cash takings, less what was paid out.")
    )
    counted = models.BigIntegerField()
    paid_out = models.BigIntegerField(default=0)
    note = models.CharField(max_length=200, blank=True)
    counted_at = models.DateTimeField()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            *KeyedRecord.Meta.constraints,
            models.CheckConstraint(condition=Q(counted__gte=0, paid_out__gte=0), name="cashcount_sensible"),
            *whole("cashcount", "expected", "counted", "paid_out"),
        ]

    def __str__(self) -> str:
        return _("Cash count {number}", number=self.pk)

    @property
    def difference(self) -> int:
        """Above zero: more cash than expected; below: less."""
        return self.counted - self.expected
