"""Which language a page speaks: the reader's own choice, else the studio's; programs say theirs in a header."""

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec, TypeVar

from django.conf import settings
from django.contrib import messages
from django.db import DatabaseError
from django.forms import ChoiceField
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import translation
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from studio.accounts.actions import choose_language
from studio.accounts.models import User
from studio.accounts.roles import EVERYONE, current_user, role_required
from studio.auditing.queries import last_change_number
from studio.pages.forms import EditForm
from studio.pages.saving import form_page, saved, submission_from
from studio.preferences.context import current_studio, own_languages
from studio.translation import _

Rest = ParamSpec("Rest")
Answer = TypeVar("Answer", bound=HttpResponseBase)

# Answered without looking anything up: they say nothing to people, and must work without a database.
SILENT = ("/static/", "/health/")


def language_middleware(
    get_response: Callable[[HttpRequest], HttpResponseBase],
) -> Callable[[HttpRequest], HttpResponseBase]:
    """Every answer is written in one language, and says which."""

    def middleware(request: HttpRequest) -> HttpResponseBase:
        if request.path.startswith(SILENT):
            return get_response(request)
        with translation.override(language_for(request)):
            answer = get_response(request)
            answer.headers.setdefault(
                "Content-Language", translation.get_language() or settings.LANGUAGE_CODE
            )
        return answer

    return middleware


def language_for(request: HttpRequest) -> str:
    """The language that this request is answered in."""
    if request.path.startswith("/api/"):
        return translation.get_language_from_request(request)
    try:
        chosen = request.user.language if isinstance(request.user, User) else ""
        return chosen or current_studio(request).language
    except DatabaseError:  # the page that is asked for will say so; this says it in some language
        return settings.LANGUAGE_CODE


def for_customers(view: Callable[Concatenate[HttpRequest, Rest], Answer]) -> Callable[..., Answer]:
    """A paper that customers read speaks the studio's language, whoever prints it."""

    @wraps(view)
    def answer(request: HttpRequest, *args: Rest.args, **kwargs: Rest.kwargs) -> Answer:
        with translation.override(current_studio(request).language):
            return view(request, *args, **kwargs)

    return answer


class LanguageForm(EditForm):
    """One person's own language."""

    language = ChoiceField(
        label=gettext_lazy("Language of your pages"),
        required=False,
        choices=own_languages,
        help_text=gettext_lazy("Documents for customers stay in the studio's language."),
    )


@require_http_methods(["GET", "HEAD", "POST"])
@role_required(*EVERYONE)
def language(request: HttpRequest) -> HttpResponse:
    """Choose the language of one's own pages."""
    seen = last_change_number(User, current_user(request).pk)
    person = User.objects.get(pk=current_user(request).pk)  # nothing older than what was seen
    first = {"language": person.language, "seen": seen}
    form = LanguageForm(request.POST or None, studio=current_studio(request), initial=first)
    chosen = saved(
        form, lambda: choose_language(person=person, submission=submission_from(request), **form.cleaned_data)
    )
    if chosen is not None:
        with translation.override(person.language or current_studio(request).language):
            # Translators: name the language that you translate into.
            messages.success(request, _("Your pages are in English now."))
        return redirect("home")
    return form_page(request, form, title=_("Language"), back_url=reverse("home"), back_label=_("Today"))
