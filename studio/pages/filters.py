"""Filters of lists, shared by pages and the API: a page leaves out what it cannot read, the API refuses it."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Literal

import django_filters
from django import forms
from django.core.exceptions import ValidationError
from django.db.models import F, Model, OrderBy, Q, QuerySet
from django.utils.dateformat import format as date_format
from django.utils.translation import gettext_lazy
from drf_spectacular.utils import extend_schema_field

from studio.accounts.models import User
from studio.pages.forms import DayInput

LONGEST_SEARCH = 100
FIELDS_IN_SIGHT = 3
SORT = "sort"
_FLAGS = {"true": True, "1": True, "on": True, "false": False, "0": False}


class ListFilterSet(django_filters.FilterSet):
    """The filters of one list. Give it the request: only who sees money may sort by it.

    Every filter is applied, with None where nothing readable was sent, so that a filter may have a default.
    """

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        user = getattr(self.request, "user", None)
        if self._sorting and not (isinstance(user, User) and user.sees_money):
            self._sorting.leave_out_money()

    def filter_queryset(self, queryset: QuerySet[Any]) -> QuerySet[Any]:
        for name, item in self.filters.items():
            queryset = item.filter(queryset, self.form.cleaned_data.get(name))
        return queryset

    def value(self, name: str) -> Any:
        """What was asked for under a name, read; None where nothing readable was sent."""
        return self.form.cleaned_data.get(name) if self.errors is not None else None

    def is_narrowed(self, *names: str) -> bool:
        """Whether one of these filters is in use, or any of them; sorting is none."""
        return any(
            value != getattr(self.filters[name], "default", None)
            for name in names or self.filters
            if name != SORT and (value := self.value(name))
        )

    @property
    def _sorting(self) -> "SortFilter | None":
        item = self.filters.get(SORT)
        return item if isinstance(item, SortFilter) else None

    @property
    def order(self) -> str:
        """The order in force."""
        return self.value(SORT) or self._sorting.default if self._sorting else ""

    @property
    def sort_names(self) -> set[str]:
        """What this reader may sort by."""
        choices = self._sorting.extra["choices"] if self._sorting else []
        return {name.removeprefix("-") for name, _label in choices}

    @property
    def sorts_by_headings(self) -> bool:
        """Whether the order has no words of its own, so that only the table's headings offer it."""
        return self._sorting is not None and not self._sorting.labels

    @property
    def fields(self) -> list[forms.BoundField]:
        """What a page's filter bar shows."""
        left_out = SORT if self.sorts_by_headings else ""
        return [field for field in self.form if not field.is_hidden and field.name != left_out]

    @property
    def is_folded_in_use(self) -> bool:
        """Whether one of the fields after the first few is in use or wrong."""
        return any(
            field.errors or self.value(field.name) not in (None, "", False)
            for field in self.fields[FIELDS_IN_SIGHT:]
        )


class SearchFilter(django_filters.CharFilter):
    """Rows that fit every word; `fits` says when a row fits one."""

    def __init__(self, fits: Callable[[str], Q], **kwargs: Any) -> None:
        field: dict[str, Any] = {"label": gettext_lazy("Find"), "max_length": LONGEST_SEARCH}
        super().__init__(widget=forms.TextInput(attrs={"type": "search"}), **field, **kwargs)
        self.fits = fits

    def filter(self, qs: QuerySet[Any], value: str | None) -> QuerySet[Any]:
        for word in (value or "").split():
            qs = qs.filter(self.fits(word))
        return qs


def search_of(filters: type[ListFilterSet]) -> Callable[[str], Q]:
    """When a row of this list fits a word."""
    item = filters.base_filters["search"]
    if not isinstance(item, SearchFilter):
        raise TypeError(f"{filters.__name__} has no search.")
    return item.fits


class FlagInput(forms.CheckboxInput):
    """A tick box that sends "true", and hands on whatever else was sent."""

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs, check_test=lambda value: _FLAGS.get(str(value).lower(), False))

    def format_value(self, value: Any) -> str:
        return "true"

    def value_from_datadict(self, data: Mapping[str, Any], files: Any, name: str) -> Any:
        return data.get(name)


class FlagField(forms.Field):
    """True, false, or None where nothing was sent; anything else is refused."""

    widget = FlagInput

    def to_python(self, value: Any) -> bool | None:
        if value in self.empty_values:
            return None
        if str(value).lower() not in _FLAGS:
            raise ValidationError(gettext_lazy("Enter true or false."), code="invalid")
        return _FLAGS[str(value).lower()]


class FlagFilter(django_filters.BooleanFilter):
    """Yes or no; both where it is not asked for."""

    field_class: type[forms.Field] = FlagField  # type: ignore[assignment]


