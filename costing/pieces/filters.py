"""Filters of the gallery of pieces."""

from functools import cached_property
from typing import Any

import django_filters
from django import forms
from django.db.models import Q, QuerySet, Sum
from django.utils.translation import gettext_lazy
from drf_spectacular.utils import extend_schema_field

from costing.locations.models import Location
from costing.locations.queries import LENT, STUDIO, pieces_at, pieces_in_the_studio, pieces_lent
from costing.pieces.calculations import ENDS
from costing.pieces.models import Piece, PiecePour, PieceState
from costing.pieces.queries import on_canvas
from inventory.ledger.labels import read_canvas_label
from inventory.sessions.models import Session, Technique
from studio.pages.filters import (
    ListFilterSet,
    SearchFilter,
    SortFilter,
    StateFilter,
    YearFilter,
    first_day,
    last_day,
)
from studio.search.matching import contains

HERE, ALL = "here", "all"


def _fits(word: str) -> Q:
    """A word of the title, the description, the surface, the session, or the number on a back."""
    columns = ("pour__surface__name", "pour__session__title", "pour__technique__name")
    parts = PiecePour.objects.filter(contains(word, *columns))
    return (
        contains(word, "title", "description", "series")
        | Q(pk__in=parts.values("piece"))
        | Q(pk__in=on_canvas(word).values("pk"))
    )


@extend_schema_field({"type": "string", "description": "studio, lent, or the number of a location."})
class PlaceFilter(django_filters.ChoiceFilter):
    """Where pieces are now: the studio, a location by its number, or lent."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(choices=self._places, **kwargs)

    @staticmethod
    def _places() -> list[tuple[Any, Any]]:
        locations = [(str(row.pk), row.name) for row in Location.objects.all()]
        return [(STUDIO, gettext_lazy("Studio")), *locations, (LENT, gettext_lazy("Lent"))]

    def filter(self, qs: QuerySet[Piece], value: str | None) -> QuerySet[Piece]:
        if not value:
            return qs
        if value == STUDIO:
            there = pieces_in_the_studio()
        elif value == LENT:
            there = pieces_lent()
        else:
            there = pieces_at(Location.objects.get(pk=value))
        return qs.filter(pk__in=there.values("pk"))


class PieceFilter(ListFilterSet):
    """Pieces, each with its `area`; those that have not left unless asked otherwise.

    Whoever searches for a number on a back wants that piece, even if it has left, unless a status is chosen as well.
    """

    search = SearchFilter(_fits)
    state = StateFilter(
        {
            HERE: (gettext_lazy("Unsold"), ~Q(state__in=ENDS)),
            ALL: (gettext_lazy("All"), Q()),
            **{state.value: (state.label, Q(state=state.value)) for state in PieceState},
        },
        label=gettext_lazy("Status"),
    )
    place = PlaceFilter(label=gettext_lazy("Location"))
    technique = django_filters.ModelChoiceFilter(
        "parts__pour__technique",
        label=gettext_lazy("Technique"),
        queryset=Technique.objects.all(),
        method="poured_by",
    )
    series = django_filters.ChoiceFilter(
        label=gettext_lazy("Series"),
        choices=lambda: [
            (name, name)
            for name in Piece.objects.exclude(series="")
            .order_by("series")
            .values_list("series", flat=True)
            .distinct()
        ],
    )
    session = django_filters.ModelChoiceFilter(
        "parts__pour__session",
        label=gettext_lazy("Session"),
        queryset=Session.objects.all(),
        method="poured_in",
        widget=forms.HiddenInput,
    )
    year = YearFilter("made_on")
    first = first_day("made_on")
    last = last_day("made_on")
    sort = SortFilter(
        {
            "made": ("made_on", "pk"),
            "title": ("title", "pk"),
            "size": ("area", "pk"),
            "state": ("state", "title", "pk"),
            "price": ("price", "pk"),
        },
        default="-made",
        money=("price",),
        nullable=("price",),
        labels={
            "-made": gettext_lazy("Newest first"),
            "made": gettext_lazy("Oldest first"),
            "title": gettext_lazy("Title, A to Z"),
            "-title": gettext_lazy("Title, Z to A"),
            "-size": gettext_lazy("Largest first"),
            "size": gettext_lazy("Smallest first"),
            "state": gettext_lazy("Status, earliest first"),
            "-state": gettext_lazy("Status, latest first"),
            "-price": gettext_lazy("Most expensive first"),
            "price": gettext_lazy("Cheapest first"),
        },
    )

    class Meta:
        model = Piece
        fields: list[str] = []

    @cached_property
    def has_number(self) -> bool:
        """Whether a number on a back is searched for, and no status but the first one chosen."""
        words = (self.value("search") or "").split()
        return self.value("state") in (None, "", HERE) and any(map(read_canvas_label, words))

    def filter_queryset(self, queryset: QuerySet[Piece]) -> QuerySet[Piece]:
        if self.has_number:
            self.form.cleaned_data["state"] = ALL
        return super().filter_queryset(queryset.annotate(area=Sum("parts__pour__area")))

    def poured_by(self, queryset: QuerySet[Piece], name: str, technique: Technique) -> QuerySet[Piece]:
        return queryset.filter(pk__in=PiecePour.objects.filter(pour__technique=technique).values("piece"))

    def poured_in(self, queryset: QuerySet[Piece], name: str, session: Session) -> QuerySet[Piece]:
        return queryset.filter(pk__in=PiecePour.objects.filter(pour__session=session).values("piece"))
