"""Recipes from a table: one recipe a row, its parts in words, such as “2 Craft glue + 1 Tap water”; or a row for each
part, the recipe's name on the first of them.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.utils.translation import gettext_lazy

from inventory.materials.models import Kind, Material, MeasureChoice
from inventory.recipes.actions.recipes import MIXABLE, write_recipe
from inventory.recipes.models import Basis, Recipe
from inventory.recipes.queries import latest_versions
from inventory.recipes.rows_of_parts import gather, heading_meanings
from studio.accounts.roles import WORKERS
from studio.errors import InputError
from studio.imports.cells import Cells, folded, words_of
from studio.imports.kinds import ImportColumn, ImportKind
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.submission import Submission
from studio.translation import _
from studio.values.numbers import format_scaled, read_number, split_number
from studio.values.units import FluidSystem, find_unit

COLUMNS = (
    ImportColumn(
        "name",
        gettext_lazy("Recipe"),
        (
            "name",
            "title",
            "mix",
            "recipe name",
            "rezept",
            "rezeptname",
            "rezept name",
            "name des rezepts",
            "mischung",
            "bezeichnung",
        ),
        gettext_lazy("A name that no other recipe has."),
        required=True,
    ),
    ImportColumn(
        "parts",
        gettext_lazy("Parts"),
        (
            "ingredients",
            "what goes in",
            "formula",
            "ratio",
            "contents",
            "teile",
            "zutaten",
            "was hinein kommt",
            "zusammensetzung",
        ),
        gettext_lazy(
            "Numbers and materials with a plus between them: 2 Craft glue + 1 Tap water. Where each part has a row "
            "of its own, its number."
        ),
        required=True,
    ),
    ImportColumn(
        "part",
        gettext_lazy("Material of the part"),
        ("ingredient", "part material", "component", "zutat", "bestandteil", "komponente"),
        gettext_lazy("Where each part has a row of its own; the recipe may stand on the first of them only."),
    ),
    ImportColumn(
        "basis",
        gettext_lazy("Parts measured"),
        ("basis", "measured", "by", "gemessen", "teile gemessen"),
        gettext_lazy("By volume or by weight. Without it, by volume."),
    ),
    ImportColumn(
        "makes",
        gettext_lazy("Makes"),
        ("makes", "material", "result", "ergibt", "ergebnis"),
        gettext_lazy("The material that it makes. Without it, a new one with the name of the recipe."),
    ),
    ImportColumn(
        "kind",
        gettext_lazy("Kind"),
        ("type", "art", "kategorie"),
        gettext_lazy("Of a new material: mixed colour or medium. Without it, mixed colour."),
    ),
    ImportColumn("notes", gettext_lazy("Notes"), ("note", "comment", "remarks", "notizen", "bemerkung")),
)
MADE_KINDS = (Kind.MIX, Kind.MEDIUM, Kind.PAINT, Kind.FINISH, Kind.ADDITIVE)
_BETWEEN_PARTS = re.compile(r"\s+\+\s+|\s*[;\n]\s*")
_WORD_OF_PARTS = re.compile(r"^(?:(?:parts?|teile?|x|×)\s+|%\s*)(?:of\s+)?", re.IGNORECASE)
BASIS_WORDS = {"volumen": Basis.VOLUME, "weight": Basis.MASS, "gewicht": Basis.MASS, "masse": Basis.MASS}
SCALE = 1000
MOST_PARTS = 40


@dataclass(frozen=True, slots=True)
class RecipeRow:
    """One recipe; a material that it makes may be new. Parts are thousandths of a part."""

    name: str
    makes: Material
    basis: str
    parts: tuple[tuple[Material, int], ...]
    notes: str
    is_there: bool


@dataclass(slots=True)
class RecipeReader:
    """Reads rows against the materials and recipes that there are, and those of the rows above."""

    studio: Studio
    today: date
    materials: dict[str, Material] = field(default_factory=dict)
    recipes: dict[str, tuple[str, frozenset[tuple[str, int]]]] = field(default_factory=dict)
    made: dict[str, str] = field(default_factory=dict)  # materials made by a recipe, and its name
    bases: Mapping[str, str] = field(default_factory=lambda: words_of(Basis) | BASIS_WORDS)
    kinds: Mapping[str, str] = field(default_factory=lambda: words_of(Kind))

    def __post_init__(self) -> None:
        self.materials = {folded(each.name): each for each in Material.objects.all()}
        for recipe in Recipe.objects.select_related("makes"):
            self.made[folded(recipe.makes.name)] = recipe.name
        for version in latest_versions().values():
            parts = ((part.material, part.parts) for part in version.parts.all())
            self.recipes[folded(version.recipe.name)] = (version.basis, _written(parts))

    def read(self, cells: Cells) -> RecipeRow:
        name = cells.words("name", most=120, required=_("Enter the name of the recipe."))
        basis = cells.choice("basis", self.bases) or str(Basis.VOLUME)
        parts = cells.read(
            "parts",
            lambda text: self._parts(text, cells.numbers.decimal_comma),
            required=_("Enter its parts."),
        )
        makes = self._makes(cells, name)
        notes = cells.words("notes", most=2_000)
        cells.refuse()
        known = self.recipes.get(folded(name))
        if known is not None and known != (basis, _written(parts or ())):
            raise InputError(_("Another recipe has this name. Add a version on its own page."), field="name")
        if known is None and (other := self.made.get(folded(makes.name))):
            advice = _("{name} already has a recipe: {recipe}.", name=makes.name, recipe=other)
            raise InputError(advice, field="makes" if cells["makes"] else "name")
        return RecipeRow(name, makes, basis, tuple(parts or ()), notes, known is not None)

    def _parts(self, text: str, decimal_comma: bool) -> list[tuple[Material, int]]:
        parts: list[tuple[Material, int]] = []
        for piece in filter(None, _BETWEEN_PARTS.split(text)):
            number, words = split_number(" ".join(piece.split()))
            name = _WORD_OF_PARTS.sub("", words)
            if not number or not name:
                raise InputError(
                    _("“{text}” is no part. Enter for example 2 Craft glue + 1 Tap water.", text=piece[:60])
                )
            has_unit = find_unit(name.split()[0], FluidSystem(self.studio.fluid_system))
            if has_unit and folded(name) not in self.materials:
                raise InputError(
                    _(
                        "“{text}” has a unit, and a recipe is in parts. Enter for example 2 Craft glue + 1 Tap water.",
                        text=piece[:60],
                    )
                )
            scaled = read_number(number, decimal_comma=decimal_comma) * SCALE
            if scaled <= 0 or scaled.denominator != 1 or scaled > 10**9:
                raise InputError(
                    _("“{text}” is not a number of parts. Enter for example 2 or 1 1/2.", text=number)
                )
            parts.append((self._material(name), int(scaled)))
        if len(parts) > MOST_PARTS or len({folded(material.name) for material, _part in parts}) < len(parts):
            raise InputError(_("Name each material once, and at most {most}.", most=MOST_PARTS))
        return parts

    def _material(self, name: str) -> Material:
        material = self.materials.get(folded(name))
        if material is None:
            raise InputError(
                _("“{name}” is not one of your materials. Import the materials first.", name=name[:120])
            )
        if material.measure not in MIXABLE:
            raise InputError(_("{name} is measured neither by volume nor by weight.", name=material.name))
        return material

    def _makes(self, cells: Cells, recipe: str) -> Material:
        name = cells.words("makes", most=120) or recipe
        known = self.materials.get(folded(name))
        kind = cells.choice("kind", {word: code for word, code in self.kinds.items() if code in MADE_KINDS})
        if known is not None:
            if known.measure not in MIXABLE or known.is_free:
                cells.note("makes", _("{name} cannot be made by a recipe.", name=known.name))
            return known
        return Material(name=name, kind=kind or str(Kind.MIX), measure=str(MeasureChoice.VOLUME))

    def is_there(self, facts: RecipeRow) -> bool:
        return facts.is_there

    def words(self, facts: RecipeRow, formatter: Formatter) -> Mapping[str, str]:
        return {
            "parts": _in_words(facts.parts, decimal_comma=formatter.decimal_comma),
            "basis": str(Basis(facts.basis).label),
            "makes": facts.makes.name,
        }

    def save(self, facts: RecipeRow, submission: Submission) -> None:
        write_recipe(
            name=facts.name,
            makes=facts.makes,
            basis=facts.basis,
            parts=facts.parts,
            submission=submission,
            notes=facts.notes,
        )

    def keep(self, facts: RecipeRow) -> None:
        self.materials.setdefault(folded(facts.makes.name), facts.makes)
        self.recipes[folded(facts.name)] = (facts.basis, _written(facts.parts))
        self.made[folded(facts.makes.name)] = facts.name


def _written(parts: Any) -> frozenset[tuple[str, int]]:
    return frozenset((folded(material.name), part) for material, part in parts)


def _in_words(parts: Sequence[tuple[Material, int]], *, decimal_comma: bool) -> str:
    return " + ".join(
        f"{format_scaled(part, 3, decimal_comma=decimal_comma)} {material.name}" for material, part in parts
    )


def example(studio: Studio) -> Sequence[Mapping[str, Any]]:
    """Recipes of the net loft."""
    return [
        {"name": "Loft medium", "parts": "2 Craft glue + 1 Tap water", "basis": "volume", "kind": "medium"},
        {"name": "Foam white", "parts": "1 Sail Loft White + 2 Loft medium", "basis": "volume"},
    ]


def recorded(studio: Studio) -> Sequence[Mapping[str, Any]]:
    """Every recipe that was written as one, by its latest version."""
    comma = Formatter.of(studio).decimal_comma
    return [
        {
            "name": version.recipe.name,
            "parts": _in_words(
                [(part.material, part.parts) for part in version.parts.all()], decimal_comma=comma
            ),
            "basis": str(Basis(version.basis).label),
            "makes": version.recipe.makes.name,
            "notes": version.recipe.notes,
        }
        for version in latest_versions().values()
        if not version.recipe.by_ratio and not version.recipe.is_archived
    ]


RECIPES = ImportKind(
    code="recipes",
    title=gettext_lazy("Recipes from a file"),
    lead=gettext_lazy("One recipe a row, its parts with a plus between them; or a row for each part."),
    columns=COLUMNS,
    meanings=heading_meanings,
    gather=gather,
    reader=RecipeReader,
    example=example,
    list_url="inventory:recipes",
    recorded=recorded,
    roles=WORKERS,
)
