"""Recipes by parts. A version that has been used in a mix never changes; a change is a new version."""

from typing import Any, Self, TypeVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy

from inventory.ledger.models import Lot, Posting
from inventory.materials.models import Material
from inventory.recipes.calculations import Basis as PlainBasis
from inventory.recipes.flow_cups import flow_words, viscosity_in
from inventory.recipes.ratio_parts import RatioUnit as PlainUnit
from inventory.recipes.ratio_parts import Role as PlainRole
from inventory.recipes.ratio_parts import RolePart, notation
from studio.auditing.recording import Virtual, audited
from studio.constraints import one_of, whole
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.numbers import format_scaled


class Basis(models.TextChoices):
    VOLUME = PlainBasis.VOLUME.value, gettext_lazy("By volume")
    MASS = PlainBasis.MASS.value, gettext_lazy("By weight")


PARTS = "parts"  # what the change log calls a recipe's latest version


def _parts_in_words(version: dict[str, Any], formatter: Formatter) -> str:
    """A version as the change log shows it: "2 Harbour Blue, 1 Pouring medium (by volume)"."""
    comma = formatter.decimal_comma
    listed = ", ".join(
        f"{format_scaled(part['parts'], 3, decimal_comma=comma)} {part['name']}" for part in version["parts"]
    )
    return f"{listed} ({str(Basis(version['basis']).label).lower()})"


@audited(virtual={PARTS: Virtual(gettext_lazy("parts"), _parts_in_words)})
class Recipe(models.Model):
    """What is mixed from what; the mix becomes a lot of the material it makes."""

    name = models.CharField(max_length=120, unique=True)
    makes = models.OneToOneField(Material, on_delete=models.PROTECT, related_name="recipe")
    notes = models.TextField(blank=True)
    is_archived = models.BooleanField(default=False)
    is_favourite = models.BooleanField(default=False)
    by_ratio = models.BooleanField(
        default=False, help_text=gettext_lazy("It comes from a ratio and was not written as a recipe.")
    )

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class RecipeVersion(models.Model):
    recipe = models.ForeignKey(Recipe, on_delete=models.PROTECT, related_name="versions")
    number = models.PositiveSmallIntegerField()
    basis = models.CharField(max_length=6, choices=Basis.choices, default=Basis.VOLUME)
    written_on = models.DateField()
    notes = models.TextField(blank=True)

    class Meta:
        ordering = ["recipe", "-number"]
        constraints = [
            models.UniqueConstraint(fields=["recipe", "number"], name="recipeversion_once"),
            one_of("recipeversion", "basis", Basis.values),
        ]

    def __str__(self) -> str:
        return _("version {number}", number=self.number)


class RecipePart(models.Model):
    """So many parts (thousandths of a part) of one material; the material may itself be made by a recipe."""

    version = models.ForeignKey(RecipeVersion, on_delete=models.CASCADE, related_name="parts")
    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="parts_of")
    parts = models.BigIntegerField()
    line = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["line"]
        constraints = [
            models.UniqueConstraint(fields=["version", "line"], name="recipepart_line_once"),
            models.UniqueConstraint(fields=["version", "material"], name="recipepart_material_once"),
            models.CheckConstraint(condition=Q(parts__gt=0), name="recipepart_positive"),
            *whole("recipepart", "parts"),
        ]

    def __str__(self) -> str:
        return _("part {number}", number=self.line)


class RatioRole(models.TextChoices):
    PAINT = PlainRole.PAINT.value, gettext_lazy("Paint")
    MEDIUM = PlainRole.MEDIUM.value, gettext_lazy("Medium")
    WATER = PlainRole.WATER.value, gettext_lazy("Water")
    ADDITIVE = PlainRole.ADDITIVE.value, gettext_lazy("Additive")


class RatioUnit(models.TextChoices):
    PARTS = PlainUnit.PARTS.value, gettext_lazy("parts")
    PERCENT = PlainUnit.PERCENT.value, gettext_lazy("% of the cup")
    DROPS = PlainUnit.DROPS.value, gettext_lazy("drops in 100 mL")


def _ratio_in_words(ratio: dict[str, Any], formatter: Formatter) -> str:
    """A ratio's parts as the change log shows them: "1 : 2 : ½ (by volume)"."""
    parts = [
        RolePart(PlainRole(role), amount, PlainUnit(unit)) for role, amount, unit, _material in ratio["parts"]
    ]
    fixed = ", ".join(f"{name}" for *_part, name in ratio["parts"] if name)
    written = f"{notation(parts, decimal_comma=formatter.decimal_comma)} ({str(Basis(ratio['basis']).label).lower()})"
    return f"{written}: {fixed}" if fixed else written


