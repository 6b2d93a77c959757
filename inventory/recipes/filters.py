"""Filters of the lists of recipes and mixes."""

from django.db.models import Q
from django.utils.translation import gettext_lazy

from inventory.recipes.models import Mix, Ratio, Recipe, RecipePart
from studio.pages.filters import IncludeFilter, ListFilterSet, SearchFilter, first_day, last_day
from studio.search.matching import contains


def _fits_recipe(word: str) -> Q:
    parts = RecipePart.objects.filter(contains(word, "material__name"))
    return contains(word, "name", "makes__name") | Q(pk__in=parts.values("version__recipe"))


class RecipeFilter(ListFilterSet):
    """Recipes, by their own name and by the names of what goes in; the active ones unless asked otherwise."""

    search = SearchFilter(_fits_recipe)
    archived = IncludeFilter("is_archived", label=gettext_lazy("Include archived"))
    by_ratio = IncludeFilter("by_ratio", label=gettext_lazy("Include those mixed by a ratio"))

    class Meta:
        model = Recipe
        fields: list[str] = []


class RatioFilter(ListFilterSet):
    """Ratios by name; the active ones unless asked otherwise."""

    search = SearchFilter(lambda word: contains(word, "name"))
    archived = IncludeFilter("is_archived", label=gettext_lazy("Include archived"))

    class Meta:
        model = Ratio
        fields: list[str] = []


class MixFilter(ListFilterSet):
    """Mixes, by the day they were mixed."""

    first = first_day("mixed_on")
    last = last_day("mixed_on")

    class Meta:
        model = Mix
        fields: list[str] = []
