"""The one studio's own settings."""

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy, pgettext_lazy

from studio.constraints import called, whole
from studio.errors import InputError
from studio.preferences.dated import Dated, dated_rules, since_in_words
from studio.preferences.locale_choices import is_locale
from studio.translation import _
from studio.values.money import minor_units

RATES = ("wage_per_hour", "overhead_per_hour", "tax_rate")


@called(
    name=pgettext_lazy("column", "name"),
    currency=pgettext_lazy("column", "currency"),
    locale=pgettext_lazy("column", "numbers and dates"),
    fluid_system=pgettext_lazy("column", "fluid ounces"),
    paper=pgettext_lazy("column", "paper"),
    reserve=pgettext_lazy("column", "extra paint"),
    varnish_after_days=pgettext_lazy("column", "days before varnish"),
    measuring_tolerance=pgettext_lazy("column", "measuring tolerance"),
)
class Studio(models.Model):
    """The one studio this database belongs to."""

    class FluidSystem(models.TextChoices):
        IMPERIAL = "imperial", gettext_lazy("Imperial (fluid ounce 28.41 mL)")
        US = "us", gettext_lazy("US (fluid ounce 29.57 mL)")

    class Paper(models.TextChoices):
        A4 = "A4", "A4"
        A5 = "A5", "A5"
        LETTER = "Letter", gettext_lazy("US Letter")

    name = models.CharField(max_length=120, default="My studio")
    currency = models.CharField(
        max_length=3, default="GBP", help_text=gettext_lazy("ISO 4217 code, such as GBP, EUR or USD.")
    )
    language = models.CharField(
        gettext_lazy("language"),
        max_length=10,
        choices=settings.LANGUAGES,
        default=settings.LANGUAGE_CODE,
        help_text=gettext_lazy(
            "The language of pages, documents and emails. Everyone can choose a language for their own pages."
        ),
    )
    locale = models.CharField(
        max_length=20,
        default="en_GB",
        help_text=gettext_lazy("How numbers and dates are written, such as en_GB, en_US or de_DE."),
    )
    fluid_system = models.CharField(
        max_length=8,
        choices=FluidSystem.choices,
        default=FluidSystem.IMPERIAL,
        help_text=gettext_lazy("What fluid ounce, pint and gallon mean in this studio."),
    )
    paper = models.CharField(max_length=6, choices=Paper.choices, default=Paper.A4)
    reserve = models.BigIntegerField(
        default=100_000,
        validators=[MinValueValidator(0), MaxValueValidator(1_000_000)],
        help_text=gettext_lazy("Extra paint planned on top of what is needed, in millionths (10% = 100000)."),
    )
    varnish_after_days = models.PositiveSmallIntegerField(
        default=7,
        help_text=gettext_lazy(
            "Days a pour dries before varnishing. At least a week is a general rule of thumb."
        ),
    )
    # A household jug is marked in steps of about this much of what is in it (our own choice, no source).
    measuring_tolerance = models.BigIntegerField(
        default=50_000,
        validators=[MinValueValidator(0), MaxValueValidator(1_000_000)],
        help_text=gettext_lazy("How far measuring may be off, in millionths (5% = 50000)."),
    )
    confirmed_at = models.DateTimeField(
        null=True,
        editable=False,
        help_text=gettext_lazy("When the owner first saved the settings, even without a change."),
    )
    is_demo = models.BooleanField(default=False, editable=False)

    class Meta:
        verbose_name = verbose_name_plural = gettext_lazy("studio settings")
        constraints = [
            models.CheckConstraint(condition=models.Q(pk=1), name="studio_only_one"),
            *whole("studio", "reserve", "measuring_tolerance"),
        ]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        """Raises ValidationError, naming what is wrong with it."""
        try:
            minor_units(self.currency)
        except InputError as problem:
            raise ValidationError({"currency": str(problem)}) from None
        if not is_locale(self.locale):
            raise ValidationError({"locale": _("Choose one of the formats in the list.")})

    @classmethod
    def current(cls) -> "Studio":
        """The studio of this database (made with defaults at first migration)."""
        return cls.objects.get(pk=1)


@called(
    pgettext_lazy("table", "rates"),
    holds_from=pgettext_lazy("column", "from"),
    wage_per_hour=pgettext_lazy("column", "hourly rate"),
    overhead_per_hour=pgettext_lazy("column", "overhead per hour"),
    tax_rate=pgettext_lazy("column", "tax in your prices"),
)
class Rates(Dated):
    """What an hour of work and of overhead costs (millionths of the currency unit), and the tax inside prices
    (millionths: 20% = 200000), from a day on.
    """

    values = RATES

    wage_per_hour = models.BigIntegerField(null=True, blank=True, validators=[MinValueValidator(0)])
    overhead_per_hour = models.BigIntegerField(null=True, blank=True, validators=[MinValueValidator(0)])
    tax_rate = models.BigIntegerField(
        null=True, blank=True, validators=[MinValueValidator(0), MaxValueValidator(1_000_000)]
    )

    class Meta(Dated.Meta):
        verbose_name = verbose_name_plural = "rates"
        constraints = [*dated_rules("rates", RATES, figures=RATES), *whole("rates", *RATES)]

    def __str__(self) -> str:
        return _("Rates {since}", since=since_in_words(self.holds_from))
