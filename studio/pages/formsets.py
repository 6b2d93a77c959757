"""Rows of a form that come back as they were typed, with or without errors."""

from typing import TYPE_CHECKING, Any

from django import forms
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
            "At most {n} rows fit on one page. Post these, and the rest in another go.", n=self.max_num
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
    def kept(self) -> list[Any]:
        """The rows of a valid formset that say something and were not removed."""
        removed = self.deleted_forms if self.can_delete else []
        return [form for form in self.forms if form.has_changed() and form not in removed]


def typed_rows(data: QueryDict, prefix: str, *, at_most: int) -> list[dict[str, str]]:
    """What was typed into each row of a formset, by field name, before anything is judged."""
    total = data.get(f"{prefix}-TOTAL_FORMS", "")
    count = min(read_small_whole(total) or 0, at_most)
    rows: list[dict[str, str]] = [{} for _row in range(count)]
    for name in data:
        room, _dash, rest = name.partition("-")
        number, _dash, field = rest.partition("-")
        row = read_small_whole(number)
        if room == prefix and field and row is not None and row < count:
            rows[row][field] = str(data[name])
    return rows
