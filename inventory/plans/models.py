"""Saved plans: a set of surfaces to be poured on a day. What a plan needs is reserved for it.

Quantities are whole thousandths of the base unit, money and shares whole millionths, parts thousandths of a part.
"""

from typing import Any, Self

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Prefetch, Q
from django.utils.translation import gettext_lazy, pgettext_lazy

from inventory.ledger.keyed_records import KeyedRecord
from inventory.ledger.models import Lot
from inventory.materials.models import Material
from inventory.recipes.models import RecipeVersion
from inventory.recipes.queries import versions_with_parts
from inventory.sessions.models import Session, Technique
from studio.auditing.recording import Virtual, audited
from studio.constraints import whole
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.numbers import format_scaled

LINES = "lines"  # what the change log calls the surfaces of a plan and their colours
SOURCES = "sources"  # and the recipe versions and lots that it keeps to
MOST_ON_A_LINE = 999


def _lines_in_words(lines: list[dict[str, Any]], formatter: Formatter) -> str:
    """The lines as the change log shows them: "10 Round board, Ring pour (2 White, 1 Tide Blue); …"."""
    return "; ".join(
        f"{line['count']} {line['surface']}, {line['technique']} ("
        + ", ".join(
            f"{format_scaled(share, 3, decimal_comma=formatter.decimal_comma)} {name}"
            for name, share in line["colours"]
        )
        + ")"
        + (
            f", {format_scaled(line['poured'], 3, decimal_comma=formatter.decimal_comma)} mL"
            if line.get("poured")
            else ""
        )
        for line in lines
    )


def _sources_in_words(sources: list[dict[str, Any]], _formatter: Formatter) -> str:
    """What a plan keeps to: "Tide Blue: version 2; White: L0012"."""
    return "; ".join(
        f"{each['material']}: "
        + ", ".join(
            filter(None, (each["version"] and _("version {number}", number=each["version"]), each["lot"]))
        )
        for each in sources
    )


class PlanQuerySet(models.QuerySet["Plan"]):
    def open(self) -> Self:
        """Plans that still wait for their session, or whose session was reversed; in the order they come first in."""
        waiting = Q(session__isnull=True) | Q(session__posting__reversed_by__isnull=False)
        return self.filter(waiting).order_by("planned_on", "pk")

    def with_lines(self) -> Self:
        return self.select_related("session__posting__reversed_by").prefetch_related(
            "lines__surface",
            "lines__technique",
            "lines__colours__material",
            Prefetch("sources", PlanSource.objects.select_related("material", "lot")),
            Prefetch("sources__version", versions_with_parts()),
        )


