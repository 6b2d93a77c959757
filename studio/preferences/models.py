"""The one studio's own settings."""

from itertools import combinations

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy, pgettext_lazy

from studio.constraints import called, one_of, whole
from studio.errors import InputError
from studio.preferences.dated import Dated, dated_rules, since_in_words
from studio.preferences.locale_choices import is_locale
from studio.translation import _
from studio.values.money import minor_units

# From an even chance to all but one delivery in a thousand; no promise is certain.
LEAST_SERVICE, MOST_SERVICE = 500_000, 999_000
MOST_DAYS_BETWEEN_ORDERS = 31
# Own choice: a bench timer runs from half a minute to four hours.
LEAST_WAIT, MOST_WAIT = 30, 14_400
MOST_DAYS_AHEAD = 365
MOST_MONTHS = 60
# Weekdays by number, in order. Listed, for a database read without Django knows no regular expressions.
SETS_OF_WEEKDAYS = ["".join(days) for most in range(8) for days in combinations("1234567", most)]
RATES = ("wage_per_hour", "overhead_per_hour", "tax_rate")
# The most that a step or a size can sensibly be, in thousandths of its unit: own choice.
MOST = {
    "scale_step": (10_000, "g"),
    "measuring_step": (50_000, "mL"),
    "drop_size": (1_000, "mL"),
    "splash_size": (250_000, "mL"),
}


class MeasuresBy(models.TextChoices):
    """What comes first wherever the pages say what goes into a cup."""

    WEIGHT = "weight", gettext_lazy("By weight, on a scale")
    VOLUME = "volume", gettext_lazy("By volume, in a measuring cup")


def refuse_no_service_level(field: str, share: int | None) -> None:
    """Raises ValidationError naming the field for a share of deliveries that nobody can sensibly ask for."""
    if share is not None and not LEAST_SERVICE <= share <= MOST_SERVICE:
        raise ValidationError(
            {field: _("A service level must be at least 50% and at most 999 deliveries in 1000.")}
        )


