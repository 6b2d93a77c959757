"""No update is lost on a settings page: what is saved, deleted or set there must have seen the last change to it."""

import re
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, cast

from django.contrib import admin, messages
from django.db import transaction
from django.db.models import Model
from django.forms import BaseInlineFormSet
from django.forms.formsets import DELETION_FIELD_NAME, INITIAL_FORM_COUNT, TOTAL_FORM_COUNT
from django.forms.models import _get_foreign_key
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.datastructures import MultiValueDict

from studio.errors import MeniscusError
from studio.figures.numerals import small_whole
from studio.meanwhile import (
    AGAIN,
    ChangedMeanwhile,
    Edited,
    changed_meanwhile,
    hold,
    last_change_of,
    said_seen,
)

if TYPE_CHECKING:
    AnyAdmin = admin.ModelAdmin[Any]
    AnyRows = BaseInlineFormSet[Any, Any, Any]
else:
    AnyAdmin, AnyRows = admin.ModelAdmin, BaseInlineFormSet

PAGES = {"auth_user_password_change": "password"}


class NothingLost(AnyAdmin):
    """Pages that change or delete a row carry the last change to it, and to its rows of other tables, as `seen`.

    Their templates write `request.seen` into the form. A save holds the row until its transaction ends.
    """

    def hold(self, row: Any) -> None:
        """Lock a row for the transaction."""
        hold(row)

    def get_object(self, request: HttpRequest, object_id: str, from_field: str | None = None) -> Any:
        """The row, read after its last change; a form that has not seen that one is refused."""
        row = super().get_object(request, object_id, from_field)
        page = _page(request)
        if row is None or page not in ("change", "delete", "password"):
            return row
        if page == "delete" and not self.has_delete_permission(request, row):
            return row
        if request.method == "POST":
            self.hold(row)
        edited = self._edited(request, row)
        request.seen = last_change_of(edited)  # type: ignore[attr-defined]
        if request.method == "POST":
            fields = ["password"] if page == "password" else []
            said = said_seen(request.POST.get("seen", ""))
            problem = changed_meanwhile(row, edited, seen=said, fields=fields)
            if problem is not None and page != "change":
                raise problem
            request.meanwhile = problem  # type: ignore[attr-defined]
        return super().get_object(request, object_id, from_field)

    def get_form(self, request: HttpRequest, obj: Any = None, change: bool = False, **kwargs: Any) -> Any:
        """The form; it tells what was changed meanwhile, and is not valid then. The class is made for this request."""
        form: Any = super().get_form(request, obj, change=change, **kwargs)
        problem: ChangedMeanwhile | None = getattr(request, "meanwhile", None)
        if problem is not None:
            form.clean = _refusing(form.clean, problem)
        return form

    def delete_view(self, request: HttpRequest, object_id: str, extra_context: Any = None) -> HttpResponse:
        return self.refusing(
            request, lambda: super(NothingLost, self).delete_view(request, object_id, extra_context)
        )

    def refusing(self, request: HttpRequest, view: Callable[[], HttpResponse]) -> HttpResponse:
        """A page in one transaction; what is refused becomes a message on the page shown afresh."""
        try:
            with transaction.atomic():
                return view()
        except MeniscusError as problem:
            self.message_user(request, str(problem), messages.ERROR)
            return redirect(request.get_full_path())

    def _edited(self, request: HttpRequest, row: Any) -> Edited:
        belonging = tuple(
            (inline.model, _rows_of(inline, row, request))
            for inline in self.get_inline_instances(request, row)
        )
        return Edited(self.model, row.pk, belonging)


class EditedRows(AnyRows):
    """Rows of another table that can be shown again as they were typed though somebody has deleted one meanwhile.

    Django pairs forms with rows by their place. A form whose row is gone comes last here, as a new row.
    """

    def __init__(self, data: Any = None, *args: Any, **kwargs: Any) -> None:
        super().__init__(data, *args, **kwargs)
        if self.is_bound:
            self._standing = {str(row.pk): row for row in super().get_queryset()}
            self.data = self._with_gone_rows_last(cast("MultiValueDict[str, Any]", self.data))

    def get_queryset(self) -> Any:
        """The rows that were sent, in the order of their forms."""
        if not self.is_bound:
            return super().get_queryset()
        sent = [str(self.data.get(self._key(number))) for number in range(self._count(INITIAL_FORM_COUNT))]
        return [self._standing[row] for row in sent if row in self._standing]

    def _with_gone_rows_last(self, data: MultiValueDict[str, Any]) -> MultiValueDict[str, Any]:
        was_row, total = range(self._count(INITIAL_FORM_COUNT)), self._count(TOTAL_FORM_COUNT)
        here = [number for number in was_row if str(data.get(self._key(number))) in self._standing]
        if len(here) == len(was_row):
            return data
        gone = [number for number in was_row if number not in here and not self._is_dropped(number)]
        order = [*here, *range(len(was_row), total), *gone]
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
        return min(small_whole(str(self.data.get(f"{self.prefix}-{name}", ""))) or 0, self.absolute_max)


def _page(request: HttpRequest) -> str:
    """Which kind of settings page is asked for: change, delete, password, history, and so on."""
    name = (request.resolver_match.url_name if request.resolver_match else "") or ""
    return PAGES.get(name, name.rpartition("_")[2])


def _rows_of(inline: Any, row: Model, request: HttpRequest) -> frozenset[str]:
    """The numbers of the rows of an inline: those that stand, and those that the form was sent with."""
    link = _get_foreign_key(type(row), inline.model, fk_name=inline.fk_name)
    standing = inline.model._base_manager.filter(**{link.name: row.pk}).values_list("pk", flat=True)
    start = link.remote_field.get_accessor_name(model=inline.model)
    sent = re.compile(rf"{re.escape(start)}-\d+-{inline.model._meta.pk.name}")
    said = (request.POST[key] for key in request.POST if sent.fullmatch(key))
    return frozenset(map(str, standing)) | {number for number in said if small_whole(number)}


def _refusing(clean: Callable[[Any], Any], problem: ChangedMeanwhile) -> Callable[[Any], Any]:
    def refused(form: Any) -> Any:
        cleaned = clean(form)
        form.add_error(None, [*problem.told, str(AGAIN)])
        return cleaned

    return refused
