"""Rows of a form that come back as they were typed, with or without errors."""

from collections.abc import Container, Mapping, Sequence
from typing import TYPE_CHECKING, Any, cast

from django import forms
from django.forms import formset_factory
from django.forms.formsets import INITIAL_FORM_COUNT, TOTAL_FORM_COUNT
from django.http import QueryDict

from studio.translation import _
from studio.values.numbers import read_small_whole

if TYPE_CHECKING:
    BaseRows = forms.BaseFormSet[Any]
else:
    BaseRows = forms.BaseFormSet


class Rows(BaseRows):
    """A formset whose rows are all new: prefilled ones are suggestions, and one left as it came counts for nothing."""

    def __init__(self, *args: Any, spare: int = 0, **kwargs: Any) -> None:
        too_many = _(
            "One page has room for at most {n} rows. Save these, then enter the rest.", n=self.max_num
        )
        super().__init__(*args, **{"error_messages": {"too_many_forms": too_many}, **kwargs})
        if not self.is_bound:
            self.extra = min(len(self.initial or []) + spare, self.max_num)

    @property
    def has_rows(self) -> bool:
        """Whether the pattern of a new row may leave its long lists of choices to the rows that are there."""
        return bool(self.forms)

    def initial_form_count(self) -> int:
        return 0

    @property
    def is_filled(self) -> bool:
        """Whether a row says something, as it came or as it was sent: no fold may hide what would be saved."""
        return any(form.has_changed() if form.is_bound else form.initial for form in self.forms)

    @property
    def kept(self) -> list[Any]:
        """The rows of a valid formset that say something and were not removed."""
        removed = self.deleted_forms if self.can_delete else []
        return [form for form in self.forms if form.has_changed() and form not in removed]


class PatternRows(Rows):
    """Rows that say nothing twice, so that a page of many stays light.

    What a field is for stands on the first row; the pattern of a new row leaves its long lists of choices to those that
    are there.
    """

    def get_form_kwargs(self, index: int | None) -> dict[str, Any]:
        return {**super().get_form_kwargs(index), "is_pattern": index is None and self.has_rows}

    def add_fields(self, form: forms.Form, index: int | None) -> None:
        super().add_fields(form, index)
        if self.has_rows if index is None else index > 0:
            for name in form.base_fields.keys() & form.fields.keys():
                form.fields[name].help_text = ""
        if index is None and self.has_rows:  # without its list of choices it would take less of the line
            for name in form.fields.keys() & self.forms[0].fields.keys():
                vars(form.fields[name])["span_of_rows"] = self.forms[0][name].span


def rows_of(
    form: type[forms.Form], *, at_most: int, formset: type[Rows] = Rows, can_delete: bool = True
) -> type[Rows]:
    """The formset of such rows, each with a tick box that removes it."""
    rows = formset_factory(
        form, formset, max_num=at_most, absolute_max=at_most, validate_max=True, can_delete=can_delete
    )
    return cast("type[Rows]", rows)


def as_sent(data: QueryDict, *, leave_out: Container[str] = ()) -> dict[str, str]:
    """What a browser sent, as a dict that forms may write into."""
    return {name: str(data[name]) for name in data if name not in leave_out}


def typed_rows(data: Mapping[str, Any], prefix: str, *, at_most: int) -> list[dict[str, str]]:
    """What was typed into each row of a formset, by field name, before anything is judged."""
    total = str(data.get(f"{prefix}-{TOTAL_FORM_COUNT}", ""))
    count = min(read_small_whole(total) or 0, at_most)
    rows: list[dict[str, str]] = [{} for _row in range(count)]
    for name in data:
        formset, _dash, rest = name.partition("-")
        number, _dash, field = rest.partition("-")
        row = read_small_whole(number)
        if formset == prefix and field and row is not None and row < count:
            rows[row][field] = str(data[name])
    return rows


def data_of_rows(
    prefix: str, rows: Sequence[Mapping[str, Any]], row_form: type[forms.Form]
) -> dict[str, str]:
    """Rows as a browser would send them; a field that a row leaves out stands as on a new row."""
    untouched = {
        name: field.initial for name, field in row_form.base_fields.items() if field.initial is not None
    }
    data = {f"{prefix}-{TOTAL_FORM_COUNT}": str(len(rows)), f"{prefix}-{INITIAL_FORM_COUNT}": "0"}
    for number, row in enumerate(rows):
        for name, value in {**untouched, **row}.items():
            data[f"{prefix}-{number}-{name}"] = "" if value is None else str(value)
    return data
