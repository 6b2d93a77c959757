"""The people who sign in: who they are, what each may do, and how they get in."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.accounts import security_log as security
from studio.accounts.actions import add_person, change_person, open_login_lock, reset_password, set_active
from studio.accounts.forms import EditPerson, NewPerson, PasswordReset
from studio.accounts.models import User
from studio.accounts.queries import locked_until, people
from studio.accounts.roles import current_user, owner_required
from studio.accounts.tables import PeopleTable
from studio.accounts.two_factor import has_codes, switch_off
from studio.auditing.queries import last_change_number
from studio.errors import MeniscusError
from studio.pages.saving import form_status, saved
from studio.pages.submissions import submission_from
from studio.preferences.context import current_studio
from studio.translation import _

SECTION = "settings"


@require_safe
@owner_required
def people_list(request: HttpRequest) -> HttpResponse:
    table = PeopleTable(people(at=timezone.now()), request)
    return render(request, "people/list.html", {"table": table, "section": SECTION})


@require_http_methods(["GET", "HEAD", "POST"])
@sensitive_post_parameters("password", "again")
@owner_required
def person_new(request: HttpRequest) -> HttpResponse:
    form = NewPerson(request.POST or None, studio=current_studio(request))
    person = saved(
        form,
        lambda: add_person(
            facts=form.facts(), password=form.cleaned_data["password"], submission=submission_from(request)
        ),
    )
    if person is not None:
        messages.success(request, _("{name} can now log in.", name=person.get_username()))
        return redirect("people")
    return _form_page(request, form, _("Add a person"), reverse("people"), _("People"))


@require_http_methods(["GET", "HEAD", "POST"])
@owner_required
def person_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """A person's facts to change, and every other thing that can be done for them."""
    seen = last_change_number(User, pk)
    person = get_object_or_404(User, pk=pk)
    name = person.get_username()  # as stored: a refused one stays on the row
    form = EditPerson(request.POST or None, studio=current_studio(request), person=person, seen=seen)
    changed = saved(
        form,
        lambda: change_person(
            person=person,
            facts=form.facts(),
            submission=submission_from(request),
            seen=form.cleaned_data["seen"],
        ),
    )
    if changed is not None:
        messages.success(request, _("“{name}” has been saved.", name=changed.get_username()))
        return redirect("people")
    context = {
        "form": form,
        "person": person,
        "is_self": person.pk == current_user(request).pk,
        "has_two_factor": has_codes(person),
        "locked_until": locked_until([name], at=timezone.now()).get(name),
        "title": name,
        "back_url": reverse("people"),
        "back_label": _("People"),
        "section": SECTION,
    }
    return render(request, "people/person.html", context, status=form_status(form))


@require_http_methods(["GET", "HEAD", "POST"])
@sensitive_post_parameters("password", "again")
@owner_required
def person_password(request: HttpRequest, pk: int) -> HttpResponse:
    """Another password for somebody who has lost theirs; one's own has its own page."""
    if pk == current_user(request).pk:
        return redirect("password_change")
    seen = last_change_number(User, pk, fields=["password"])
    person = get_object_or_404(User, pk=pk)
    form = PasswordReset(request.POST or None, studio=current_studio(request), initial={"seen": seen})
    changed = saved(
        form,
        lambda: reset_password(
            person=person,
            password=form.cleaned_data["password"],
            submission=submission_from(request),
            seen=form.cleaned_data["seen"],
        ),
    )
    name = person.get_username()
    if changed is not None:
        messages.success(
            request, _("{name} has a new password and has been logged out everywhere.", name=name)
        )
        return redirect("person", pk=pk)
    lead = _("It logs them out everywhere. Hand it over in person, and ask them to change it straight away.")
    title, back = _("New password for {name}", name=name), reverse("person", args=[pk])
    return _form_page(request, form, title, back, name, lead=lead)


def _form_page(
    request: HttpRequest, form: Any, title: str, back_url: str, back_label: str, *, lead: str = ""
) -> HttpResponse:
    context = {
        "form": form,
        "title": title,
        "lead": lead,
        "back_url": back_url,
        "back_label": back_label,
        "section": SECTION,
    }
    return render(request, "form_page.html", context, status=form_status(form))


@require_POST
@owner_required
def person_activity(request: HttpRequest, pk: int) -> HttpResponse:
    """Deactivate a person, or let them sign in again: which of them, the button says."""
    is_active = request.POST.get("active") == "yes"
    person = get_object_or_404(User, pk=pk)

    def change() -> str:
        set_active(person=person, is_active=is_active, submission=submission_from(request))
        if is_active:
            return _("{name} can log in again.", name=person.get_username())
        return _("{name} can no longer log in.", name=person.get_username())

    return _done(request, pk, change)


@require_POST
@owner_required
def person_two_factor_off(request: HttpRequest, pk: int) -> HttpResponse:
    """For somebody who has lost the phone and the recovery codes; one's own is switched off with a code."""
    if pk == current_user(request).pk:
        return redirect("two-factor")
    person = get_object_or_404(User, pk=pk)

    def change() -> str:
        if switch_off(user=person):
            security.event("codes_dropped", request, account=person.get_username())
        return _("Two-factor sign-in is off for {name}.", name=person.get_username())

    return _done(request, pk, change)


@require_POST
@owner_required
def person_unlock(request: HttpRequest, pk: int) -> HttpResponse:
    person = get_object_or_404(User, pk=pk)

    def change() -> str:
        if open_login_lock(person=person):
            security.event("unlocked", request, account=person.get_username())
        return _("{name} can try again now.", name=person.get_username())

    return _done(request, pk, change)


def _done(request: HttpRequest, pk: int, change: Callable[[], str]) -> HttpResponse:
    """Do it, say so on the person's page, or say why not."""
    try:
        messages.success(request, change())
    except MeniscusError as problem:
        messages.error(request, str(problem))
    return redirect("person", pk=pk)