class IncludeFilter(FlagFilter):
    """Rows that have this mark are left out unless they are asked for."""

    def filter(self, qs: QuerySet[Any], value: bool | None) -> QuerySet[Any]:
        return qs if value else qs.filter((str(self.field_name), False))


class DayFilter(django_filters.DateFilter):
    """A day, written 2026-03-31."""

    def __init__(self, field_name: str | None = None, lookup_expr: str | None = None, **kwargs: Any) -> None:
        super().__init__(field_name, lookup_expr, input_formats=["%Y-%m-%d"], widget=DayInput, **kwargs)


def first_day(field_name: str) -> DayFilter:
    """From this day on."""
    return DayFilter(field_name, "gte", label=gettext_lazy("From"))


def last_day(field_name: str) -> DayFilter:
    """Up to this day, which is included."""
    return DayFilter(field_name, "lte", label=gettext_lazy("To"))


class PeriodFilter(django_filters.Filter):
    """A period; a page offers those in which there are rows."""

    model: type[Model]  # set by the filter set
    field_name: str
    kind: Literal["year", "month"]
    address_format = words_format = ""

    @property
    def field(self) -> Any:
        field = super().field
        field.widget.choices = lambda: [("", gettext_lazy("Any")), *self.choices()]
        return field

    def choices(self) -> list[tuple[str, str]]:
        days = self.model._default_manager.dates(self.field_name, self.kind, order="DESC")
        return [(date_format(day, self.address_format), date_format(day, self.words_format)) for day in days]


@extend_schema_field({"type": "integer", "minimum": 1, "maximum": 9999})
class YearFilter(PeriodFilter):
    """A year, written 2026."""

    field_class = forms.IntegerField
    kind = "year"
    address_format = words_format = "Y"

    def __init__(self, field_name: str, **kwargs: Any) -> None:
        limits: dict[str, Any] = {"min_value": 1, "max_value": 9999}
        super().__init__(
            field_name, "year", label=gettext_lazy("Year"), widget=forms.Select, **limits, **kwargs
        )


@extend_schema_field({"type": "string", "example": "2026-03"})
class MonthFilter(PeriodFilter):
    """A month, written 2026-03."""

    field_class = forms.DateField
    kind = "month"
    address_format, words_format = "Y-m", "F Y"

    def __init__(self, field_name: str, **kwargs: Any) -> None:
        formats: dict[str, Any] = {"input_formats": ["%Y-%m"]}
        super().__init__(field_name, label=gettext_lazy("Month"), widget=forms.Select, **formats, **kwargs)

    def filter(self, qs: QuerySet[Any], value: Any) -> QuerySet[Any]:
        if value is None:
            return qs
        return qs.filter(**{f"{self.field_name}__year": value.year, f"{self.field_name}__month": value.month})


class StateFilter(django_filters.ChoiceFilter):
    """One of several choices, each with its rows; the first one where nothing was asked for."""

    def __init__(self, choices: Mapping[str, tuple[Any, Q]], **kwargs: Any) -> None:
        labels = [(name, label) for name, (label, _rows) in choices.items()]
        super().__init__(choices=labels, empty_label=None, **kwargs)
        self.rows = {name: rows for name, (_label, rows) in choices.items()}
        self.default = next(iter(choices))

    def filter(self, qs: QuerySet[Any], value: str | None) -> QuerySet[Any]:
        return qs.filter(self.rows[value or self.default])


class SortFilter(django_filters.ChoiceFilter):
    """The order: a name of `columns`, with a minus for the other way round.

    `labels` are the choices that a page offers, `money` the names that tell about money, `nullable` the columns whose
    rows without a figure come last either way; left to themselves, the databases differ.
    """

    def __init__(
        self,
        columns: Mapping[str, Sequence[str]],
        *,
        default: str,
        money: Sequence[str] = (),
        nullable: Sequence[str] = (),
        labels: Mapping[str, Any] | None = None,
    ) -> None:
        self.columns, self.default, self.money, self.nullable = columns, default, money, nullable
        self.labels = labels or {}
        names = [sign + name for name in columns for sign in ("", "-")]
        choices = [*(labels or {}).items(), *((name, name) for name in names if name not in (labels or {}))]
        super().__init__(label=gettext_lazy("Sort by"), choices=choices, empty_label=None)

    def leave_out_money(self) -> None:
        """Offer and take no order that would tell about money."""
        kept = [(name, label) for name, label in self.extra["choices"] if name.lstrip("-") not in self.money]
        self.extra["choices"] = kept
        vars(self).pop("_field", None)  # whoever described the filters before has had it made of all choices

    def filter(self, qs: QuerySet[Any], value: str | None) -> QuerySet[Any]:
        sort = value or self.default
        return qs.order_by(
            *(
                OrderBy(
                    F(column), descending=sort.startswith("-"), nulls_last=column in self.nullable or None
                )
                for column in self.columns[sort.removeprefix("-")]
            )
        )
