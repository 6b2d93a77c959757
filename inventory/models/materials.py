"""Materials: anything used up.

Quantities are whole thousandths of the measure's base unit (mL, g, each, cm², cm).
"""

from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy, pgettext_lazy

from studio.fields import one_of, whole
from studio.figures.units import Measure as PlainMeasure


class Kind(models.TextChoices):
    PAINT = "paint", gettext_lazy("Paint")
    MEDIUM = "medium", gettext_lazy("Medium")
    ADDITIVE = "additive", gettext_lazy("Additive")
    MIX = "mix", gettext_lazy("Mixed colour")
    SURFACE = "surface", gettext_lazy("Surface")
    FINISH = "finish", pgettext_lazy("noun", "Finish")
    SUNDRY = "sundry", gettext_lazy("Sundry")
    PACKAGING = "packaging", gettext_lazy("Packaging")


class MeasureChoice(models.TextChoices):
    VOLUME = PlainMeasure.VOLUME.value, gettext_lazy("Volume (mL)")
    MASS = PlainMeasure.MASS.value, gettext_lazy("Mass (g)")
    COUNT = PlainMeasure.COUNT.value, gettext_lazy("Count (each)")
    AREA = PlainMeasure.AREA.value, gettext_lazy("Area (cm²)")
    LENGTH = PlainMeasure.LENGTH.value, gettext_lazy("Length (cm)")


class Material(models.Model):
    """One kind of thing that is used up, bought or made by a recipe."""

    name = models.CharField(max_length=120, unique=True)
    kind = models.CharField(max_length=10, choices=Kind.choices)
    measure = models.CharField(max_length=8, choices=MeasureChoice.choices)
    maker = models.CharField(max_length=120, blank=True)
    colour = models.CharField(
        max_length=7,
        blank=True,
        validators=[RegexValidator(r"^#[0-9a-fA-F]{6}$", gettext_lazy("Write a colour such as #1f5f6b."))],
    )
    density = models.BigIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(100_000), MaxValueValidator(25_000_000)],
        help_text=gettext_lazy(
            "Micrograms per millilitre (1.12 g/mL = 1120000). Best: weigh a measured sample."
        ),
    )
    water_share = models.BigIntegerField(
        default=0,
        validators=[MinValueValidator(0), MaxValueValidator(1_000_000)],
        help_text=gettext_lazy(
            "Added water it brings to a mix, in millionths. Tap water is 1000000; "
            "a made medium counts its own recipe."
        ),
    )
    is_free = models.BooleanField(
        default=False, help_text=gettext_lazy("Tap water and the like: takes part in volumes, never stocked.")
    )
    free_rate = models.BigIntegerField(
        default=0,
        validators=[MinValueValidator(0)],
        help_text=gettext_lazy(
            "Set cost of a free material per 1,000 base units (a litre, a kilogram), "
            "in millionths of the currency unit."
        ),
    )
    height = models.BigIntegerField(
        null=True, blank=True, help_text=gettext_lazy("Surfaces: thousandths of a centimetre.")
    )
    width = models.BigIntegerField(null=True, blank=True)
    depth = models.BigIntegerField(null=True, blank=True)
    is_round = models.BooleanField(default=False)
    sides_painted = models.BooleanField(
        default=True, help_text=gettext_lazy("Paint runs over the sides, so they count as area.")
    )
    reorder_level = models.BigIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
        help_text=gettext_lazy(
            "Your own level, in thousandths of the base unit. Empty: worked out from use and lead time."
        ),
    )
    safety_stock = models.BigIntegerField(null=True, blank=True, validators=[MinValueValidator(0)])
    keeps_days = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        help_text=gettext_lazy("Days it keeps once opened, or once mixed. Empty: no reminder."),
    )
    signal_word = models.CharField(
        max_length=7,
        blank=True,
        choices=[
            ("Warning", pgettext_lazy("on a safety data sheet", "Warning")),
            ("Danger", pgettext_lazy("on a safety data sheet", "Danger")),
        ],
    )
    hazards = models.TextField(
        blank=True, help_text=gettext_lazy("Copied from the supplier's own safety data sheet, never guessed.")
    )
    safety_sheet_dated = models.DateField(null=True, blank=True)
    notes = models.TextField(blank=True)
    is_archived = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]
        constraints = [
            one_of("material", "kind", Kind.values),
            one_of("material", "measure", MeasureChoice.values),
            models.CheckConstraint(
                condition=~Q(kind="surface") | Q(measure="count", height__gt=0, width__gt=0),
                name="material_surface_has_size",
            ),
            *whole(
                "material",
                "density",
                "water_share",
                "free_rate",
                "height",
                "width",
                "depth",
                "reorder_level",
                "safety_stock",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Technique(models.Model):
    """A way of pouring, with the paint it usually takes until the studio's own history says better."""

    name = models.CharField(max_length=60, unique=True)
    coverage = models.BigIntegerField(
        validators=[MinValueValidator(1)],
        help_text=gettext_lazy("Paint poured per surface area, run-off included: microlitres per cm²."),
    )
    standing = models.CharField(
        max_length=120, default="from memory", help_text=gettext_lazy("Where the figure comes from.")
    )

    class Meta:
        ordering = ["name"]
        constraints = whole("technique", "coverage")

    def __str__(self) -> str:
        return self.name


class CauseKind(models.TextChoices):
    LOSS = "loss", gettext_lazy("Loss")
    GIFT = "gift", gettext_lazy("Gift")
    OWN_USE = "own_use", gettext_lazy("Own use")
    SAMPLE = "sample", gettext_lazy("Sample")
    COUNT = "count", gettext_lazy("Count difference")


class Cause(models.Model):
    """A named way out of stock or work that is not a sale: a loss, a gift, own use, a sample, a count difference."""

    Kind = CauseKind

    code = models.SlugField(max_length=30, unique=True)
    name = models.CharField(max_length=80, unique=True)
    kind = models.CharField(max_length=8, choices=Kind.choices)

    class Meta:
        ordering = ["name"]
        constraints = [one_of("cause", "kind", CauseKind.values)]

    def __str__(self) -> str:
        return self.name
