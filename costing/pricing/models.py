"""Sales channels. Rates are millionths (20 % = 200000), money millionths of the currency unit."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy, pgettext_lazy

from studio.auditing.recording import audited
from studio.constraints import called, whole

RATE = [MinValueValidator(0), MaxValueValidator(1_000_000)]


@audited(units={"commission": "percent", "card_rate": "percent", "fixed_fee": "money"})
@called(
    pgettext_lazy("table", "sales channel"),
    name=pgettext_lazy("column", "name"),
    commission=pgettext_lazy("column", "commission"),
    commission_before_tax=pgettext_lazy("column", "commission on the price without tax"),
    card_rate=pgettext_lazy("column", "card fee"),
    fixed_fee=pgettext_lazy("column", "fixed fee"),
    is_active=pgettext_lazy("column", "in use"),
)
class SalesChannel(models.Model):
    """Where work is sold, and what each channel takes of a price."""

    name = models.CharField(max_length=80, unique=True)
    commission = models.BigIntegerField(default=0, validators=RATE)
    commission_before_tax = models.BooleanField(
        default=True, help_text=gettext_lazy("Commission is taken on the price without tax.")
    )
    card_rate = models.BigIntegerField(default=0, validators=RATE)
    fixed_fee = models.BigIntegerField(default=0, validators=[MinValueValidator(0)])
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["name"]
        constraints = whole("sellingroute", "commission", "card_rate", "fixed_fee")

    def __str__(self) -> str:
        return self.name
