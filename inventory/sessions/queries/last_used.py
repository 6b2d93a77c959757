"""On which day what can be chosen was last used: one query for each kind of thing."""

from collections.abc import Mapping
from datetime import date
from functools import cached_property

from django.db.models import Max

from inventory.recipes.models import Mix, RecipePart
from inventory.sessions.models import Pour


class LastUsed:
    """The last day of use by primary key, each kind read when it is first asked for."""

    @cached_property
    def recipes(self) -> Mapping[int, date]:
        rows = Mix.objects.order_by().values_list("version__recipe_id")
        return dict(rows.annotate(last=Max("mixed_on")))

    @cached_property
    def ingredients(self) -> Mapping[int, date]:
        """Paints, media and whatever else went into a mix, by the recipes that were mixed."""
        rows = RecipePart.objects.filter(version__mixes__struck_by=None).order_by().values_list("material_id")
        return dict(rows.annotate(last=Max("version__mixes__mixed_on")).filter(last__isnull=False))

    @cached_property
    def surfaces(self) -> Mapping[int, date]:
        rows = Pour.objects.poured_here().order_by().values_list("surface_id")
        return dict(rows.annotate(last=Max("session__held_on")))

    @cached_property
    def techniques(self) -> Mapping[int, date]:
        rows = Pour.objects.poured_here().order_by().values_list("technique_id")
        return dict(rows.annotate(last=Max("session__held_on")))
