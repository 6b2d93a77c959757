"""The people who sign in: who they are, what each may do, and how they get in."""

from typing import Any

from axes.handlers.proxy import AxesProxyHandler
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.decorators import method_decorator
from django.utils.translation import gettext_lazy
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.accounts import security_log as security
from studio.accounts.actions import add_person, change_person, reset_password, set_active
from studio.accounts.forms import NewPerson, PasswordReset, PersonForm
from studio.accounts.models import User
from studio.accounts.queries import locked_until, people
from studio.accounts.roles import current_user, owner_required
from studio.accounts.tables import PeopleTable
from studio.accounts.two_factor import has_codes, switch_off
from studio.auditing.queries import last_change_number
from studio.pages.reference import EditView
from studio.pages.saving import acted, form_page, saved, submission_from
from studio.pages.tables import list_page
from studio.preferences.context import current_studio
from studio.setup import menu as settings_menu
from studio.translation import _

SECTION = "settings"


@require_safe
@owner_required
def people_list(request: HttpRequest) -> HttpResponse:
    table = PeopleTable(people(at=timezone.now()), request)
    return list_page(request, "people/list.html", table, settings_menu.way_back())


class PersonEdit(EditView):
    """A person's facts to change, and every other thing that can be done for them."""

    model, form_class, template_name = User, PersonForm, "people/person.html"
    list_name, section, can_delete = "people", SECTION, False
    list_label, add_title = gettext_lazy("People"), gettext_lazy("Add a person")
    action = staticmethod(change_person)
    context_object_name = "person"  # not "user": the frame asks that name who is signed in

    def title_of(self, row: Any) -> str:
        return str(row)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        person = self.object
        return super().get_context_data(
            person=person,
            is_self=person.pk == current_user(self.request).pk,
            has_two_factor=has_codes(person),
            locked_until=locked_until([str(person)], at=timezone.now()).get(str(person)),
            **kwargs,
        )


@method_decorator(sensitive_post_parameters("password", "again"), name="dispatch")
class PersonAdd(EditView):
    model, form_class = User, NewPerson
    list_name, section, can_delete = "people", SECTION, False
    list_label, add_title = gettext_lazy("People"), gettext_lazy("Add a person")

    def written(self, form: Any) -> User:
        password = form.cleaned_data["password"]
        return add_person(form.instance, password=password, submission=submission_from(self.request))

    def message(self, row: Any) -> str:
        return _("{name} can now log in.", name=row)


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
    return form_page(
        request,
        form,
        title=_("New password for {name}", name=name),
        lead=_(
            "It logs them out everywhere. Hand it over in person, and ask them to change it straight away."
        ),
        back_url=reverse("person", args=[pk]),
        back_label=name,
        section=SECTION,
    )


@require_POST
@owner_required
def person_activity(request: HttpRequest, pk: int) -> HttpResponse:
    """Deactivate a person, or let them sign in again: which of them, the button says."""
    is_active = request.POST.get("active") == "yes"
    person = get_object_or_404(User, pk=pk)
    name = person.get_username()
    done = _("{name} can log in again.", name=name)
    if not is_active:
        done = _("{name} can no longer log in.", name=name)
    submission = submission_from(request)
    acted(request, lambda: set_active(person=person, is_active=is_active, submission=submission), done)
    return redirect("person", pk=pk)


@require_POST
@owner_required
def person_two_factor_off(request: HttpRequest, pk: int) -> HttpResponse:
    """For somebody who has lost the phone and the recovery codes; one's own is switched off with a code."""
    if pk == current_user(request).pk:
        return redirect("two-factor")
    person = get_object_or_404(User, pk=pk)
    if switch_off(user=person):
        security.event("codes_dropped", request, account=person.get_username())
    messages.success(request, _("Two-factor sign-in is off for {name}.", name=person.get_username()))
    return redirect("person", pk=pk)


@require_POST
@owner_required
def person_unlock(request: HttpRequest, pk: int) -> HttpResponse:
    """Let somebody try again at once after too many wrong passwords."""
    name = get_object_or_404(User, pk=pk).get_username()
    if AxesProxyHandler.reset_attempts(username=name):
        security.event("unlocked", request, account=name)
    messages.success(request, _("{name} can try again now.", name=name))
    return redirect("person", pk=pk)
