"""Rows of another table within a settings page, as they come back when the page could not be saved."""

import re
from typing import TYPE_CHECKING, Any, cast

from django.db.models import Model
from django.forms import BaseInlineFormSet
from django.forms.formsets import DELETION_FIELD_NAME, INITIAL_FORM_COUNT, TOTAL_FORM_COUNT
from django.utils.datastructures import MultiValueDict

from studio.values.numbers import read_small_whole

if TYPE_CHECKING:
    AnyRows = BaseInlineFormSet[Any, Any, Any]
else:
    AnyRows = BaseInlineFormSet


class EditedRows(AnyRows):
    """Rows of another table that can be shown again though somebody has added or deleted one meanwhile.

    Django pairs forms with rows by their place. A form whose row is gone comes last here, as a new row; one whose row
    was added meanwhile comes with those that stand.
    """

    def __init__(self, data: Any = None, *args: Any, **kwargs: Any) -> None:
        super().__init__(data, *args, **kwargs)
        if self.is_bound:
            self._standing = {str(row.pk): row for row in super().get_queryset()}
            self.data = self._with_standing_rows_first(cast("MultiValueDict[str, Any]", self.data))

    def get_queryset(self) -> Any:
        """The rows that were sent, in the order of their forms."""
        if not self.is_bound:
            return super().get_queryset()
        sent = [str(self.data.get(self._key(number))) for number in range(self._count(INITIAL_FORM_COUNT))]
        return [self._standing[row] for row in sent if row in self._standing]

    def _with_standing_rows_first(self, data: MultiValueDict[str, Any]) -> MultiValueDict[str, Any]:
        was_row, total = range(self._count(INITIAL_FORM_COUNT)), range(self._count(TOTAL_FORM_COUNT))
        here = [number for number in total if str(data.get(self._key(number))) in self._standing]
        if here == list(was_row):
            return data
        gone = [number for number in was_row if number not in here and not self._is_dropped(number)]
        order = [*here, *(number for number in total[len(was_row) :] if number not in here), *gone]
        moved = data.copy()
        for key in [key for key in data if re.match(rf"{re.escape(str(self.prefix))}-\d+-", key)]:
            del moved[key]
        for place, number in enumerate(order):
            start = f"{self.add_prefix(number)}-"
            for key, values in data.lists():
                if key.startswith(start):
                    moved.setlist(f"{self.add_prefix(place)}-{key.removeprefix(start)}", values)
            if number in gone:
                moved[self._key(place)] = ""
        moved[f"{self.prefix}-{INITIAL_FORM_COUNT}"] = str(len(here))
        moved[f"{self.prefix}-{TOTAL_FORM_COUNT}"] = str(len(order))
        return moved

    def _is_dropped(self, number: int) -> bool:
        return f"{self.add_prefix(number)}-{DELETION_FIELD_NAME}" in self.data

    def _key(self, number: int) -> str:
        return f"{self.add_prefix(number)}-{cast('type[Model]', self.model)._meta.pk.name}"

    def _count(self, name: str) -> int:
        return min(read_small_whole(str(self.data.get(f"{self.prefix}-{name}", ""))) or 0, self.absolute_max)
