"""Sales channels, and the studio's own ways to a price.

Rates are millionths (20 % = 200000), money millionths of the currency unit.
"""

from datetime import date
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy, pgettext_lazy

from costing.pricing.methods import Ending, FailureAllowance, Method, Rules
from inventory.ledger.closing import refuse_closed
from studio.auditing.recording import audited
from studio.constraints import called, one_of, whole
from studio.preferences.dated import Dated, dated_rules, since_in_words
from studio.preferences.rates import DatedRates
from studio.translation import _

FIGURES = ("commission", "card_rate", "fixed_fee", "monthly_fee")
SHARE: dict[str, Any] = {
    "null": True,
    "blank": True,
    "validators": [MinValueValidator(0), MaxValueValidator(1_000_000)],
}


class Payment(models.TextChoices):
    """How buyers pay on a sales channel."""

    CASH = "cash", gettext_lazy("Cash")
    CARD = "card", gettext_lazy("Card")
    ONLINE = "online", gettext_lazy("Online payment")
    TRANSFER = "transfer", gettext_lazy("Bank transfer")
    GALLERY = "gallery", gettext_lazy("To a gallery, which keeps a commission")


@audited()
@called(
    pgettext_lazy("table", "sales channel"),
    name=pgettext_lazy("column", "name"),
    payment=pgettext_lazy("column", "payment"),
    is_active=pgettext_lazy("column", "in use"),
)
class SalesChannel(models.Model):
    """Where work is sold. What it takes of a price, its terms say."""

    name = models.CharField(max_length=80, unique=True)
    payment = models.CharField(max_length=8, choices=Payment.choices, default=Payment.CASH)
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["name"]
        constraints = [one_of("saleschannel", "payment", Payment.values)]

    def __str__(self) -> str:
        return self.name

    @property
    def is_gallery(self) -> bool:
        """Whether pieces are left there on sale or return, and the gallery keeps a commission of what it sells."""
        return self.payment == Payment.GALLERY


@audited(
    units={"commission": "percent", "card_rate": "percent", "fixed_fee": "money", "monthly_fee": "money"}
)
@called(
    pgettext_lazy("table", "terms of a sales channel"),
    channel=pgettext_lazy("column", "sales channel"),
    holds_from=pgettext_lazy("column", "from"),
    commission=pgettext_lazy("column", "commission"),
    commission_before_tax=pgettext_lazy("column", "commission on the price without tax"),
    card_rate=pgettext_lazy("column", "card fee"),
    fixed_fee=pgettext_lazy("column", "fixed fee"),
    monthly_fee=pgettext_lazy("column", "monthly fee"),
)
class ChannelTerms(Dated):
    """What a sales channel takes from a day on. What no terms say is nothing, before tax.

    All but the monthly fee is taken of each sale; that one is a cost of the channel, whatever is sold.
    """

    values = (*FIGURES, "commission_before_tax")
    owner = ("channel",)

    channel = models.ForeignKey(SalesChannel, on_delete=models.CASCADE, related_name="terms")
    commission = models.BigIntegerField(**SHARE)
    commission_before_tax = models.BooleanField(null=True, blank=True)
    card_rate = models.BigIntegerField(**SHARE)
    fixed_fee = models.BigIntegerField(null=True, blank=True, validators=[MinValueValidator(0)])
    monthly_fee = models.BigIntegerField(null=True, blank=True, validators=[MinValueValidator(0)])

    class Meta(Dated.Meta):
        verbose_name = verbose_name_plural = "terms"
        constraints = [
            *dated_rules("channelterms", [*FIGURES, "commission_before_tax"], "channel", figures=FIGURES),
            *whole("channelterms", *FIGURES),
        ]

    def clean(self) -> None:
        """Raises ValidationError, and ClosedPeriod where another monthly fee would change a closed period."""
        super().clean()
        before = type(self).objects.filter(pk=self.pk).values_list("holds_from", "monthly_fee").first()
        now = (self.holds_from, self.monthly_fee)
        if before != now:
            refuse_closed(
                *(since for since, fee in filter(None, (before, now)) if fee or (since and fee == 0))
            )

    def __str__(self) -> str:
        return _("{channel}, {since}", channel=self.channel, since=since_in_words(self.holds_from))


ENDINGS = {
    Ending.EXACT: gettext_lazy("As calculated"),
    Ending.WHOLE: gettext_lazy("Whole amounts"),
    Ending.FIVES: gettext_lazy("Multiples of five"),
    Ending.HALF: gettext_lazy("Ending in 50"),
    Ending.NINETY_FIVE: gettext_lazy("Ending in 95"),
    Ending.NINETY_NINE: gettext_lazy("Ending in 99"),
}
METHODS = {
    Method.MARKUP: gettext_lazy("Cost plus markup"),
    Method.MARGIN: gettext_lazy("Target margin"),
    Method.WAGE: gettext_lazy("Materials plus hours"),
    Method.AREA: gettext_lazy("By area"),
    Method.SIDES: gettext_lazy("By height + width"),
    Method.RETAIL: gettext_lazy("Trade and retail"),
}
FAILURES = {
    FailureAllowance.NONE: gettext_lazy("None"),
    FailureAllowance.COUNTED: gettext_lazy("My own rate, counted over the last 12 months"),
    FailureAllowance.TYPED: gettext_lazy("A rate that I set"),
}
MOST_FAILURES = 900_000  # nine in ten: beyond it there is no price to speak of (own choice)
MOST_RATIO = 100_000_000  # a hundredfold: own choice


