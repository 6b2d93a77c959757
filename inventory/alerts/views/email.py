"""One's own daily email: whether to get it, what to leave out, and what the next one would say."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from inventory.alerts import digests, kinds
from inventory.alerts.actions.outbox import choose_digest
from inventory.alerts.forms import DigestForm
from inventory.alerts.models import DigestChoice
from studio.accounts.models import User
from studio.accounts.roles import EVERYONE, current_user, role_required
from studio.auditing.queries import last_change_number
from studio.pages.saving import form_page, saved, submission_from
from studio.preferences.context import current_studio
from studio.translation import _


@require_http_methods(["GET", "HEAD", "POST"])
@role_required(*EVERYONE)
def alert_email(request: HttpRequest) -> HttpResponse:
    """Choose what one is told of by email."""
    studio, key = current_studio(request), current_user(request).pk
    seen = last_change_number(DigestChoice, key)
    person = User.objects.select_related("digest_choice").get(pk=key)  # nothing older than what was seen
    choice = digests.choice_of(person)
    hidden = kinds.hidden_from(sees_money=person.sees_money)
    first = {
        "wants_digest": digests.wants_digest(person),
        "muted": choice.muted_kinds if choice else [],
        "seen": seen,
    }
    form = DigestForm(request.POST or None, studio=studio, initial=first, left_out=hidden)
    if saved(
        form, lambda: choose_digest(person=person, submission=submission_from(request), **form.cleaned_data)
    ):
        messages.success(request, _("Saved. The next daily email follows it."))
        return redirect("inventory:alert-email")
    today = timezone.localdate()
    recipient = digests.recipient_of(person, studio)
    day = digests.next_letter_on(today, recipient, studio)
    return form_page(
        request,
        form,
        "alerts/email.html",
        title=_("Daily email"),
        address=person.email,
        wants_digest=digests.wants_digest(person),
        day=day,
        letter=digests.compose(recipient, on=day, studio=studio),
        back_url=reverse("inventory:alerts"),
        back_label=_("Alerts"),
        section="inventory:alerts",
    )