@audited(virtual={PARTS: Virtual(gettext_lazy("parts"), _ratio_in_words)})
class Ratio(models.Model):
    """Parts by role, applied to any paint and medium without a recipe being written first."""

    name = models.CharField(max_length=120, unique=True)
    basis = models.CharField(max_length=6, choices=Basis.choices, default=Basis.VOLUME)
    notes = models.TextField(blank=True)
    is_archived = models.BooleanField(default=False)
    is_favourite = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]
        constraints = [one_of("ratio", "basis", Basis.values)]

    def __str__(self) -> str:
        return self.name


class RatioPart(models.Model):
    """So much of one role: thousandths of a part, of a drop in 100 mL of the cup, or millionths of the cup.

    Its material is chosen when the ratio is applied, unless one is named here.
    """

    ratio = models.ForeignKey(Ratio, on_delete=models.CASCADE, related_name="parts")
    line = models.PositiveSmallIntegerField()
    role = models.CharField(max_length=8, choices=RatioRole.choices)
    amount = models.BigIntegerField()
    unit = models.CharField(max_length=7, choices=RatioUnit.choices, default=RatioUnit.PARTS)
    material = models.ForeignKey(
        Material, on_delete=models.PROTECT, null=True, blank=True, related_name="ratio_parts"
    )

    class Meta:
        ordering = ["line"]
        constraints = [
            models.UniqueConstraint(fields=["ratio", "line"], name="ratiopart_line_once"),
            models.CheckConstraint(condition=Q(amount__gt=0), name="ratiopart_positive"),
            models.CheckConstraint(
                condition=Q(unit=RatioUnit.PARTS) | Q(role=RatioRole.ADDITIVE), name="ratiopart_unit_fits"
            ),
            one_of("ratiopart", "role", RatioRole.values),
            one_of("ratiopart", "unit", RatioUnit.values),
            *whole("ratiopart", "amount"),
        ]

    def __str__(self) -> str:
        return _("part {number}", number=self.line)


class StandingQuerySet(models.QuerySet[Any]):
    """Rows whose posting has not been reversed."""

    def standing(self) -> Self:
        return self.filter(posting__reversed_by__isnull=True)


Row = TypeVar("Row", bound=models.Model, covariant=True)


class NotStruckManager(models.Manager[Row]):
    """Rows that happened: without those that a correction struck out."""

    def get_queryset(self) -> models.QuerySet[Row]:
        return super().get_queryset().filter(struck_by=None)


class MixLeftover(models.TextChoices):
    KEPT = "kept", gettext_lazy("Kept, sealed and labelled")
    RESIDUE = "residue", gettext_lazy("Cup residue: stays in the cost of the pours")
    DISCARDED = "discarded", gettext_lazy("Thrown away: recorded as a loss")


@audited(only=["version", "leftover", "water_share", "consistency"], units={"water_share": "share"})
class Mix(models.Model):
    """An actual batch: drew lots, made one lot. Actual amounts are the ledger's entries."""

    Leftover = MixLeftover

    version = models.ForeignKey(RecipeVersion, on_delete=models.PROTECT, related_name="mixes")
    session = models.ForeignKey(
        "inventory.Session", on_delete=models.PROTECT, null=True, blank=True, related_name="mixes"
    )
    mixed_on = models.DateField()
    lot = models.OneToOneField(Lot, on_delete=models.PROTECT, related_name="mix")
    leftover = models.CharField(max_length=9, choices=Leftover.choices, default=Leftover.KEPT)
    water_share = models.BigIntegerField(
        default=0, help_text=gettext_lazy("Added water in the whole mix, in millionths.")
    )
    consistency = models.CharField(
        max_length=120, blank=True, help_text=gettext_lazy("Flow-cup seconds, mound test, 'warm honey' …")
    )
    estimates = models.JSONField(
        default=dict,
        blank=True,
        help_text=gettext_lazy(
            "Amounts judged by eye, by material: what was typed, and what it was read as."
        ),
    )
    posting = models.ForeignKey(Posting, on_delete=models.PROTECT, related_name="mixes")
    struck_by = models.ForeignKey(
        Posting,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text=gettext_lazy("The correction that struck it out: it never happened."),
    )

    objects = NotStruckManager.from_queryset(StandingQuerySet)()
    with_struck = StandingQuerySet.as_manager()

    class Meta:
        ordering = ["-mixed_on", "-pk"]
        verbose_name_plural = "mixes"
        constraints = [one_of("mix", "leftover", MixLeftover.values), *whole("mix", "water_share")]

    def __str__(self) -> str:
        return _("Mix {number}", number=self.pk)

    @property
    def flow(self) -> str:
        """What the flow-cup seconds in its consistency come to; empty where none were noted."""
        return flow_words(self.consistency)

    @property
    def viscosity(self) -> int | None:
        """In mm²/s; None where no flow-cup seconds that can be converted were noted."""
        return viscosity_in(self.consistency)

    def estimate_of(self, material: int, quantity: int) -> str:
        """What was typed of a material that was judged by eye; nothing once a correction put another amount there."""
        kept = self.estimates.get(str(material))
        return str(kept["typed"]) if kept and kept["quantity"] == quantity else ""