@called(
    name=pgettext_lazy("column", "name"),
    currency=pgettext_lazy("column", "currency"),
    locale=pgettext_lazy("column", "numbers and dates"),
    fluid_system=pgettext_lazy("column", "fluid ounces"),
    paper=pgettext_lazy("column", "paper"),
    contact=pgettext_lazy("column", "contact lines"),
    logo=pgettext_lazy("column", "logo"),
    delivery_address=pgettext_lazy("column", "delivery address"),
    numbers_receipts=pgettext_lazy("column", "receipt numbers"),
    reserve=pgettext_lazy("column", "extra paint"),
    varnish_after_days=pgettext_lazy("column", "days before varnish"),
    measuring_tolerance=pgettext_lazy("column", "measuring tolerance"),
    measures_by=pgettext_lazy("column", "measuring by"),
    scale_step=pgettext_lazy("column", "scale precision"),
    measuring_step=pgettext_lazy("column", "measuring cup precision"),
    drop_size=pgettext_lazy("column", "size of a drop"),
    splash_size=pgettext_lazy("column", "size of a splash"),
    stir_seconds=pgettext_lazy("column", "seconds of stirring"),
    rest_seconds=pgettext_lazy("column", "seconds of resting"),
    water_limit=pgettext_lazy("column", "most water in a mix"),
    water_reason=pgettext_lazy("column", "reason for the water limit"),
    service_level=pgettext_lazy("column", "service level"),
    vital_service_level=pgettext_lazy("column", "service level of vital materials"),
    days_between_orders=pgettext_lazy("column", "days between looking what to order"),
    near_date_days=pgettext_lazy("column", "days before a date is near"),
    price_jump=pgettext_lazy("column", "price jump"),
    stocktake_months=pgettext_lazy("column", "months between stocktakes"),
    quiet_days=pgettext_lazy("column", "days without email"),
)
class Studio(models.Model):
    """The one studio this database belongs to."""

    class FluidSystem(models.TextChoices):
        IMPERIAL = "imperial", gettext_lazy("Imperial (a pint is 20 fl oz)")
        US = "us", gettext_lazy("US (a pint is 16 fl oz)")

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
    contact = models.TextField(
        blank=True,
        max_length=300,
        help_text=gettext_lazy("How customers reach you, line by line. It is printed on every document."),
    )
    logo = models.ImageField(upload_to="studio", blank=True, editable=False)
    delivery_address = models.TextField(
        blank=True, max_length=500, help_text=gettext_lazy("Where orders are delivered to.")
    )
    numbers_receipts = models.BooleanField(
        default=False,
        help_text=gettext_lazy(
            "Sales get receipt numbers without gaps, and refunds of them credit note numbers."
        ),
    )
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
    measures_by = models.CharField(
        max_length=6,
        choices=MeasuresBy.choices,
        default=MeasuresBy.WEIGHT,
        help_text=gettext_lazy("What comes first wherever it says what goes into a cup."),
    )
    # What common kitchen scales and syringes tell apart: our own choice, no source.
    scale_step = models.BigIntegerField(default=100, help_text=gettext_lazy("Thousandths of a g."))
    measuring_step = models.BigIntegerField(default=1000, help_text=gettext_lazy("Thousandths of a mL."))
    # Twenty drops to the millilitre, and a splash as a teaspoon: common practice, no source.
    drop_size = models.BigIntegerField(default=50, help_text=gettext_lazy("Thousandths of a mL."))
    splash_size = models.BigIntegerField(default=5000, help_text=gettext_lazy("Thousandths of a mL."))
    # Two minutes of stirring and five of resting, so that bubbles rise: common practice, no source.
    stir_seconds = models.PositiveSmallIntegerField(default=120)
    rest_seconds = models.PositiveSmallIntegerField(default=300)
    # Advice among pourers conflicts; half the mix is the most that any of it allows.
    water_limit = models.BigIntegerField(
        default=500_000,
        validators=[MinValueValidator(0), MaxValueValidator(1_000_000)],
        help_text=gettext_lazy("Added water in millionths of a mix, above which a mix earns a warning."),
    )
    water_reason = models.CharField(max_length=200, blank=True)
    # Nineteen deliveries in twenty, and forty-nine in fifty, come before the shelf is empty (own choice).
    service_level = models.BigIntegerField(
        default=950_000,
        help_text=gettext_lazy("Share of deliveries that should come in time, in millionths (95% = 950000)."),
    )
    vital_service_level = models.BigIntegerField(default=980_000)
    days_between_orders = models.PositiveSmallIntegerField(
        default=1,
        validators=[MinValueValidator(1), MaxValueValidator(MOST_DAYS_BETWEEN_ORDERS)],
        help_text=gettext_lazy(
            "Days from one look at what to order to the next: 1 is every day, 7 once a week."
        ),
    )
    # Two weeks to use up what is near its date, a price a fifth above the usual, a stocktake twice a year: own choice.
    near_date_days = models.PositiveSmallIntegerField(
        default=14,
        validators=[MaxValueValidator(MOST_DAYS_AHEAD)],
        help_text=gettext_lazy("Days before its date on which a lot or mix is pointed out."),
    )
    price_jump = models.BigIntegerField(
        default=200_000,
        validators=[MinValueValidator(0), MaxValueValidator(1_000_000)],
        help_text=gettext_lazy(
            "Rise over the usual price that is pointed out, in millionths (20% = 200000)."
        ),
    )
    stocktake_months = models.PositiveSmallIntegerField(
        default=6,
        validators=[MaxValueValidator(MOST_MONTHS)],
        help_text=gettext_lazy("Months from one stocktake to the next; 0 never asks for one."),
    )
    quiet_days = models.CharField(
        max_length=7, blank=True, help_text=gettext_lazy("Weekdays without email: 1 is Monday, 7 Sunday.")
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
            models.CheckConstraint(
                condition=models.Q(**{f"{name}__gt": 0 for name in MOST}), name="studio_measures"
            ),
            models.CheckConstraint(
                condition=models.Q(
                    stir_seconds__range=(LEAST_WAIT, MOST_WAIT), rest_seconds__range=(LEAST_WAIT, MOST_WAIT)
                ),
                name="studio_timers_sensible",
            ),
            one_of("studio", "measures_by", MeasuresBy.values),
            models.CheckConstraint(
                condition=models.Q(
                    service_level__range=(LEAST_SERVICE, MOST_SERVICE),
                    vital_service_level__range=(LEAST_SERVICE, MOST_SERVICE),
                    days_between_orders__range=(1, MOST_DAYS_BETWEEN_ORDERS),
                ),
                name="studio_reordering_sensible",
            ),
            models.CheckConstraint(
                condition=models.Q(
                    near_date_days__lte=MOST_DAYS_AHEAD,
                    price_jump__range=(0, 1_000_000),
                    stocktake_months__lte=MOST_MONTHS,
                ),
                name="studio_alerts_sensible",
            ),
            one_of("studio", "quiet_days", SETS_OF_WEEKDAYS),
            *whole(
                "studio",
                "reserve",
                "measuring_tolerance",
                "water_limit",
                "service_level",
                "vital_service_level",
                "price_jump",
                *MOST,
            ),
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
        for name in ("service_level", "vital_service_level"):
            refuse_no_service_level(name, getattr(self, name))
        for name, (largest, unit) in MOST.items():
            if not 0 < getattr(self, name) <= largest:
                most = f"{largest // 1000} {unit}"
                raise ValidationError({name: _("Enter more than 0 and at most {most}.", most=most)})
        for name in ("stir_seconds", "rest_seconds"):
            if not LEAST_WAIT <= getattr(self, name) <= MOST_WAIT:
                raise ValidationError(
                    {name: _("Enter from {least} to {most} seconds.", least=LEAST_WAIT, most=MOST_WAIT)}
                )

    @property
    def contact_lines(self) -> list[str]:
        return [line.strip() for line in self.contact.splitlines() if line.strip()]

    def logo_content(self) -> bytes | None:
        """The logo's bytes; papers are printed without one that has gone from the disk."""
        if not self.logo:
            return None
        try:
            with self.logo.open("rb") as file:
                return bytes(file.read())
        except OSError:
            return None

    @property
    def quiet_weekdays(self) -> list[int]:
        """The weekdays on which no email goes out, by ISO number: Monday is 1."""
        return [int(day) for day in self.quiet_days]

    @property
    def water_warning(self) -> str:
        """Why a mix should not hold more water: the studio's own reason, or the usual one."""
        return self.water_reason or _("The film may craze or flake.")

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
