"""Everything that can be chosen while planning or logging, read once for all rows of the form."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from functools import cached_property
from typing import Any

from django import forms

from inventory.materials.choices import MaterialChoice, by_kind
from inventory.materials.models import Kind, Material
from inventory.recipes.actions.recipes import MIXABLE
from inventory.recipes.models import RecipeVersion
from inventory.recipes.queries import held, latest_versions
from inventory.sessions.models import Pour, Technique
from inventory.sessions.queries.pours import failed_pours
from inventory.stock import queries as stock
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.translation import _

# Mixed colours first: what stays in a cup after one session is poured in the next.
POURABLE = (Kind.MIX, Kind.PAINT, Kind.MEDIUM)


class FormChoices:
    """Recipes, paint that is ready to pour, surfaces and the rest, each read when it is first asked for."""

    def __init__(self, studio: Studio) -> None:
        self.studio, self.formatter = studio, Formatter.of(studio)
        self.lots: Mapping[int, list[tuple[str, str]]] = {}

    @cached_property
    def recipes(self) -> dict[int, RecipeVersion]:
        """The version in force of every recipe that has parts and is not archived, by the recipe's number."""
        return {
            version.recipe_id: version
            for version in latest_versions().values()
            if version.parts.all() and not version.recipe.is_archived
        }

    @cached_property
    def materials(self) -> list[Material]:
        materials = Material.objects.filter(is_archived=False, is_free=False)
        return list(materials.select_related("recipe").order_by("name"))

    @cached_property
    def ready(self) -> dict[int, Material]:
        pourable = [item for item in self.materials if item.kind in POURABLE and item.measure in MIXABLE]
        pourable.sort(key=lambda item: POURABLE.index(Kind(item.kind)))
        return {item.pk: item for item in pourable}

    @cached_property
    def surfaces(self) -> dict[int, Material]:
        return {item.pk: item for item in self.materials if item.kind == Kind.SURFACE}

    @cached_property
    def sundries(self) -> dict[int, Material]:
        return {item.pk: item for item in self.materials if item.kind == Kind.SUNDRY}

    @cached_property
    def techniques(self) -> dict[int, Technique]:
        return Technique.objects.in_bulk()

    @cached_property
    def failed(self) -> dict[int, Pour]:
        return failed_pours()

    @cached_property
    def held(self) -> dict[int, int]:
        return held()

    @cached_property
    def recipe_choices(self) -> list[tuple[str, str]]:
        return [(f"r{pk}", version.recipe.name) for pk, version in self.recipes.items()]

    @cached_property
    def cup_choices(self) -> list[tuple[str, Any]]:
        return self._cup_choices(self.ready.values())

    @cached_property
    def usual_cup_choices(self) -> list[tuple[str, Any]]:
        """Without mixed colours of which the books hold none, and that a recipe makes: they are mixed anew."""
        made = {version.recipe.makes_id for version in self.recipes.values()}
        return self._cup_choices(
            item for pk, item in self.ready.items() if pk not in made or self.held.get(pk)
        )

    def _cup_choices(self, ready: Iterable[Material]) -> list[tuple[str, Any]]:
        bottles = [(f"m{item.pk}", self.with_stock(item)) for item in ready]
        groups = [(_("Mix by a recipe"), self.recipe_choices), (_("Pour unmixed from a bottle"), bottles)]
        return [("", _("Not used")), *((label, choices) for label, choices in groups if choices)]

    @cached_property
    def surface_choices(self) -> list[tuple[str, Any]]:
        return [("", _("Choose…")), *self.named(self.surfaces.values())]

    @cached_property
    def _colours(self) -> dict[str, dict[int, Material]]:
        made = {version.recipe.makes_id for version in self.recipes.values()}
        by_name = sorted(self.ready.values(), key=lambda item: item.name)
        return {
            _("Mixed by a recipe"): {item.pk: item for item in by_name if item.pk in made},
            _("Unmixed from a bottle"): {item.pk: item for item in by_name if not hasattr(item, "recipe")},
        }

    @cached_property
    def colours(self) -> dict[int, Material]:
        """What can be planned to be poured: what a recipe in force makes, and what is bought."""
        return {pk: item for materials in self._colours.values() for pk, item in materials.items()}

    @cached_property
    def colour_choices(self) -> list[tuple[str, Any]]:
        groups = [(label, self.named(items.values())) for label, items in self._colours.items() if items]
        return [("", _("Not used")), *groups]

    @cached_property
    def sundry_choices(self) -> list[tuple[str, Any]]:
        return by_kind(self.sundries.values())

    def named(self, materials: Iterable[Material]) -> list[tuple[str, str]]:
        return [(str(item.pk), self.with_stock(item)) for item in materials]

    def with_stock(self, material: Material) -> str:
        """A material's name and how much of it the shelf holds."""
        amount = self.held.get(material.pk, 0)
        left = self.formatter.short_quantity(amount, material.measure) if amount else _("none in stock")
        return f"{material.name} ({left})"

    def version(self, contents: str) -> RecipeVersion | None:
        return self.recipes.get(_number(contents)) if contents.startswith("r") else None

    def poured_straight(self, contents: str) -> Material | None:
        return self.ready.get(_number(contents)) if contents.startswith("m") else None

    def find_lots(self, cups: Iterable[str]) -> None:
        """Read the lots that these cups could be filled from: one query for all of them."""
        wanted: dict[int, Material] = {}
        for contents in cups:
            version, ready = self.version(contents), self.poured_straight(contents)
            wanted |= {part.material_id: part.material for part in version.parts.all()} if version else {}
            wanted |= {ready.pk: ready} if ready else {}
        lots: dict[int, list[tuple[str, str]]] = defaultdict(
            lambda: [("", _("As usual: by the costing method"))]
        )
        for lot in stock.held_lots(materials=wanted) if wanted else []:
            amount = self.formatter.short_quantity(lot.quantity, wanted[lot.material].measure)
            words = [f"L{lot.lot:04d}", amount]
            words += [_("opened {day}", day=self.formatter.day(lot.opened_on))] if lot.opened_on else []
            lots[lot.material].append((str(lot.lot), ", ".join(words)))
        self.lots = dict(lots)


def offer(
    form: forms.Form, name: str, materials: Mapping[int, Material], choices: list[tuple[str, Any]]
) -> None:
    """Say what may be chosen in a form's field for a material."""
    field = form.fields[name]
    if isinstance(field, MaterialChoice):
        field.offer(materials, choices)


def _number(contents: str) -> int:
    digits = contents[1:]
    return int(digits) if digits.isascii() and digits.isdigit() and len(digits) < 19 else 0
