"""Everything that can be chosen while planning or logging, read once for all rows of the form."""

from collections import defaultdict
from collections.abc import Container, Iterable, Mapping
from datetime import date
from functools import cached_property
from typing import Any

from django import forms
from django.db.models import Q

from inventory.materials.choices import MaterialChoice, by_kind
from inventory.materials.models import Kind, Material
from inventory.materials.new_in_place import NewMaterials
from inventory.recipes.actions.recipes import MIXABLE
from inventory.recipes.models import Ratio, Recipe, RecipeVersion
from inventory.recipes.queries import held, latest_versions
from inventory.sessions.models import Pour, Technique
from inventory.sessions.queries.last_used import LastUsed
from inventory.sessions.queries.pours import failed_pours
from inventory.stock import queries as stock
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.translation import _
from studio.values.numbers import read_small_whole

# Mixed colours first: what stays in a cup after one session is poured in the next.
POURABLE = (Kind.MIX, Kind.PAINT, Kind.MEDIUM)
# Own choice: so many stand first, as last used; and so many of the newest mixes by a ratio are offered, beside those in
# stock.
LAST_USED, NEWEST_BY_RATIO = 6, 40


class FormChoices:
    """Recipes, paint that is ready to pour, surfaces and the rest, each read when it is first asked for.

    `versions` are mixed instead of those in force, and `also` can be chosen though they may be archived, because a
    plan keeps to them. `may_add` lets surfaces be added on the rows that name them.
    """

    def __init__(
        self,
        studio: Studio,
        *,
        versions: Iterable[RecipeVersion] = (),
        also: Iterable[int] = (),
        may_add: bool = False,
    ) -> None:
        self.may_add = may_add
        self.studio, self.formatter = studio, Formatter.of(studio)
        self.versions = {version.recipe_id: version for version in versions}
        self.also = {*also, *(version.recipe.makes_id for version in self.versions.values())}
        self.lots: Mapping[int, list[tuple[str, str]]] = {}

    @cached_property
    def recipes(self) -> dict[int, RecipeVersion]:
        """The version in force of every recipe that has parts and is not archived, by the recipe's number."""
        in_force = {
            version.recipe_id: version
            for version in latest_versions().values()
            if version.parts.all() and not version.recipe.is_archived
        }
        return in_force | self.versions

    @cached_property
    def materials(self) -> list[Material]:
        usable = Q(is_archived=False) | Q(pk__in=self.also)
        materials = Material.objects.filter(usable, is_free=False)
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
    def new_surfaces(self) -> NewMaterials:
        return NewMaterials(self.surfaces, self.may_add)

    @cached_property
    def sundries(self) -> dict[int, Material]:
        return {item.pk: item for item in self.materials if item.kind == Kind.SUNDRY}

    @cached_property
    def addable(self) -> dict[str, Material]:
        """What can be added to one cup besides its recipe, water too, by its name in small letters."""
        usable = Q(is_archived=False) | Q(pk__in=self.also)
        mixable = Material.objects.filter(usable, measure__in=MIXABLE).select_related("recipe")
        return {item.name.casefold(): item for item in mixable.order_by("name")}

    def addable_named(self, name: str) -> Material | None:
        return self.addable.get(" ".join(name.split()).casefold()) if name.strip() else None

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
    def last_used(self) -> LastUsed:
        return LastUsed()

    @cached_property
    def ratios(self) -> dict[int, Ratio]:
        """Favourites first."""
        ratios = Ratio.objects.filter(is_archived=False).prefetch_related("parts__material")
        return {ratio.pk: ratio for ratio in ratios.order_by("-is_favourite", "name")}

    @cached_property
    def offered_by_ratio(self) -> set[int]:
        """Recipes that came of a ratio and are offered: what is in stock of, and the newest."""
        by_ratio = {pk: version for pk, version in self.recipes.items() if version.recipe.by_ratio}
        newest = sorted(by_ratio, reverse=True)[:NEWEST_BY_RATIO]
        kept = [pk for pk in self.versions if pk in by_ratio]
        return {
            *newest,
            *kept,
            *(pk for pk, version in by_ratio.items() if self.held.get(version.recipe.makes_id)),
        }

    @cached_property
    def recipe_choices(self) -> list[tuple[str, Any]]:
        return self._recipe_groups(self.offered_by_ratio)

    def _named(self, recipe: Recipe) -> str:
        """A recipe, with its version where a plan keeps to one."""
        version = self.versions.get(recipe.pk)
        return f"{recipe.name}, {version}" if version else recipe.name

    def _recipe_groups(self, by_ratio: Container[int]) -> list[tuple[str, Any]]:
        """Recipes in groups: favourites, mixed last, those that were written, and those that came of a ratio."""
        recipes = {pk: version.recipe for pk, version in self.recipes.items()}
        favourites = [recipe for recipe in recipes.values() if recipe.is_favourite]
        others = {pk: recipe for pk, recipe in recipes.items() if not recipe.is_favourite}
        last = last_of(others, self.last_used.recipes)
        rest = [recipe for pk, recipe in others.items() if pk not in last]
        groups = {
            _("Favourites"): favourites,
            _("Mixed last"): [recipes[pk] for pk in last],
            _("Mix by a recipe"): [recipe for recipe in rest if not recipe.by_ratio],
            _("Mix by a ratio"): [recipe for recipe in rest if recipe.by_ratio and recipe.pk in by_ratio],
        }
        return [
            (label, [(f"r{recipe.pk}", self._named(recipe)) for recipe in group])
            for label, group in groups.items()
            if group
        ]

    @cached_property
    def cup_choices(self) -> list[tuple[str, Any]]:
        return self._cup_choices(self._recipe_groups(self.recipes), self.ready.values())

    @cached_property
    def usual_cup_choices(self) -> list[tuple[str, Any]]:
        """Without mixed colours of which the books hold none, and that a recipe makes: they are mixed anew."""
        made = {version.recipe.makes_id for version in self.recipes.values()}
        ready = [item for pk, item in self.ready.items() if pk not in made or self.held.get(pk)]
        return self._cup_choices(self.recipe_choices, ready)

    def _cup_choices(
        self, recipes: list[tuple[str, Any]], ready: Iterable[Material]
    ) -> list[tuple[str, Any]]:
        bottles = [(f"m{item.pk}", self.with_stock(item)) for item in ready]
        groups = [*recipes, (_("Pour unmixed from a bottle"), bottles)]
        return [("", _("Not used")), *((label, choices) for label, choices in groups if choices)]

    @cached_property
    def surface_choices(self) -> list[tuple[str, Any]]:
        named = {pk: self.with_stock(item) for pk, item in self.surfaces.items()}
        return [("", _("Choose…")), *last_used_first(named, self.last_used.surfaces)]

    @cached_property
    def tapped_surfaces(self) -> list[Material]:
        """Those in stock that a tap adds a pour on: what was poured on last, then the rest by name."""
        in_stock = [pk for pk in self.surfaces if self.held.get(pk)]
        last = last_of(in_stock, self.last_used.surfaces)
        rest = [pk for pk in in_stock if pk not in last]
        return [self.surfaces[pk] for pk in [*last, *rest][:LAST_USED]]

    @cached_property
    def technique_choices(self) -> list[tuple[str, Any]]:
        named = {pk: technique.name for pk, technique in self.techniques.items()}
        favourites = {pk for pk, technique in self.techniques.items() if technique.is_favourite}
        return [("", _("Choose…")), *last_used_first(named, self.last_used.techniques, favourites)]

    @cached_property
    def usual_technique(self) -> str:
        """The technique that a new row begins with: the one used last."""
        return "".join(str(pk) for pk in last_of(self.techniques, self.last_used.techniques)[:1])

    @cached_property
    def colours(self) -> dict[int, Material]:
        """What can be planned to be poured: what a recipe in force makes, and what is bought."""
        made = {version.recipe.makes_id for version in self.recipes.values()}
        return {pk: item for pk, item in self.ready.items() if pk in made or not hasattr(item, "recipe")}

    @cached_property
    def colour_choices(self) -> list[tuple[str, Any]]:
        """Colours in groups: favourites, mixed last, by a recipe, by a ratio (as offered), and from a bottle."""
        makes = {version.recipe.makes_id: version.recipe for version in self.recipes.values()}
        used = self.last_used.recipes
        favourites = [pk for pk in self.colours if pk in makes and makes[pk].is_favourite]
        others = [pk for pk in self.colours if pk not in favourites]
        mixed = {pk: used[recipe.pk] for pk, recipe in makes.items() if recipe.pk in used}
        last = last_of(others, mixed)
        rest = sorted((self.colours[pk] for pk in others if pk not in last), key=lambda item: item.name)
        by_ratio = [item for item in rest if item.pk in makes and makes[item.pk].by_ratio]
        groups = {
            _("Favourites"): sorted((self.colours[pk] for pk in favourites), key=lambda item: item.name),
            _("Mixed last"): [self.colours[pk] for pk in last],
            _("Mixed by a recipe"): [item for item in rest if item.pk in makes and item not in by_ratio],
            _("Mixed by a ratio"): [item for item in by_ratio if makes[item.pk].pk in self.offered_by_ratio],
            _("Unmixed from a bottle"): [item for item in rest if item.pk not in makes],
        }
        return [
            ("", _("Not used")),
            *((label, self.named(materials)) for label, materials in groups.items() if materials),
        ]

    def colour_choices_with(self, chosen: object) -> list[tuple[str, Any]]:
        """The same, and a colour that is chosen already though it is not offered."""
        material = self.colours.get(read_small_whole(str(chosen)) or 0)
        if material is None or str(material.pk) in self._offered_colours:
            return self.colour_choices
        return [*self.colour_choices, (str(material.pk), self.with_stock(material))]

    @cached_property
    def _offered_colours(self) -> set[str]:
        return {value for _label, group in self.colour_choices[1:] for value, _name in group}

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

    def find_lots(self, cups: Iterable[str], added: Iterable[str] = ()) -> None:
        """Read the lots that these cups, and what was added to them, could come from: one query for all of them."""
        named = [material for name in added if (material := self.addable_named(name))]
        wanted: dict[int, Material] = {material.pk: material for material in named}
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


def last_of(keys: Container[int], used: Mapping[int, date]) -> list[int]:
    """The few of them that were used last, the latest first."""
    latest = sorted((pk for pk in used if pk in keys), key=lambda pk: (used[pk], pk), reverse=True)
    return latest[:LAST_USED]


def last_used_first(
    named: Mapping[int, str], used: Mapping[int, date], favourites: Container[int] = ()
) -> list[tuple[str, Any]]:
    """Choices with favourites and those used last in groups of their own; without groups while there are none."""
    first = [pk for pk in named if pk in favourites]
    last = last_of([pk for pk in named if pk not in first], used)
    rest = [pk for pk in named if pk not in first and pk not in last]
    if not first and not last:
        return [(str(pk), name) for pk, name in named.items()]
    groups = {_("Favourites"): first, _("Used last"): last, _("All others"): rest}
    return [(label, [(str(pk), named[pk]) for pk in group]) for label, group in groups.items() if group]


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
