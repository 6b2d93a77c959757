"""The density of what was poured: of that very mix, by what really went into it. In µg/mL."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress

from django.db.models import F

from inventory.errors import UnknownDensity
from inventory.ledger.models import Entry, Place
from inventory.materials.models import Material
from inventory.recipes.actions import mixes
from inventory.recipes.actions.mixes import Ingredient, MixFacts
from inventory.sessions.actions.sessions import Dose
from inventory.sessions.queries.session_costs import PourAccount
from inventory.sessions.weighing import blended_density
from studio.values.quantities import volume_of
from studio.values.units import Measure


def density_of_doses(doses: Sequence[Dose], mixed: Sequence[MixFacts]) -> int:
    """Density of what was poured together (µg/mL), each mix by its own. Raises InventoryError naming what has none."""
    parts = []
    for dose in doses:
        facts = mixed[dose.mix] if dose.mix is not None and dose.mix < len(mixed) else None
        material = facts.version.recipe.makes if facts else dose.material
        if material is None:
            continue
        density = mixes.density_of(facts) if facts else mixes.known_density(material)
        is_volume = material.measure == Measure.VOLUME
        parts.append((dose.quantity if is_volume else volume_of(dose.quantity, density), density))
    return blended_density(parts) if parts else 0


def density_of_pour(account: PourAccount) -> int:
    """Density of what was poured, by today's densities of what went in: one query.

    Raises UnknownDensity for a material without one.
    """
    return _blended(account, _ingredients([account]))


def density_of_pours(accounts: Sequence[PourAccount]) -> int:
    """Density of what was poured on several together: one query. Raises UnknownDensity.

    Raises ValueError where no paint was poured on any of them.
    """
    ingredients = _ingredients(accounts)
    return blended_density(
        [(each.pour.poured, _blended(each, ingredients)) for each in accounts if each.paint]
    )


def densities_of(accounts: Sequence[PourAccount]) -> dict[int, int]:
    """The same for many pours, by their keys: one query. Those in which a density is missing are left out."""
    ingredients, densities = _ingredients(accounts), {}
    for account in accounts:
        if account.paint:
            with suppress(UnknownDensity):
                densities[account.pour.pk] = _blended(account, ingredients)
    return densities


def _blended(account: PourAccount, ingredients: Mapping[int, Sequence[Ingredient]]) -> int:
    parts = []
    for line in account.paint:
        went_in = ingredients.get(line.source_lot.pk) if line.source_lot is not None else None
        density = mixes.blend_of(went_in) if went_in else mixes.known_density(line.material)
        is_volume = line.material.measure == Measure.VOLUME
        parts.append((line.quantity if is_volume else volume_of(line.quantity, density), density))
    return blended_density(parts)


def _ingredients(accounts: Iterable[PourAccount]) -> dict[int, list[Ingredient]]:
    """What went into each mixed lot that these pours took from."""
    lots = {line.source_lot.pk for each in accounts for line in each.paint if line.source_lot is not None}
    entries = (
        Entry.objects.standing()
        .filter(place=Place.MIX, mix__lot__in=lots)
        .exclude(material=F("mix__lot__material"))
        .select_related("material", "mix")
        .order_by("posting_id", "line")
    )
    totals: Counter[tuple[int, Material]] = Counter()
    for entry in entries:
        if entry.mix is not None:
            totals[entry.mix.lot_id, entry.material] += entry.quantity
    by_lot: dict[int, list[Ingredient]] = defaultdict(list)
    for (lot, material), quantity in totals.items():
        if quantity > 0:
            by_lot[lot].append(Ingredient(material, quantity))
    return by_lot


def to_be_weighed(problem: UnknownDensity) -> int | None:
    """The material a sample of which would help, by its key. A mix has none: its density is typed with the material."""
    bought = Material.objects.filter(pk=problem.material, recipe__isnull=True)
    return bought.values_list("pk", flat=True).first()
