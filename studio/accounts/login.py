"""The door: the password first, then, for whoever has sign-in codes on, a code; before that nobody is signed in."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from functools import partial
from typing import Any

from axes.handlers.proxy import AxesProxyHandler
from django import forms
from django.conf import settings
from django.contrib import messages
from django.contrib.auth import authenticate, load_backend
from django.contrib.auth import login as sign_in
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.models import AnonymousUser
from django.contrib.auth.signals import user_login_failed
from django.contrib.auth.views import LoginView
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.crypto import constant_time_compare
from django.utils.functional import SimpleLazyObject
from django.utils.translation import gettext_lazy
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from studio.accounts import security_log as security
from studio.accounts.models import User
from studio.accounts.two_factor import WrongCode, has_codes, is_recovery, recovery_codes_left, take_code
from studio.translation import _

HELD = "half_signed_in"
SALT = "studio.accounts.login"
CODE_WITHIN = timedelta(minutes=5)


class CodeForm(forms.Form):
    """A code, typed after the password."""

    code = forms.CharField(
        label=gettext_lazy("Code"),
        max_length=60,
        help_text=gettext_lazy("The six-digit code now shown on your phone."),
        widget=forms.TextInput(
            attrs={"autocomplete": "one-time-code", "inputmode": "numeric", "autofocus": True}
        ),
    )


class RecoveryForm(forms.Form):
    """A recovery code in place of one from the phone."""

    code = forms.CharField(
        label=gettext_lazy("Recovery code"),
        max_length=60,
        help_text=gettext_lazy("Sixteen letters and digits from your sheet. Each code works once."),
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "autocapitalize": "none", "spellcheck": "false", "autofocus": True}
        ),
    )


@dataclass(frozen=True, slots=True)
class HalfSignedIn:
    """Somebody whose password was right and whose code is still to come, and where they were going."""

    user: User
    to: str


class Door(LoginView):
    """The login page. The password of somebody with codes opens the second page, and nothing else yet."""

    redirect_authenticated_user = True

    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        user = form.get_user()
        if not isinstance(user, User) or not has_codes(user):
            return super().form_valid(form)
        hold(self.request, user, to=self.get_redirect_url())
        return redirect("login-code")


@login_not_required
@never_cache
@sensitive_post_parameters("code")
@require_http_methods(["GET", "HEAD", "POST"])
def code(request: HttpRequest) -> HttpResponse:
    """The second page of the login: a code from the phone, or a recovery code."""
    if request.user.is_authenticated:
        return redirect(settings.LOGIN_REDIRECT_URL)
    half = held(request)
    if half is None:
        messages.info(request, _("Enter your password first, then the code within five minutes."))
        return redirect("login")
    with_recovery = "recovery" in request.GET
    form = (RecoveryForm if with_recovery else CodeForm)(request.POST or None)
    if request.method == "POST" and form.is_valid():
        device = checked_code(request, half.user, form)
        if device is not None:
            return _enter(request, half, device)
    status = 422 if form.is_bound else 200
    return render(
        request, "registration/code.html", {"form": form, "with_recovery": with_recovery}, status=status
    )


def hold(request: HttpRequest, user: User, *, to: str) -> None:
    """Remember, signed and for a few minutes, whose password was right. It gives no right to anything."""
    request.session.cycle_key()
    said = {"user": user.pk, "backend": user.backend, "hash": user.get_session_auth_hash(), "to": to}
    request.session[HELD] = signing.dumps(said, salt=SALT)


def held(request: HttpRequest) -> HalfSignedIn | None:
    """Whose code is awaited in this session; None when nobody's, too late, or no longer to be let in."""
    try:
        said = signing.loads(request.session.get(HELD, ""), salt=SALT, max_age=CODE_WITHIN)
    except signing.BadSignature:
        return None
    if said["backend"] not in settings.AUTHENTICATION_BACKENDS:
        return None
    user = load_backend(said["backend"]).get_user(said["user"])  # none if switched off meanwhile
    if not isinstance(user, User) or not constant_time_compare(said["hash"], user.get_session_auth_hash()):
        return None
    user.backend = said["backend"]
    return HalfSignedIn(user, said["to"])


def checked_code(request: HttpRequest, user: User, form: forms.Form) -> Any:
    """The device that knew the code in this form. None: the form says why, and guessing counts towards the lock."""
    account = {"username": user.get_username()}
    try:
        if not AxesProxyHandler.is_allowed(request, account):
            raise WrongCode(_("Too many wrong passwords or codes."), field="code")
        device = take_code(user=user, typed=form.cleaned_data["code"])
    except WrongCode as problem:
        form.add_error("code", str(problem))
        security.event("code_wrong", request, account=user.get_username())
        # As for a wrong password: django-axes counts it, and answers in our place once it was one too many.
        user_login_failed.send(sender=__name__, credentials=account, request=request)
        return None
    if is_recovery(device):
        left = recovery_codes_left(user)
        security.event("recovery_code_used", request, account=user.get_username(), left=left)
    return device


def checked_password(request: HttpRequest, user: User, form: forms.Form) -> bool:
    """Whether the password in this form is the person's own. A wrong one counts as at the door."""
    found = authenticate(request, username=user.get_username(), password=form.cleaned_data["password"])
    if found is None or found.pk != user.pk:
        form.add_error("password", _("This is not your password."))
        return False
    return True


def _enter(request: HttpRequest, half: HalfSignedIn, device: Any) -> HttpResponse:
    del request.session[HELD]
    half.user.otp_device = device  # type: ignore[attr-defined]  # the library then notes it in the session
    sign_in(request, half.user)
    if is_recovery(device):
        messages.warning(request, _("That recovery code has already been used. Cross it out on your sheet."))
    return redirect(half.to or settings.LOGIN_REDIRECT_URL)


class OnlyWithTheCode:
    """Whoever has codes on and came into this session without one is not signed in at all.

    So a session from before the codes were switched on ends at once, and no other way in goes round the code.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        request.user = SimpleLazyObject(partial(_who, request, request.user))  # type: ignore[assignment]
        return self.get_response(request)


def _who(request: HttpRequest, user: Any) -> Any:
    if not user.is_authenticated or user.is_verified() or not has_codes(user):
        return user
    request.session.flush()
    return AnonymousUser()
