"""How costs follow use, chosen once before the first posting; and closing a finished period. Both are the owner's."""

from datetime import date

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from inventory.ledger.closing import choose_costing_method, close_through, refuse_closing
from inventory.ledger.forms import ClosingForm, CostingMethodForm
from inventory.ledger.models import Books, Posting
from studio.accounts.roles import owner_required
from studio.auditing.queries import last_change_number
from studio.errors import MeniscusError
from studio.pages.saving import form_page, saved, submission_from
from studio.preferences.context import current_studio
from studio.translation import _


@require_http_methods(["GET", "HEAD", "POST"])
@owner_required
def costing_method(request: HttpRequest) -> HttpResponse:
    seen = last_change_number(Books, 1, fields=["costing_method"])
    books = Books.objects.get()
    initial = {"seen": seen, "costing_method": books.costing_method}
    form = CostingMethodForm(request.POST or None, studio=current_studio(request), initial=initial)
    changed = saved(
        form, lambda: choose_costing_method(submission=submission_from(request), **form.cleaned_data)
    )
    if changed is not None:
        messages.success(request, _("The costing method has been saved."))
        return redirect("settings")
    return form_page(
        request,
        form,
        "ledger/costing_method.html",
        title=_("Costing method"),
        lead=_(
            "How the cost of what you use is calculated. It cannot be changed once anything has been recorded."
        ),
        books=books,
        is_fixed=books.last_number > 0,
        **_settings(),
    )


@require_http_methods(["GET", "HEAD", "POST"])
@owner_required
def closing(request: HttpRequest) -> HttpResponse:
    """Close the books through a day: asked for, looked over, and only then done."""
    seen = last_change_number(Books, 1, fields=["closed_through"])
    books = Books.objects.get()
    form = ClosingForm(request.POST or None, studio=current_studio(request), initial={"seen": seen})
    if form.is_bound and form.is_valid():
        day = form.cleaned_data["day"]
        try:
            if "confirm" not in request.POST:
                refuse_closing(books, day=day, today=timezone.localdate())
                return _review(request, form, day)
            close_through(submission=submission_from(request), **form.cleaned_data)
        except MeniscusError as problem:
            form.refuse(problem)
        else:
            messages.success(request, _("The period up to {day} is closed.", day=form.formatter.day(day)))
            return redirect("inventory:closing")
    lead = _("When a year or month is finished, close it so that its figures stay as you submitted them.")
    return form_page(
        request,
        form,
        "ledger/closing.html",
        title=_("Close a period"),
        lead=lead,
        books=books,
        send=_("Continue"),
        **_settings(),
    )


def _review(request: HttpRequest, form: ClosingForm, day: date) -> HttpResponse:
    """What closing would mean, before it is done."""
    context = {
        "title": _("Close the period up to {last_day}?", last_day=form.formatter.day(day)),
        "form": form,
        "postings": Posting.objects.filter(effective_on__lte=day).count(),
        "back_url": reverse("inventory:closing"),
        "back_label": _("Close a period"),
        "section": "settings",
    }
    return render(request, "ledger/closing_confirm.html", context)


def _settings() -> dict[str, str]:
    return {"back_url": reverse("settings"), "back_label": _("Settings"), "section": "settings"}
