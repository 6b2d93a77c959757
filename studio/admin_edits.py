"""No update is lost on a settings page: what is saved, deleted or set there must have seen the last change to it."""

import re
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from django.contrib import admin, messages
from django.db import transaction
from django.db.models import Model
from django.forms.models import _get_foreign_key
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from studio.auditing.edit_conflicts import EditConflict, lock_row, read_change_number, refuse_stale
from studio.auditing.queries import Related, last_change_number
from studio.errors import MeniscusError
from studio.values.numbers import read_small_whole

if TYPE_CHECKING:
    AnyAdmin = admin.ModelAdmin[Any]
else:
    AnyAdmin = admin.ModelAdmin

PAGES = {"auth_user_password_change": "password"}


class NothingLost(AnyAdmin):
    """Pages that change or delete a row carry the last change to it, and to its rows of other tables, as `seen`.

    Their templates write `request.seen` into the form. A save holds the row until its transaction ends.
    """

    def hold(self, row: Any) -> None:
        """Lock a row for the transaction."""
        lock_row(row)

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
        related = self._related(request, row)
        request.seen = last_change_number(self.model, row.pk, related=related)  # type: ignore[attr-defined]
        if request.method == "POST":
            fields = ["password"] if page == "password" else []
            sent = read_change_number(request.POST.get("seen", ""))
            try:
                refuse_stale(row, seen=sent, fields=fields, related=related)
            except EditConflict as problem:
                if page != "change":
                    raise
                request.conflict = problem  # type: ignore[attr-defined]
        return super().get_object(request, object_id, from_field)

    def get_form(self, request: HttpRequest, obj: Any = None, change: bool = False, **kwargs: Any) -> Any:
        """The form; it tells what was changed, and is not valid then. The class is made for this request."""
        form: Any = super().get_form(request, obj, change=change, **kwargs)
        conflict: EditConflict | None = getattr(request, "conflict", None)
        if conflict is not None:
            form.clean = _refusing(form.clean, conflict)
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

    def _related(self, request: HttpRequest, row: Any) -> Related:
        return [
            (inline.model, _rows_of(inline, row, request))
            for inline in self.get_inline_instances(request, row)
        ]


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
    return frozenset(map(str, standing)) | {number for number in said if read_small_whole(number)}


def _refusing(clean: Callable[[Any], Any], conflict: EditConflict) -> Callable[[Any], Any]:
    def refused(form: Any) -> Any:
        try:
            return clean(form)
        finally:  # whatever else is wrong with it
            form.add_error(None, conflict.sentences)

    return refused
