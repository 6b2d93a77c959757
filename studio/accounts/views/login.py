"""Logging in: the password first, then a code for those with two-factor sign-in; before that nobody is signed in."""

from datetime import timedelta
from typing import Any

from axes.handlers.proxy import AxesProxyHandler
from django import forms
from django.conf import settings
from django.contrib import messages
from django.contrib.auth import authenticate, load_backend, login
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.forms import AuthenticationForm, PasswordChangeForm
from django.contrib.auth.signals import user_login_failed
from django.contrib.auth.views import LoginView, PasswordChangeView
from django.core import signing
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse_lazy
from django.utils import timezone
from django.utils.crypto import constant_time_compare
from django.utils.decorators import method_decorator
from django.utils.translation import gettext_lazy
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from studio.accounts import security_log as security
from studio.accounts.first_owner import is_nobody_here
from studio.accounts.forms import CodeForm, OwnPasswordForm, RecoveryForm
from studio.accounts.login_limits import remember_device
from studio.accounts.models import User
from studio.accounts.roles import current_user
from studio.accounts.tokens import revoke_tokens_of
from studio.accounts.two_factor import WrongCode, has_codes, is_recovery, recovery_codes_left, verify_code
from studio.auditing.edit_conflicts import lock_row
from studio.translation import _, ngettext

AWAITS_CODE = "half_signed_in"
SALT = "studio.accounts.login"
CODE_WITHIN = timedelta(minutes=5)


class PasswordLogin(LoginView):
    """The login page. The password of somebody with codes opens the second page, and nothing else yet."""

    redirect_authenticated_user = True

    @method_decorator(login_not_required)
    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        """Where nobody can log in yet, every page leads through here to the first one."""
        if is_nobody_here():
            return redirect("first-owner")
        return super().dispatch(request, *args, **kwargs)

    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        user = form.get_user()
        if not isinstance(user, User) or not has_codes(user):
            answer = super().form_valid(form)
            remember_device(self.request, answer, current_user(self.request))
            return answer
        await_code(self.request, user, to=self.get_redirect_url())
        return redirect("login-code")


@login_not_required
@never_cache
@sensitive_post_parameters("code")
@require_http_methods(["GET", "HEAD", "POST"])
def code(request: HttpRequest) -> HttpResponse:
    """The second page of the login: a code from the phone, or a recovery code."""
    if request.user.is_authenticated:
        return redirect(settings.LOGIN_REDIRECT_URL)
    awaited = code_awaited(request)
    if awaited is None:
        messages.info(request, _("Enter your password first, then the code within five minutes."))
        return redirect("login")
    user, to = awaited
    with_recovery = "recovery" in request.GET
    form = (RecoveryForm if with_recovery else CodeForm)(request.POST or None)
    if form.is_valid() and (device := checked_code(request, user, form)) is not None:
        del request.session[AWAITS_CODE]
        user.otp_device = device  # type: ignore[attr-defined]  # the library then notes it in the session
        login(request, user)
        if is_recovery(device):
            messages.warning(
                request, _("That recovery code has already been used. Cross it out on your sheet.")
            )
        answer = redirect(to or settings.LOGIN_REDIRECT_URL)
        remember_device(request, answer, user)
        return answer
    context = {"form": form, "with_recovery": with_recovery}
    return render(request, "registration/code.html", context, status=422 if form.is_bound else 200)


def await_code(request: HttpRequest, user: User, *, to: str) -> None:
    """Remember, signed and for a few minutes, whose password was right. It gives no right to anything."""
    request.session.cycle_key()
    note = {"user": user.pk, "backend": user.backend, "hash": user.get_session_auth_hash(), "to": to}
    request.session[AWAITS_CODE] = signing.dumps(note, salt=SALT)


def code_awaited(request: HttpRequest) -> tuple[User, str] | None:
    """Whose code is awaited, and where they were going; None when nobody's, too late, or no longer to be let in."""
    try:
        note = signing.loads(request.session.get(AWAITS_CODE, ""), salt=SALT, max_age=CODE_WITHIN)
    except signing.BadSignature:
        return None
    if note["backend"] not in settings.AUTHENTICATION_BACKENDS:
        return None
    user = load_backend(note["backend"]).get_user(note["user"])  # none if switched off since
    if not isinstance(user, User) or not constant_time_compare(note["hash"], user.get_session_auth_hash()):
        return None
    user.backend = note["backend"]
    return user, note["to"]


def checked_code(request: HttpRequest, user: User, form: forms.Form) -> Any:
    """The device that knew the code in this form. None: the form says why, and guessing counts towards the lock."""
    account = {"username": user.get_username()}
    try:
        if not AxesProxyHandler.is_allowed(request, account):
            raise WrongCode(_("Too many wrong passwords or codes."), field="code")
        device = verify_code(user=user, typed=form.cleaned_data["code"])
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
    """Whether the password in this form is the person's own. A wrong one counts as on the login page."""
    owner = authenticate(request, username=user.get_username(), password=form.cleaned_data["password"])
    if owner is None or owner.pk != user.pk:
        form.add_error("password", _("This is not your password."))
        return False
    return True


class OwnPassword(PasswordChangeView):
    """Asks for the old password. The account is read under lock: of two at once, the second types an old one wrong."""

    form_class = OwnPasswordForm
    template_name = "form_page.html"
    extra_context = {
        "title": gettext_lazy("Change password"),
        "lead": gettext_lazy("Enter your old password once and the new one twice."),
        "back_url": reverse_lazy("home"),
        "back_label": gettext_lazy("Today"),
    }

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        person = current_user(request)
        with transaction.atomic():
            lock_row(person)
            person.refresh_from_db()
            return super().post(request, *args, **kwargs)

    def form_valid(self, form: PasswordChangeForm) -> HttpResponse:
        answer = super().form_valid(form)
        if ended := revoke_tokens_of(current_user(self.request), at=timezone.now()):
            messages.warning(
                self.request,
                ngettext(
                    "{n} token of yours ended with the old password. Make a new one for the program that used it.",
                    "{n} tokens of yours ended with the old password. Make new ones for the programs that used them.",
                    ended,
                    n=ended,
                ),
            )
        return answer
