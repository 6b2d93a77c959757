"""Lists of recipes, cards on every screen, and of the mixes made from one."""

from dataclasses import dataclass

from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from inventory.ledger.tables import lot_column, reversed_badge
from inventory.recipes.models import Basis, Mix, Ratio, RatioPart, RatioRole, Recipe, RecipeVersion
from inventory.recipes.ratio_parts import RatioUnit, Role, RolePart, notation, written_amount
from studio import translation
from studio.pages.addresses import row_address
from studio.pages.columns import (
    Badge,
    Column,
    DayColumn,
    MoneyColumn,
    NumberColumn,
    ShortQuantityColumn,
    UnitCostColumn,
)
from studio.pages.tables import Table

FAVOURITE: Badge = ("good", _("Favourite"))


@dataclass(frozen=True, slots=True)
class PartRow:
    """One part of a recipe as a stretch of its bar: percent of the whole, and the parts in words."""

    label: str
    percent: int
    text: str
    href: str = ""
    colour: str = ""  # of its paint; a pattern stands for what has none


@dataclass(frozen=True, slots=True)
class RecipeRow:
    """One recipe. `cost` is for 100 mL, in millionths, or None while it is not known; `in_stock` thousandths."""

    version: RecipeVersion
    parts: list[PartRow]
    cost: int | None
    in_stock: int
    goes_into: list[Recipe]
    is_watery: bool

    @property
    def recipe(self) -> Recipe:
        return self.version.recipe


class RecipeTable(Table[RecipeRow]):
    caption = _("Recipes")
    file_name = "recipes"
    columns = (
        Column("name", _("Recipe"), lambda row: row.recipe.name),
        Column(
            "parts", _("Parts"), lambda row: ", ".join(f"{part.label}: {part.text}" for part in row.parts)
        ),
        ShortQuantityColumn("in_stock", _("In stock"), lambda row: (row.in_stock, row.recipe.makes.measure)),
        MoneyColumn("cost", _("100 mL costs"), lambda row: row.cost),
        Column("used_in", _("Used in"), lambda row: ", ".join(recipe.name for recipe in row.goes_into)),
        Column("state", _("Status"), lambda row: _("Archived") if row.recipe.is_archived else ""),
    )


@dataclass(frozen=True, slots=True)
class RatioRow:
    """One ratio with its parts, read the studio's way."""

    ratio: Ratio
    decimal_comma: bool

    @property
    def written(self) -> str:
        parts = [_role_part(part) for part in self.ratio.parts.all()]
        return notation(parts, decimal_comma=self.decimal_comma)

    @property
    def in_words(self) -> str:
        """Each part by its material or, where that is chosen, by its role: "1 Paint, 2 Loft medium"."""
        return ", ".join(
            f"{written_amount(_role_part(part), decimal_comma=self.decimal_comma)} "
            f"{part.material or RatioRole(part.role).label}"
            for part in self.ratio.parts.all()
        )


def _role_part(part: RatioPart) -> RolePart:
    return RolePart(Role(part.role), part.amount, RatioUnit(part.unit))


class RatioTable(Table[RatioRow]):
    caption = _("Ratios")
    file_name = "ratios"
    columns = (
        Column(
            "name",
            pgettext_lazy("of a recipe", "Ratio"),
            lambda row: row.ratio.name,
            link=lambda row: row_address("inventory:ratio-edit", row.ratio.pk),
            badge=lambda row: FAVOURITE if row.ratio.is_favourite else None,
        ),
        Column("written", _("In numbers"), lambda row: row.written),
        Column("parts", _("Parts"), lambda row: row.in_words),
        Column("basis", _("Measured"), lambda row: Basis(row.ratio.basis).label),
        Column("notes", _("Notes"), lambda row: row.ratio.notes),
        Column("state", _("Status"), lambda row: _("Archived") if row.ratio.is_archived else ""),
    )


@dataclass(frozen=True, slots=True)
class MixRow:
    """One batch: what it came to (thousandths) and what went into it (millionths)."""

    mix: Mix
    made: int
    cost: int
    off_recipe: str = ""

    @property
    def measure(self) -> str:
        return self.mix.lot.material.measure


class MixTable(Table[MixRow]):
    caption = _("Mixes, newest first")
    file_name = "mixes"
    columns = (
        DayColumn(
            "day",
            _("Day"),
            lambda row: row.mix.mixed_on,
            link=lambda row: row_address("inventory:posting", row.mix.posting_id),
            hidden_words=lambda row: translation._("ledger no. {number}", number=row.mix.posting_id),
            badge=lambda row: reversed_badge(row.mix.posting),
        ),
        lot_column(lambda row: row.mix.lot),
        NumberColumn("version", _("Version"), lambda row: row.mix.version.number),
        Column("off_recipe", _("Off its recipe"), lambda row: row.off_recipe),
        Column(
            "use",
            pgettext_lazy("what a mix was made for", "For"),
            lambda row: str(row.mix.session) if row.mix.session else _("Stock"),
            link=lambda row: (
                row_address("inventory:session", row.mix.session_id) if row.mix.session_id else ""
            ),
        ),
        Column(
            "consistency", _("Consistency"), lambda row: row.mix.consistency, note=lambda row: row.mix.flow
        ),
        ShortQuantityColumn("made", pgettext_lazy("quantity", "Made"), lambda row: (row.made, row.measure)),
        MoneyColumn("cost", _("Cost"), lambda row: row.cost),
        UnitCostColumn("unit_cost", _("Unit cost"), lambda row: (row.cost, row.made, row.measure)),
    )
