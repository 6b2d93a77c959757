"""Materials: anything used up.

Quantities are whole thousandths of the measure's base unit (mL, g, each, cm², cm)."""

from collections.abc import Iterator
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy, pgettext_lazy

from inventory.materials.packs import breaks_in_words, is_valid_gtin, same_gtins
from studio.auditing.recording import Virtual, audited
from studio.constraints import one_of, whole
from studio.errors import InputError
from studio.preferences.models import LEAST_SERVICE, MOST_SERVICE, refuse_no_service_level
from studio.translation import _
from studio.values.money import minor_units
from studio.values.units import Measure as PlainMeasure

# Densities in µg/mL: lighter than any solvent, heavier than any metal paste.
LIGHTEST, DENSEST = 100_000, 25_000_000
MOST = 32_767  # days or packs that a small column holds


class Kind(models.TextChoices):
    PAINT = "paint", gettext_lazy("Paint")
    MEDIUM = "medium", gettext_lazy("Medium")
    ADDITIVE = "additive", gettext_lazy("Additive")
    MIX = "mix", gettext_lazy("Mixed colour")
    SURFACE = "surface", gettext_lazy("Surface")
    FINISH = "finish", pgettext_lazy("noun", "Finish")
    SUNDRY = "sundry", gettext_lazy("Sundry")
    PACKAGING = "packaging", gettext_lazy("Packaging")


POURED_KINDS = (Kind.PAINT, Kind.MEDIUM, Kind.MIX)


class MeasureChoice(models.TextChoices):
    VOLUME = PlainMeasure.VOLUME.value, gettext_lazy("Volume (mL)")
    MASS = PlainMeasure.MASS.value, gettext_lazy("Mass (g)")
    COUNT = PlainMeasure.COUNT.value, gettext_lazy("Count (each)")
    AREA = PlainMeasure.AREA.value, gettext_lazy("Area (cm²)")
    LENGTH = PlainMeasure.LENGTH.value, gettext_lazy("Length (cm)")


class SignalWord(models.TextChoices):
    WARNING = "Warning", pgettext_lazy("on a safety data sheet", "Warning")
    DANGER = "Danger", pgettext_lazy("on a safety data sheet", "Danger")


