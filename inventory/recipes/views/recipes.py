"""Recipes: the list, and one with its versions side by side."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from django.db.models import Count, F, QuerySet, Sum, prefetch_related_objects
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.decorators.http import require_safe

from inventory.ledger.models import Entry, Place
from inventory.materials.models import POURED_KINDS
from inventory.recipes.calculations import ONE_PART
from inventory.recipes.filters import RecipeFilter
from inventory.recipes.models import Basis, Mix, Recipe, RecipeVersion
from inventory.recipes.off_recipe import READ_ALONG, off_recipe
from inventory.recipes.queries import (
    costs_per_100ml,
    held,
    latest_versions,
    plain_recipe,
    versions_with_parts,
)
from inventory.recipes.tables import MixRow, MixTable, PartRow, RecipeRow, RecipeTable
from studio.accounts.roles import EVERYONE, current_user, role_required
from studio.pages.charts import BAR_STEP, Bar, bars
from studio.pages.tables import list_page, page_of
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.translation import _, ngettext
from studio.values.allocation import allocate, divide_half_up
from studio.values.numbers import format_scaled

PER_PAGE = 48
MIXES_PER_PAGE = 20
# The bar has six patterns, and a page room for so many columns.
MOST_PATTERNS = 6
MOST_SIDE_BY_SIDE = 6
BARS_DRAWN = 12


@require_safe
@role_required(*EVERYONE)
def recipes(request: HttpRequest) -> HttpResponse:
    filters = RecipeFilter(request.GET, Recipe.objects.all(), request=request)
    fitting = set(filters.qs.values_list("pk", flat=True))
    latest = latest_versions()
    chosen = [version for version in latest.values() if version.recipe_id in fitting]
    page_obj = page_of(request, chosen, PER_PAGE)
    rows = _listed(list(page_obj), _uses(latest.values()), current_studio(request))
    context = {
        "page_obj": page_obj,
        "filters": filters,
        "has_any": bool(latest),
        "what": _("recipes"),
        "may_write": current_user(request).may_write,
    }
    return list_page(request, "recipes/list.html", RecipeTable(rows, request), context)


def _listed(
    versions: Sequence[RecipeVersion], uses: Mapping[int, list[Recipe]], studio: Studio
) -> list[RecipeRow]:
    costs, stock, formatter = costs_per_100ml(versions), held(), Formatter.of(studio)
    return [
        RecipeRow(
            version,
            shown_parts(version, formatter),
            costs[version.pk],
            stock.get(version.recipe.makes_id, 0),
            uses.get(version.recipe.makes_id, []),
            plain_recipe(version).water_share > studio.water_limit,
        )
        for version in versions
    ]


def _uses(versions: Iterable[RecipeVersion]) -> dict[int, list[Recipe]]:
    """The recipes that each material goes into, as the versions stand in their order."""
    uses: dict[int, list[Recipe]] = defaultdict(list)
    for version in versions:
        for part in version.parts.all():
            uses[part.material_id].append(version.recipe)
    return uses


def shown_parts(version: RecipeVersion, formatter: Formatter) -> list[PartRow]:
    """The parts in the order written, as stretches of a bar; what the six patterns cannot tell apart goes together."""
    parts = list(version.parts.all())
    rows = [
        PartRow(
            part.material.name,
            percent,
            _in_parts(part.parts, formatter),
            reverse("inventory:material", args=[part.material_id]),
            part.material.colour,
        )
        for part, percent in zip(parts, allocate(100, [part.parts for part in parts]), strict=True)
    ]
    if len(rows) <= MOST_PATTERNS:
        return rows
    rest, others = rows[MOST_PATTERNS - 1 :], parts[MOST_PATTERNS - 1 :]
    together = _in_parts(sum(part.parts for part in others), formatter)
    names = ", ".join(part.label for part in rest)
    return [*rows[: MOST_PATTERNS - 1], PartRow(names, sum(part.percent for part in rest), together)]


def _in_parts(parts: int, formatter: Formatter) -> str:
    number = format_scaled(parts, 3, decimal_comma=formatter.decimal_comma, grouping=True)
    whole, rest = divmod(parts, ONE_PART)  # one and a half are said as two are
    return ngettext("{n} part", "{n} parts", 2 if rest else whole, n=number)


def _caption(version: RecipeVersion) -> str:
    if version.basis == Basis.MASS:
        return _("Version {n}, by weight", n=version.number)
    return _("Version {n}, by volume", n=version.number)


@require_safe
@role_required(*EVERYONE)
def recipe(request: HttpRequest, pk: int) -> HttpResponse:
    user, formatter = current_user(request), Formatter.of(current_studio(request))
    recipe = get_object_or_404(Recipe.objects.select_related("makes"), pk=pk)
    versions = list(versions_with_parts().filter(recipe=recipe))
    beside = versions[:MOST_SIDE_BY_SIDE]
    costs = costs_per_100ml(beside) if user.sees_money else {}
    through_time = _through_time(recipe, formatter) if user.sees_money else []
    page_obj = page_of(request, _mixes(recipe), MIXES_PER_PAGE)
    context = {
        "recipe": recipe,
        "title": recipe.name,
        "lead": recipe.makes.get_kind_display(),
        "back_url": reverse("inventory:recipes"),
        "back_label": _("Recipes"),
        "mix_url": f"{reverse('inventory:mix-new')}?recipe={recipe.pk}",
        "plan_url": f"{reverse('inventory:stock-check')}?colour_1={recipe.makes_id}",
        "versions": beside,
        "earlier": len(versions) - len(beside),
        "side_by_side": _side_by_side(beside, costs, formatter),
        "on_shelf": formatter.short_quantity(held().get(recipe.makes_id, 0), recipe.makes.measure),
        "goes_into": _uses(latest_versions().values()).get(recipe.makes_id, []),
        "page_obj": page_obj,
        "through_time": through_time,
        "chart_width": BAR_STEP * len(through_time),
        "may_write": user.may_write,
        "may_plan": recipe.makes.kind in POURED_KINDS,
        "section": "inventory:recipes",
        **(_now(versions[0], costs, formatter) if versions else {}),
    }
    rows = _off_recipe(_with_cost(list(page_obj)), current_studio(request))
    table = MixTable(rows, request, without=[] if any(row.off_recipe for row in rows) else ["off_recipe"])
    return list_page(request, "recipes/detail.html", table, context)


def _now(version: RecipeVersion, costs: Mapping[int, int | None], formatter: Formatter) -> dict[str, object]:
    """What is known of the version in force."""
    return {
        "caption": _caption(version),
        "parts": shown_parts(version, formatter),
        "cost": costs.get(version.pk),
        "water": plain_recipe(version).water_share,
    }


def _side_by_side(
    versions: Sequence[RecipeVersion], costs: Mapping[int, int | None], formatter: Formatter
) -> list[tuple[str, str, list[str]]]:
    """A heading, its address and a cell for each version: every material's parts, then the rest."""
    materials = {part.material_id: part.material for version in versions for part in version.parts.all()}
    parts = [{part.material_id: part.parts for part in version.parts.all()} for version in versions]
    mixes = Mix.objects.filter(version__in=versions).order_by().values_list("version").annotate(Count("pk"))
    counts = dict(mixes)
    rows = [
        (
            material.name,
            reverse("inventory:material", args=[pk]),
            [_in_parts(column[pk], formatter) if pk in column else "" for column in parts],
        )
        for pk, material in materials.items()
    ]
    is_by_mass = [version.basis == Basis.MASS for version in versions]
    rows.append((_("Measured"), "", [_("by weight") if each else _("by volume") for each in is_by_mass]))
    water = [formatter.percent(plain_recipe(version).water_share) for version in versions]
    rows.append((_("Added water"), "", water))
    if costs:
        known = [costs[version.pk] for version in versions]
        cells = ["" if cost is None else formatter.money(cost) for cost in known]
        rows.append((_("100 mL now costs"), "", cells))
    rows.append((_("Date"), "", [formatter.day(version.written_on) for version in versions]))
    rows.append((_("Mixes"), "", [str(counts.get(version.pk, 0)) for version in versions]))
    return rows


