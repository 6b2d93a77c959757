"""Look through every kind for what was typed: one query a kind, which brings its first rows and how many there are."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Case, Count, Q, QuerySet, Value, When, Window

from studio.preferences.formatting import Formatter
from studio.search.kinds import Hit, SearchKind

LONGEST = 100
A_KIND = 5  # rows shown of each kind while all kinds are shown
A_PAGE = 50


@dataclass(frozen=True, slots=True)
class Found:
    """What was found of one kind; `exact` are the hits whose code the text is."""

    kind: SearchKind
    count: int
    hits: Sequence[Hit]
    exact: Sequence[Hit]

    @property
    def left_out(self) -> int:
        return self.count - len(self.hits)


def found_of(kind: SearchKind, text: str) -> QuerySet[Any]:
    """The rows that have every word, or the code that the text is, which come first."""
    words, code = text.split(), kind.has_code(text.strip())
    fits = Q(pk__isnull=False)
    for word in words:
        fits &= kind.fits(word)
    rows: QuerySet[Any] = kind.rows()
    if not words:
        return rows.none()
    is_code = Value(value=False) if code is None else Case(When(code, then=True), default=False)
    order = rows.query.order_by or rows.model._meta.ordering
    found = rows.filter(fits if code is None else fits | code)
    marked: QuerySet[Any] = found.annotate(has_that_code=is_code, how_many=Window(Count("pk")))
    return marked.order_by("-has_that_code", *order)


def search(text: str, kinds: Iterable[SearchKind], formatter: Formatter) -> list[Found]:
    """What was found, kind by kind; kinds without a hit are left out."""
    found = []
    for kind in kinds:
        rows = list(found_of(kind, text)[:A_KIND])
        if rows:
            hits = [kind.hit(row, formatter) for row in rows]
            exact = [hit for row, hit in zip(rows, hits, strict=True) if row.has_that_code]
            found.append(Found(kind, rows[0].how_many, hits, exact))
    return found


def opens(found: Sequence[Found]) -> Hit | None:
    """The one thing whose code was typed; None where there is none, or more than one."""
    for gives_way in (False, True):
        exact = [hit for group in found if group.kind.gives_way == gives_way for hit in group.exact]
        if exact:
            return exact[0] if len(exact) == 1 else None
    return None
