"""Pages that save one form, and pages that ask before they delete a row."""

from collections.abc import Callable
from typing import TypeVar

from django.contrib import messages
from django.db.models import Model
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy

from studio.auditing.queries import last_change_number
from studio.errors import MeniscusError
from studio.pages.forms import EditForm, StudioForm
from studio.preferences.context import current_studio
from studio.translation import _

Result = TypeVar("Result")


class DeleteForm(EditForm):
    """Asks whether to delete a row; it carries only what the page has seen of it."""

    advice = gettext_lazy("Look at the changes, then delete it only if you still want to.")


def saved(form: StudioForm, action: Callable[[], Result]) -> Result | None:
    """What an action made of a valid form; None for a form that was not sent or is refused, with why upon it."""
    if not (form.is_bound and form.is_valid()):
        return None
    try:
        return action()
    except MeniscusError as problem:
        form.refuse(problem)
        return None


def form_status(form: StudioForm) -> int:
    """The status of a page that shows a form: 422 when it comes back refused."""
    return 422 if form.is_bound else 200


def delete_page(
    request: HttpRequest,
    row: Model,
    delete: Callable[[int], None],
    *,
    back: str,
    then: str,
    name: str = "",
    note: str | Promise = "",
) -> HttpResponse:
    """Ask whether to delete a row, and call `delete` with the last change that the page has seen.

    `back` is the address to return to without deleting, `then` the one to go on to; `name` stands for the row where
    it has none of its own.
    """
    seen = last_change_number(row._meta.model, row.pk)
    row.refresh_from_db()
    called = name or str(row)
    form = DeleteForm(request.POST or None, studio=current_studio(request), initial={"seen": seen})

    def act() -> bool:
        delete(form.cleaned_data["seen"])
        return True

    if saved(form, act):
        messages.success(request, _("“{name}” has been deleted.", name=called))
        return redirect(then)
    context = {
        "form": form, "back": back, "note": note, "title": _("Delete “{name}”?", name=called),
    }  # fmt: skip
    return render(request, "delete_page.html", context, status=form_status(form))