def _mixes(recipe: Recipe) -> QuerySet[Mix]:
    return Mix.objects.filter(version__recipe=recipe).select_related(
        "version", "lot__material", "session", "posting__reversed_by"
    )


def _with_cost(mixes: Sequence[Mix]) -> list[MixRow]:
    """What each batch came to when it was mixed: the entry that made its lot."""
    rows = (
        Entry.objects.filter(
            lot__in=[mix.lot_id for mix in mixes],
            posting=F("lot__mix__posting"),
            place=Place.LOT,
            quantity__gt=0,
        )
        .order_by()
        .values_list("lot_id")
        .annotate(quantity=Sum("quantity"), money=Sum("money"))
    )
    came_to = {lot: (quantity, money) for lot, quantity, money in rows}
    return [MixRow(mix, *came_to.get(mix.lot_id, (0, 0))) for mix in mixes]


def _off_recipe(rows: Sequence[MixRow], studio: Studio) -> list[MixRow]:
    """The same, each saying how it is off its recipe."""
    prefetch_related_objects([row.mix for row in rows], *READ_ALONG)
    found = [off_recipe(row.mix, studio) for row in rows]
    return [replace(row, off_recipe=off.words if off else "") for row, off in zip(rows, found, strict=True)]


def _through_time(recipe: Recipe, formatter: Formatter) -> list[Bar]:
    """What a unit of the latest standing batches cost, oldest first; nothing when there is nothing to compare."""
    latest = list(_mixes(recipe).filter(posting__reversed_by__isnull=True)[:BARS_DRAWN])
    batches = [batch for batch in reversed(_with_cost(latest)) if batch.made]
    if len(batches) < 2:
        return []
    return bars(
        [
            (
                formatter.day(batch.mix.mixed_on),
                formatter.unit_cost(batch.cost, batch.made, recipe.makes.measure),
                divide_half_up(batch.cost * 1_000_000, batch.made),
            )
            for batch in batches
        ]
    )