@audited(
    units={
        "density": "g/mL",
        "free_rate": "money",
        "water_share": "percent",
        "service_level": "percent",
        **dict.fromkeys(["height", "width", "depth"], "length"),
        **dict.fromkeys(
            ["reorder_level", "safety_stock", "guessed_use", "storage_limit"], "quantity in measure"
        ),
    }
)
class Material(models.Model):
    """One kind of thing that is used up, bought or made by a recipe."""

    name = models.CharField(max_length=120, unique=True)
    kind = models.CharField(max_length=10, choices=Kind.choices)
    measure = models.CharField(max_length=8, choices=MeasureChoice.choices)
    maker = models.CharField(max_length=120, blank=True)
    colour = models.CharField(
        max_length=7,
        blank=True,
        validators=[RegexValidator(r"^#[0-9a-fA-F]{6}$", gettext_lazy("Enter a colour such as #1f5f6b."))],
    )
    density = models.BigIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(LIGHTEST), MaxValueValidator(DENSEST)],
        help_text="Micrograms per millilitre: 1.12 g/mL is 1,120,000.",
    )
    water_share = models.BigIntegerField(
        default=0,
        validators=[MinValueValidator(0), MaxValueValidator(1_000_000)],
        help_text="How much of it is added water, in millionths; a made medium counts its own recipe.",
    )
    is_free = models.BooleanField(
        default=False, help_text="Tap water and the like: counted in volumes, never stocked."
    )
    free_rate = models.BigIntegerField(
        default=0,
        validators=[MinValueValidator(0)],
        help_text="Millionths of the currency unit per 1,000 base units (a litre, a kilogram).",
    )
    height = models.BigIntegerField(null=True, blank=True, help_text="Surfaces: thousandths of a centimetre.")
    width = models.BigIntegerField(null=True, blank=True)
    depth = models.BigIntegerField(null=True, blank=True)
    is_round = models.BooleanField(default=False)
    sides_painted = models.BooleanField(
        default=True, help_text="Paint runs over the sides, so they are part of the area."
    )
    reorder_level = models.BigIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
        help_text="The studio's own level in thousandths of the base unit; without it, use and lead time decide.",
    )
    safety_stock = models.BigIntegerField(null=True, blank=True, validators=[MinValueValidator(0)])
    is_vital = models.BooleanField(
        default=False, help_text="Work stops without it: it has the studio's higher service level."
    )
    service_level = models.BigIntegerField(
        null=True,
        blank=True,
        help_text="Share of deliveries that should come in time, in millionths; without it, the studio's.",
    )
    guessed_use = models.BigIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1)],
        help_text="What the owner expects to use in 30 days, while the material is new.",
    )
    keeps_days = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="Days it keeps once opened, or once mixed."
    )
    storage_limit = models.BigIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1)],
        help_text="The most that there is room for, in thousandths of the base unit.",
    )
    signal_word = models.CharField(max_length=7, blank=True, choices=SignalWord.choices)
    hazards = models.TextField(
        blank=True, help_text="Copied from the supplier's own safety data sheet, never guessed."
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
                "service_level",
                "guessed_use",
                "storage_limit",
            ),
            models.CheckConstraint(
                condition=Q(service_level__isnull=True)
                | Q(service_level__range=(LEAST_SERVICE, MOST_SERVICE)),
                name="material_service_sensible",
            ),
            models.CheckConstraint(
                condition=Q(guessed_use__isnull=True) | Q(guessed_use__gt=0), name="material_guess_sensible"
            ),
            models.CheckConstraint(
                condition=Q(storage_limit__isnull=True) | Q(storage_limit__gt=0),
                name="material_storage_sensible",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        """Raises ValidationError, naming what is wrong with it."""
        _refuse(self._problems())
        refuse_no_service_level("service_level", self.service_level)

    def _problems(self) -> Iterator[tuple[str, str]]:
        if self.density is not None and not LIGHTEST <= self.density <= DENSEST:
            yield "density", _("A density must be between a tenth of a g/mL and 25 g/mL.")
        if self.keeps_days is not None:
            yield from _outside(self, 1, "keeps_days")
        if self.kind == Kind.SURFACE:
            if self.measure != MeasureChoice.COUNT:
                yield "measure", _("A surface is measured in pieces: each.")
            if not (self.height and self.width):
                yield "size", _("A surface needs its size, such as 30 x 40 x 2 cm.")
            elif self.sides_painted and self.depth is None:
                yield "size", _("Its sides are painted, so add the depth: 30 x 40 x 2 cm.")

    def get_additional_data(self) -> dict[str, str]:
        """What the change log notes beside the figures."""
        return {"measure": self.measure}


@audited(
    units={
        **dict.fromkeys(["carriage", "free_carriage_from", "minimum_order"], "money in currency"),
        "exchange_rate": "rate",
    }
)
class Supplier(models.Model):
    """Who sells. What it asks for an order is in millionths of its own currency."""

    name = models.CharField(max_length=120, unique=True)
    country = models.CharField(max_length=60, blank=True)
    currency = models.CharField(max_length=3, default="GBP")
    lead_time_days = models.PositiveSmallIntegerField(
        default=7, help_text="Usual days from order to delivery."
    )
    lead_time_variation_days = models.PositiveSmallIntegerField(
        default=0, help_text="Standard deviation of those days."
    )
    email = models.EmailField(blank=True)
    carriage = models.BigIntegerField(
        default=0, validators=[MinValueValidator(0)], help_text="Of each order."
    )
    free_carriage_from = models.BigIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1)],
        help_text="Goods of this much are sent without carriage.",
    )
    minimum_order = models.BigIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1)], help_text="No less is sent."
    )
    exchange_rate = models.BigIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1)],
        help_text="Millionths of the studio's currency for one unit of its own; without it, what was last paid.",
    )
    address = models.TextField(blank=True, max_length=500)
    customer_number = models.CharField(
        max_length=60, blank=True, help_text="What the supplier knows the studio by."
    )
    notes = models.TextField(blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(carriage__gte=0)
                & (Q(free_carriage_from__isnull=True) | Q(free_carriage_from__gt=0))
                & (Q(minimum_order__isnull=True) | Q(minimum_order__gt=0))
                & (Q(exchange_rate__isnull=True) | Q(exchange_rate__gt=0)),
                name="supplier_terms_sensible",
            ),
            *whole("supplier", "carriage", "free_carriage_from", "minimum_order", "exchange_rate"),
        ]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        """Raises ValidationError, naming what is wrong with it."""
        try:
            minor_units(self.currency)
        except InputError as problem:
            raise ValidationError({"currency": str(problem)}) from None
        _refuse(self._problems())

    def _problems(self) -> Iterator[tuple[str, str]]:
        yield from _outside(self, 0, "lead_time_days", "lead_time_variation_days")
        if self.free_carriage_from is not None and not self.carriage:
            yield (
                "free_carriage_from",
                _("Carriage is free already. Enter what it costs, or leave this blank."),
            )

    def get_additional_data(self) -> dict[str, str]:
        """What the change log notes beside the figures."""
        return {"currency": self.currency}


