"""Everything that can be chosen while logging a session or a mix, read once for all rows of the form."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from inventory.materials.choices import by_kind
from inventory.materials.models import Kind, Material
from inventory.recipes.models import RecipeVersion
from inventory.recipes.queries import held, latest_versions
from inventory.sessions.models import Pour, Technique
from inventory.sessions.queries.pours import failed_pours
from inventory.stock import queries as stock
from studio.preferences.formatting import Formatter
from studio.translation import _

POURABLE = (Kind.MIX, Kind.PAINT, Kind.MEDIUM)


@dataclass(slots=True)
class FormChoices:
    """Recipes (latest version each), paint that is ready to pour, surfaces, sundries, techniques and failed pours."""

    formatter: Formatter
    recipes: Mapping[int, RecipeVersion]
    ready: Mapping[int, Material] = field(default_factory=dict)
    surfaces: Mapping[int, Material] = field(default_factory=dict)
    sundries: Mapping[int, Material] = field(default_factory=dict)
    techniques: Mapping[int, Technique] = field(default_factory=dict)
    failed: Mapping[int, Pour] = field(default_factory=dict)
    held: Mapping[int, int] = field(default_factory=dict)
    lots: dict[int, list[tuple[str, str]]] = field(default_factory=dict)
    cup_choices: list[tuple[str, Any]] = field(default_factory=list)
    usual_cup_choices: list[tuple[str, Any]] = field(default_factory=list)
    run_out: set[str] = field(default_factory=set)
    surface_choices: list[tuple[str, Any]] = field(default_factory=list)
    sundry_choices: list[tuple[str, Any]] = field(default_factory=list)

    @classmethod
    def for_mixes(cls, formatter: Formatter) -> "FormChoices":
        """What a batch outside a session is mixed from."""
        form_choices = cls(formatter, _mixable())
        form_choices.cup_choices = form_choices.usual_cup_choices = [
            ("", _("Choose…")),
            *form_choices.recipe_choices(),
        ]
        return form_choices

    @classmethod
    def for_sessions(cls, formatter: Formatter) -> "FormChoices":
        """What a session is logged from."""
        materials = Material.objects.filter(is_archived=False, is_free=False)
        by_pk = {item.pk: item for item in materials.order_by("name")}
        surfaces = {pk: item for pk, item in by_pk.items() if item.kind == Kind.SURFACE}
        sundries = {pk: item for pk, item in by_pk.items() if item.kind == Kind.SUNDRY}
        ready = {
            pk: item
            for pk, item in by_pk.items()
            if item.kind in POURABLE and item.measure in ("volume", "mass")
        }
        form_choices = cls(
            formatter,
            _mixable(),
            ready,
            surfaces,
            sundries,
            Technique.objects.in_bulk(),
            failed_pours(),
            held(),
        )
        pourable = form_choices.ready_choices()
        form_choices.run_out = form_choices._run_out()
        form_choices.cup_choices = form_choices._cup_choices(pourable)
        form_choices.usual_cup_choices = form_choices._cup_choices(
            [row for row in pourable if row[0] not in form_choices.run_out]
        )
        form_choices.surface_choices = [("", _("Choose…"))]
        form_choices.surface_choices += [
            (str(pk), form_choices.with_stock(item)) for pk, item in surfaces.items()
        ]
        form_choices.sundry_choices = by_kind(sundries.values())
        return form_choices

    def cups_offered(self, chosen: str) -> list[tuple[str, Any]]:
        """The choices that a cup shows: what has run out and has a recipe is mixed anew, unless it was chosen."""
        return self.cup_choices if chosen in self.run_out else self.usual_cup_choices

    def _cup_choices(self, ready: list[tuple[str, str]]) -> list[tuple[str, Any]]:
        recipes = self.recipe_choices()
        choices: list[tuple[str, Any]] = [("", _("Not used"))]
        choices += [(_("Mix by a recipe"), recipes)] if recipes else []
        choices += [(_("Pour unmixed from a bottle"), ready)] if ready else []
        return choices

    def recipe_choices(self) -> list[tuple[str, str]]:
        return [(f"r{pk}", version.recipe.name) for pk, version in self.recipes.items()]

    def ready_choices(self) -> list[tuple[str, str]]:
        """Mixed colours first: what stays in a cup after one session is poured in the next."""
        order = sorted(self.ready.values(), key=lambda item: (POURABLE.index(Kind(item.kind)), item.name))
        return [(f"m{item.pk}", self.with_stock(item)) for item in order]

    def _run_out(self) -> set[str]:
        """Mixed colours of which the books hold none, and that a recipe makes."""
        made = {version.recipe.makes_id for version in self.recipes.values()}
        return {f"m{pk}" for pk in self.ready if pk in made and not self.held.get(pk)}

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
        wanted: set[int] = set()
        for contents in cups:
            version, ready = self.version(contents), self.poured_straight(contents)
            wanted |= {part.material_id for part in version.parts.all()} if version else set()
            wanted |= {ready.pk} if ready else set()
        measures = dict(Material.objects.filter(pk__in=wanted).values_list("pk", "measure")) if wanted else {}
        lots: dict[int, list[tuple[str, str]]] = defaultdict(
            lambda: [("", _("As usual: opened first, then oldest"))]
        )
        for lot in stock.held_lots(materials=wanted) if wanted else []:
            words = [f"L{lot.lot:04d}", self.formatter.short_quantity(lot.quantity, measures[lot.material])]
            words += [_("opened {day}", day=self.formatter.day(lot.opened_on))] if lot.opened_on else []
            lots[lot.material].append((str(lot.lot), ", ".join(words)))
        self.lots = dict(lots)


def _mixable() -> dict[int, RecipeVersion]:
    """The version in force of every recipe that has parts and is not archived, by the recipe's number."""
    versions = latest_versions().values()
    return {
        version.recipe_id: version
        for version in versions
        if version.parts.all() and not version.recipe.is_archived
    }


def _number(contents: str) -> int:
    digits = contents[1:]
    return int(digits) if digits.isascii() and digits.isdigit() and len(digits) < 19 else 0
