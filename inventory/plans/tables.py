"""Lists of plans, of a plan's lines, and of what was planned beside what was used."""

from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from inventory.ledger.tables import lot_column
from inventory.materials.models import Material
from inventory.materials.tables import material_column
from inventory.plans.models import Plan, PlanLine, PlanSource
from inventory.plans.queries import Comparison, StandIn
from inventory.plans.repeating.repeats import RepeatedLine
from studio.pages.addresses import row_address
from studio.pages.columns import Badge, Column, DayColumn, NumberColumn, ShortQuantityColumn
from studio.pages.tables import Table
from studio.values.numbers import format_scaled
from studio.values.units import Measure

POURED: Badge = ("good", pgettext_lazy("a plan", "Poured"))
SHORT: Badge = ("low", _("Short"))
READY: Badge = ("good", pgettext_lazy("a plan", "Enough"))
OVERDUE: Badge = ("note", pgettext_lazy("a plan", "Day has passed"))


@dataclass(frozen=True, slots=True)
class PlanRow:
    """One plan, how many materials it is short of on its day, and whether that day has passed."""

    plan: Plan
    short: int
    today: date

    @property
    def badge(self) -> Badge:
        if self.plan.is_poured:
            return POURED
        return SHORT if self.short else READY

    @property
    def is_overdue(self) -> bool:
        return not self.plan.is_poured and self.plan.planned_on < self.today


class PlanTable(Table[PlanRow]):
    caption = _("Plans")
    file_name = "plans"
    css = "is-brief"
    columns = (
        Column(
            "name",
            _("Plan"),
            lambda row: row.plan.name,
            link=lambda row: row_address("inventory:plan", row.plan.pk),
            badge=lambda row: row.badge,
        ),
        DayColumn(
            "day",
            _("Day"),
            lambda row: row.plan.planned_on,
            badge=lambda row: OVERDUE if row.is_overdue else None,
        ),
        NumberColumn("pours", _("Pours"), lambda row: sum(line.count for line in row.plan.lines.all())),
        Column(
            "surfaces",
            _("Surfaces"),
            lambda row: ", ".join(dict.fromkeys(line.surface.name for line in row.plan.lines.all())),
        ),
    )

    def row_css(self, row: PlanRow) -> str:
        return "is-low" if row.short else ""


@dataclass(frozen=True, slots=True)
class PlanLineRow:
    """One line of a plan; its arm unless a blind comparison hides it."""

    line: PlanLine
    arm: str
    decimal_comma: bool

    @property
    def colours(self) -> list[tuple[str, Material]]:
        """Each colour with its parts; without them where all have the same."""
        colours = list(self.line.colours.all())
        are_alike = len({colour.share for colour in colours}) == 1
        return [
            (
                "" if are_alike else format_scaled(colour.share, 3, decimal_comma=self.decimal_comma),
                colour.material,
            )
            for colour in colours
        ]

    @property
    def in_words(self) -> str:
        return ", ".join(" ".join(filter(None, [parts, each.name])) for parts, each in self.colours)


class PlanLineTable(Table[PlanLineRow]):
    caption = _("What is planned")
    columns = (
        Column(
            "surface",
            _("Surface"),
            lambda row: row.line.surface.name,
            link=lambda row: row_address("inventory:material", row.line.surface_id),
            note=lambda row: row.arm,
        ),
        NumberColumn("count", _("How many"), lambda row: row.line.count),
        Column("technique", _("Technique"), lambda row: row.line.technique.name),
        Column("colours", _("Colours"), lambda row: row.in_words, template="plans/line_colours.html"),
        ShortQuantityColumn(
            "poured",
            _("Poured on each"),
            lambda row: None if row.line.poured is None else (row.line.poured, Measure.VOLUME),
        ),
    )


class SourceTable(Table[PlanSource]):
    caption = _("Recipe versions and lots")
    columns = (
        material_column(lambda row: row.material),
        Column(
            "version",
            _("Recipe version"),
            lambda row: str(row.version or ""),
            link=lambda row: row_address("inventory:recipe", row.version.recipe_id) if row.version else "",
        ),
        lot_column(lambda row: row.lot),
    )


@dataclass(frozen=True, slots=True)
class RepeatedRow:
    """Pours that were alike, and how much of each colour went on each."""

    line: RepeatedLine
    colours: str
    arm: str


class RepeatedLineTable(Table[RepeatedRow]):
    caption = _("As it was poured")
    columns = (
        Column("pours", _("Pours"), lambda row: ", ".join(pour.label for pour in row.line.pours)),
        Column("surface", _("Surface"), lambda row: row.line.first.surface.name, note=lambda row: row.arm),
        Column("technique", _("Technique"), lambda row: row.line.first.technique.name),
        Column("colours", _("Colours on each"), lambda row: row.colours),
        ShortQuantityColumn(
            "poured", _("Poured on each"), lambda row: (row.line.first.poured, Measure.VOLUME)
        ),
    )


class StandInTable(Table[StandIn]):
    caption = _("Possible replacements")
    columns = (
        material_column(lambda row: row.material),
        Column("for", _("Instead of"), lambda row: row.instead_of.name),
        ShortQuantityColumn("available", _("Available"), lambda row: (row.available, row.material.measure)),
    )


class OutcomeTable(Table[Comparison]):
    caption = _("Materials planned and used")
    file_name = "planned-and-used"
    columns = (
        material_column(lambda row: row.material),
        ShortQuantityColumn("planned", _("Planned"), lambda row: (row.planned, row.material.measure)),
        ShortQuantityColumn("used", _("Used"), lambda row: (row.used, row.material.measure)),
        ShortQuantityColumn(
            "difference",
            _("Difference"),
            lambda row: (row.difference, row.material.measure) if row.difference else None,
        ),
    )
