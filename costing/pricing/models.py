"""Sales channels. Rates are millionths (20 % = 200000), money millionths of the currency unit."""

from typing import Any

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import pgettext_lazy

from studio.auditing.recording import audited
from studio.constraints import called, whole
from studio.preferences.dated import Dated, dated_rules, since_in_words
from studio.translation import _

FIGURES = ("commission", "card_rate", "fixed_fee")
SHARE: dict[str, Any] = {
    "null": True,
    "blank": True,
    "validators": [MinValueValidator(0), MaxValueValidator(1_000_000)],
}


@audited()
@called(
    pgettext_lazy("table", "sales channel"),
    name=pgettext_lazy("column", "name"),
    is_active=pgettext_lazy("column", "in use"),
)
class SalesChannel(models.Model):
    """Where work is sold. What it takes of a price, its terms say."""

    name = models.CharField(max_length=80, unique=True)
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


@audited(units={"commission": "percent", "card_rate": "percent", "fixed_fee": "money"})
@called(
    pgettext_lazy("table", "terms of a sales channel"),
    channel=pgettext_lazy("column", "sales channel"),
    holds_from=pgettext_lazy("column", "from"),
    commission=pgettext_lazy("column", "commission"),
    commission_before_tax=pgettext_lazy("column", "commission on the price without tax"),
    card_rate=pgettext_lazy("column", "card fee"),
    fixed_fee=pgettext_lazy("column", "fixed fee"),
)
class ChannelTerms(Dated):
    """What a sales channel takes of a price from a day on. What no terms say is nothing, before tax."""

    values = (*FIGURES, "commission_before_tax")
    owner = ("channel",)

    channel = models.ForeignKey(SalesChannel, on_delete=models.CASCADE, related_name="terms")
    commission = models.BigIntegerField(**SHARE)
    commission_before_tax = models.BooleanField(null=True, blank=True)
    card_rate = models.BigIntegerField(**SHARE)
    fixed_fee = models.BigIntegerField(null=True, blank=True, validators=[MinValueValidator(0)])

    class Meta(Dated.Meta):
        verbose_name = verbose_name_plural = "terms"
        constraints = [
            *dated_rules("channelterms", [*FIGURES, "commission_before_tax"], "channel", figures=FIGURES),
            *whole("channelterms", *FIGURES),
        ]

    def __str__(self) -> str:
        return _("{channel}, {since}", channel=self.channel, since=since_in_words(self.holds_from))
