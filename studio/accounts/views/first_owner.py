"""The first page of an empty studio: its owner makes herself an account. Closed as soon as there is one."""

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import translation
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from studio.accounts import security_log as security
from studio.accounts.first_owner import NotEmpty, add_first_owner, is_nobody_here, is_possible, needs_code
from studio.accounts.forms import FirstOwnerForm
from studio.accounts.login_limits import remember_device
from studio.errors import MeniscusError
from studio.pages.saving import form_status
from studio.preferences.context import current_studio


@login_not_required
@never_cache
@sensitive_post_parameters("password", "again", "code")
@require_http_methods(["GET", "HEAD", "POST"])
def first_owner(request: HttpRequest) -> HttpResponse:
    """Make the first owner, who is then logged in and led on."""
    if request.user.is_authenticated or not is_nobody_here():
        return redirect("login")
    with translation.override(translation.get_language_from_request(request)):
        return _page(request)


def _page(request: HttpRequest) -> HttpResponse:
    if not is_possible(request):
        return render(request, "registration/first_owner.html", {"form": None})
    form = FirstOwnerForm(request.POST or None, studio=current_studio(request), with_code=needs_code(request))
    if form.is_valid():
        try:
            owner = add_first_owner(
                username=form.cleaned_data["username"],
                password=form.cleaned_data["password"],
                language=translation.get_language() or settings.LANGUAGE_CODE,
                code=form.cleaned_data.get("code"),
            )
        except NotEmpty as problem:
            messages.error(request, str(problem))
            return redirect("login")
        except MeniscusError as problem:
            form.refuse(problem)
        else:
            login(request, owner, backend=settings.AUTHENTICATION_BACKENDS[-1])
            security.event("first_owner", request, account=owner.get_username())
            answer = redirect(settings.FIRST_OWNER_REDIRECT_URL)
            remember_device(request, answer, owner)
            return answer
    return render(request, "registration/first_owner.html", {"form": form}, status=form_status(form))
