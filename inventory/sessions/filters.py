"""Filters of the lists of sessions and pours."""

import django_filters
from django.db.models import Q, QuerySet
from django.utils.translation import gettext_lazy

from inventory.materials.models import Kind, Material
from inventory.recipes.models import Mix
from inventory.sessions.models import Pour, Session, Technique
from studio.pages.filters import ListFilterSet, SearchFilter, SortFilter, YearFilter, first_day, last_day
from studio.search.matching import contains


def _fits(word: str) -> Q:
    pours = Pour.objects.filter(
        contains(word, "surface__name", "notes", "arm") | Q(pk__in=Pour.objects.on_canvas(word).values("pk"))
    )
    mixes = Mix.objects.filter(contains(word, "version__recipe__name"), session__isnull=False)
    return (
        contains(word, "title", "notes")
        | Q(pk__in=mixes.values("session"))
        | Q(pk__in=pours.values("session"))
    )


def _is_on_canvas(word: str) -> Q:
    return Q(pk__in=Pour.objects.on_canvas(word).values("pk"))


class SessionFilter(ListFilterSet):
    """Sessions; those of a technique are those with a pour by it."""

    search = SearchFilter(_fits)
    technique = django_filters.ModelChoiceFilter(
        "pours__technique",
        label=gettext_lazy("Technique"),
        queryset=Technique.objects.all(),
        method="poured_by",
    )
    year = YearFilter("held_on")
    first = first_day("held_on")
    last = last_day("held_on")
    sort = SortFilter({"day": ("held_on", "pk"), "title": ("title", "pk")}, default="-day")

    class Meta:
        model = Session
        fields: list[str] = []

    def poured_by(self, queryset: QuerySet[Session], name: str, technique: Technique) -> QuerySet[Session]:
        return queryset.filter(pk__in=Pour.objects.filter(technique=technique).values("session"))


class GroupedPourFilter(ListFilterSet):
    """Pours that are shown in groups, by technique, surface and the day of their session."""

    technique = django_filters.ModelChoiceFilter(
        label=gettext_lazy("Technique"), queryset=Technique.objects.all()
    )
    surface = django_filters.ModelChoiceFilter(
        label=gettext_lazy("Surface"), queryset=Material.objects.filter(kind=Kind.SURFACE)
    )
    first = first_day("session__held_on")
    last = last_day("session__held_on")

    class Meta:
        model = Pour
        fields: list[str] = []


class PourFilter(ListFilterSet):
    """Pours, by the day of their session, or by the number on the back."""

    search = SearchFilter(_is_on_canvas)
    first = first_day("session__held_on")
    last = last_day("session__held_on")

    class Meta:
        model = Pour
        fields = ["session", "technique", "surface", "outcome"]