PRICE_BREAKS = "price_breaks"  # what the change log calls the prices of a pack by how many are bought


@audited(
    units={"price": "money in currency", "pack_size": "quantity in measure"},
    virtual={PRICE_BREAKS: Virtual(pgettext_lazy("of a pack", "price breaks"), breaks_in_words)},
)
class Supply(models.Model):
    """One pack of one material as one supplier sells it.

    Price is per pack, in millionths of the supplier's currency.
    """

    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="supplies")
    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="supplies")
    pack_size = models.BigIntegerField(validators=[MinValueValidator(1)])
    price = models.BigIntegerField(validators=[MinValueValidator(0)])
    barcode = models.CharField(
        max_length=14, blank=True, db_index=True, help_text="A GTIN of 8, 12, 13 or 14 digits."
    )
    minimum_packs = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1)])
    is_preferred = models.BooleanField(default=False)

    class Meta:
        ordering = ["material__name", "supplier__name", "pack_size"]
        verbose_name_plural = "supplies"
        constraints = [
            models.UniqueConstraint(fields=["supplier", "material", "pack_size"], name="supply_once"),
            models.UniqueConstraint(
                fields=["supplier", "barcode"], condition=~Q(barcode=""), name="supply_barcode_once"
            ),
            models.CheckConstraint(
                condition=Q(pack_size__gt=0, price__gte=0, minimum_packs__gte=1), name="supply_sensible"
            ),
            *whole("supply", "pack_size", "price"),
        ]

    def __str__(self) -> str:
        return _("Pack {number}", number=self.pk)

    def clean(self) -> None:
        """Raises ValidationError, naming what is wrong with it."""
        _refuse(self._problems())

    def _problems(self) -> Iterator[tuple[str, str]]:
        if self.material.is_free:
            yield "material", _("{name} is a free material, so it is never bought.", name=self.material)
        yield from _outside(self, 1, "minimum_packs")
        if self.barcode and not is_valid_gtin(self.barcode):
            advice = _("The check digit does not match. Scan it again, or type all 8 to 14 digits.")
            yield "barcode", advice
        elif self.barcode and (other := self._other_goods()) is not None:
            advice = _(
                "This barcode is on a pack of {material} from {supplier} already, which is something else.",
                material=other.material,
                supplier=other.supplier,
            )
            yield "barcode", advice
        same = Supply.objects.filter(
            supplier=self.supplier, material=self.material, pack_size=self.pack_size
        ).exclude(pk=self.pk)
        if same.exists():
            advice = _(
                "{supplier} already has a pack of {material} of this size. Change that one.",
                supplier=self.supplier,
                material=self.material,
            )
            yield "pack_size", advice

    def _other_goods(self) -> "Supply | None":
        """Another pack with this number that is not the same goods from another supplier."""
        same_goods = Q(material=self.material, pack_size=self.pack_size) & ~Q(supplier=self.supplier)
        others = Supply.objects.filter(barcode__in=same_gtins(self.barcode)).exclude(pk=self.pk)
        return others.exclude(same_goods).select_related("material", "supplier").first()

    def get_additional_data(self) -> dict[str, str]:
        """What the change log notes beside the figures."""
        return {
            "name": f"{self.supplier}, {self.material}",
            "currency": self.supplier.currency,
            "measure": self.material.measure,
        }


class PriceBreak(models.Model):
    """The price of each pack when so many or more are bought at once, in millionths of the supplier's currency."""

    supply = models.ForeignKey(Supply, on_delete=models.CASCADE, related_name="price_breaks")
    from_packs = models.PositiveSmallIntegerField(validators=[MinValueValidator(2)])
    price = models.BigIntegerField(validators=[MinValueValidator(0)])

    class Meta:
        ordering = ["supply", "from_packs"]
        constraints = [
            models.UniqueConstraint(fields=["supply", "from_packs"], name="pricebreak_once"),
            models.CheckConstraint(condition=Q(from_packs__gte=2, price__gte=0), name="pricebreak_sensible"),
            *whole("pricebreak", "price"),
        ]

    def __str__(self) -> str:
        return _("From {packs} packs", packs=self.from_packs)


def _outside(row: models.Model, least: int, *columns: str) -> Iterator[tuple[str, str]]:
    """SQLite's small columns hold more than PostgreSQL's."""
    for column in columns:
        if not least <= getattr(row, column) <= MOST:
            yield column, _("This must be between {least} and {most}.", least=least, most=MOST)


def _refuse(problems: Iterator[tuple[str, str]]) -> None:
    errors: dict[str, Any] = dict(problems)
    if errors:
        raise ValidationError(errors)