@audited(
    units={
        "markup": "percent",
        "margin": "percent",
        "wage": "money",
        "per_area": "money",
        "per_side": "money",
        "retail_factor": "ratio",
        "failure_share": "percent",
    }
)
@called(
    pgettext_lazy("table", "ways to a price"),
    method=pgettext_lazy("column", "usual way"),
    markup=pgettext_lazy("column", "markup"),
    margin=pgettext_lazy("column", "margin"),
    wage=pgettext_lazy("column", "wage in a price"),
    per_area=pgettext_lazy("column", "price per 100 cm²"),
    per_side=pgettext_lazy("column", "price per cm"),
    retail_factor=pgettext_lazy("column", "retail factor"),
    ending=pgettext_lazy("column", "prices end"),
    failures=pgettext_lazy("column", "allowance for failed pours"),
    failure_share=pgettext_lazy("column", "rate of failed pours"),
)
class PriceRules(models.Model):
    """The figures of the studio's ways to a price: one row. The defaults are our own choice, to be changed."""

    method = models.CharField(max_length=6, choices=METHODS, default=Method.MARKUP)
    ending = models.CharField(max_length=5, choices=ENDINGS, default=Ending.WHOLE)
    markup = models.BigIntegerField(
        default=300_000, validators=[MinValueValidator(0), MaxValueValidator(MOST_RATIO)]
    )
    margin = models.BigIntegerField(default=400_000, validators=[MinValueValidator(0)])
    wage = models.BigIntegerField(default=15_000_000, validators=[MinValueValidator(0)])
    per_area = models.BigIntegerField(default=8_000_000, validators=[MinValueValidator(0)])
    per_side = models.BigIntegerField(default=1_000_000, validators=[MinValueValidator(0)])
    retail_factor = models.BigIntegerField(
        default=2_000_000, validators=[MinValueValidator(1_000_000), MaxValueValidator(MOST_RATIO)]
    )
    failures = models.CharField(max_length=7, choices=FAILURES, default=FailureAllowance.NONE)
    failure_share = models.BigIntegerField(default=0, validators=[MinValueValidator(0)])

    class Meta:
        verbose_name = verbose_name_plural = "price rules"
        constraints = [
            models.CheckConstraint(condition=models.Q(pk=1), name="pricerules_only_one"),
            models.CheckConstraint(
                condition=models.Q(
                    markup__gte=0,
                    margin__range=(0, 999_999),
                    wage__gte=0,
                    per_area__gte=0,
                    per_side__gte=0,
                    retail_factor__gte=1_000_000,
                    failure_share__range=(0, MOST_FAILURES),
                ),
                name="pricerules_sensible",
            ),
            one_of("pricerules", "method", list(Method)),
            one_of("pricerules", "ending", list(Ending)),
            one_of("pricerules", "failures", list(FailureAllowance)),
            *whole(
                "pricerules",
                "markup",
                "margin",
                "wage",
                "per_area",
                "per_side",
                "retail_factor",
                "failure_share",
            ),
        ]

    def __str__(self) -> str:
        return _("Ways to a price")

    @classmethod
    def current(cls) -> "PriceRules":
        """The studio's own; until she changes them the defaults, not yet saved, and the latest rate of her hours."""
        return cls.objects.filter(pk=1).first() or cls._not_yet_changed()

    @classmethod
    def _not_yet_changed(cls) -> "PriceRules":
        rate = DatedRates.read().on(date.max).wage
        return cls(pk=1) if rate is None else cls(pk=1, wage=rate.value)

    def clean(self) -> None:
        """Raises ValidationError, naming what is wrong with it."""
        if not 0 <= self.margin < 1_000_000:
            raise ValidationError({"margin": _("A margin is from 0% to below 100%.")})
        if self.retail_factor < 1_000_000:
            message = _("The retail price is at least the trade price: enter 1 or more.")
            raise ValidationError({"retail_factor": message})
        if not 0 <= self.failure_share <= MOST_FAILURES:
            raise ValidationError({"failure_share": _("A rate of failed pours is from 0% to 90%.")})
        if self.failures == FailureAllowance.TYPED and not self.failure_share:
            message = _("Enter the rate to allow for, such as 5%, or choose another allowance.")
            raise ValidationError({"failure_share": message})

    @property
    def rules(self) -> Rules:
        """The same for the calculations."""
        return Rules(
            self.markup,
            self.margin,
            self.wage,
            self.per_area,
            self.per_side,
            self.retail_factor,
            Ending(self.ending),
        )