@audited(
    without=["recorded_by", "key", "fingerprint", "planned_paint", "planned_cost"],
    units={"extra_paint": "percent"},
    virtual={
        LINES: Virtual(pgettext_lazy("of a plan", "lines"), _lines_in_words),
        SOURCES: Virtual(pgettext_lazy("of a plan", "recipe versions and lots"), _sources_in_words),
    },
)
class Plan(KeyedRecord):
    """A set to be poured on a day. Until it is, it reserves what it needs; then its session stands beside it."""

    name = models.CharField(max_length=120)
    planned_on = models.DateField()
    extra_paint = models.BigIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(0), MaxValueValidator(1_000_000)],
        help_text=gettext_lazy("Millionths on top of what is poured; without it, the studio's own."),
    )
    include_expired = models.BooleanField(default=False)
    notes = models.TextField(blank=True)
    session = models.ForeignKey(
        Session, on_delete=models.PROTECT, null=True, blank=True, related_name="plans"
    )
    planned_paint = models.BigIntegerField(
        null=True,
        blank=True,
        help_text=gettext_lazy("What it said before it was poured, thousandths of a mL."),
    )
    planned_cost = models.BigIntegerField(null=True, blank=True)

    objects = PlanQuerySet.as_manager()

    class Meta(KeyedRecord.Meta):
        ordering = ["-planned_on", "-pk"]
        constraints = [
            *KeyedRecord.Meta.constraints,
            models.CheckConstraint(
                condition=Q(extra_paint__isnull=True) | Q(extra_paint__range=(0, 1_000_000)),
                name="plan_sensible",
            ),
            *whole("plan", "extra_paint", "planned_paint", "planned_cost"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def kept_versions(self) -> list[RecipeVersion]:
        """The recipe versions that it keeps to."""
        return [each.version for each in self.sources.all() if each.version is not None]

    @property
    def kept_lots(self) -> list[Lot]:
        """The lots that it is taken from first."""
        return [each.lot for each in self.sources.all() if each.lot is not None]

    @property
    def named_materials(self) -> set[int]:
        """Its surfaces and colours."""
        lines = list(self.lines.all())
        colours = {colour.material_id for line in lines for colour in line.colours.all()}
        return colours | {line.surface_id for line in lines}

    @property
    def is_poured(self) -> bool:
        """Whether a session was logged from it that stands."""
        return self.session is not None and not hasattr(self.session.posting, "reversed_by")


class PlanLine(models.Model):
    """So many of one surface, poured by one technique in colours of its own."""

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="lines")
    number = models.PositiveSmallIntegerField()
    surface = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="plan_lines")
    count = models.PositiveSmallIntegerField()
    technique = models.ForeignKey(Technique, on_delete=models.PROTECT, related_name="plan_lines")
    arm = models.CharField(
        max_length=60, blank=True, help_text=gettext_lazy("In a comparison: what is different about these.")
    )
    poured = models.BigIntegerField(
        null=True,
        blank=True,
        help_text=gettext_lazy(
            "Poured on each, thousandths of a mL; without it, what the technique usually takes."
        ),
    )

    class Meta:
        ordering = ["plan", "number"]
        constraints = [
            models.UniqueConstraint(fields=["plan", "number"], name="planline_once"),
            models.CheckConstraint(
                condition=Q(count__range=(1, MOST_ON_A_LINE)) & (Q(poured__isnull=True) | Q(poured__gt=0)),
                name="planline_sensible",
            ),
            *whole("planline", "poured"),
        ]

    def __str__(self) -> str:
        return _("Line {number}", number=self.number)


class PlanColour(models.Model):
    """One colour of a line, and its share on any scale.

    A mix is made by its recipe in force when it is poured, unless the plan keeps to a version.
    """

    line = models.ForeignKey(PlanLine, on_delete=models.CASCADE, related_name="colours")
    number = models.PositiveSmallIntegerField()
    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="planned_in")
    share = models.BigIntegerField(help_text=gettext_lazy("Parts, in thousandths of a part."))

    class Meta:
        ordering = ["line", "number"]
        constraints = [
            models.UniqueConstraint(fields=["line", "material"], name="plancolour_once"),
            models.CheckConstraint(condition=Q(share__gt=0), name="plancolour_sensible"),
            *whole("plancolour", "share"),
        ]

    def __str__(self) -> str:
        return _("Colour {number}", number=self.number)


class PlanSource(models.Model):
    """What a plan keeps to for one material: the recipe version that it is mixed by, the lot that it is taken from."""

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="sources")
    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="plan_sources")
    version = models.ForeignKey(
        RecipeVersion, on_delete=models.PROTECT, null=True, blank=True, related_name="plan_sources"
    )
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, null=True, blank=True, related_name="plan_sources")

    class Meta:
        ordering = ["plan", "material__name"]
        constraints = [
            models.UniqueConstraint(fields=["plan", "material"], name="plansource_once"),
            models.CheckConstraint(
                condition=Q(version__isnull=False) | Q(lot__isnull=False), name="plansource_says_something"
            ),
        ]

    def __str__(self) -> str:
        return _("Source of {material}", material=self.material_id)


class PlannedMaterial(models.Model):
    """What a plan said it would take of a material, kept beside what its session used."""

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="planned_materials")
    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="planned_uses")
    quantity = models.BigIntegerField()

    class Meta:
        ordering = ["plan", "material__name"]
        constraints = [
            models.UniqueConstraint(fields=["plan", "material"], name="plannedmaterial_once"),
            models.CheckConstraint(condition=Q(quantity__gt=0), name="plannedmaterial_sensible"),
            *whole("plannedmaterial", "quantity"),
        ]

    def __str__(self) -> str:
        return _("{quantity} thousandths", quantity=self.quantity)
