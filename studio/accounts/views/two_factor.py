"""The page "Two-factor sign-in": one's own codes switched on, their recovery codes made anew, and switched off."""

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.debug import sensitive_post_parameters, sensitive_variables
from django.views.decorators.http import require_POST, require_safe
from django_otp import login as note_code_given

from studio.accounts import security_log as security
from studio.accounts import two_factor as codes
from studio.accounts.forms import ConfirmForm, PasswordAndCodeForm, PasswordForm
from studio.accounts.roles import EVERYONE, current_user, role_required
from studio.accounts.views.login import checked_code, checked_password
from studio.pages.qr import qr_code
from studio.translation import _


@require_safe
@role_required(*EVERYONE)
def own_codes(request: HttpRequest) -> HttpResponse:
    """Whether one's own codes are on, and the next step."""
    return _page(request)


@require_POST
@sensitive_post_parameters("password")
@role_required(*EVERYONE)
def begin(request: HttpRequest) -> HttpResponse:
    """Show a new secret to whoever knows the password."""
    user, form = current_user(request), PasswordForm(request.POST, auto_id="begin_%s")
    if not form.is_valid() or not checked_password(request, user, form):
        return _page(request, begin=form)
    try:
        codes.begin(user=user)
    except codes.CodesError as problem:
        messages.error(request, str(problem))
    return redirect("two-factor")


@require_POST
@sensitive_post_parameters("code")
@sensitive_variables("fresh")
@role_required(*EVERYONE)
def confirm(request: HttpRequest) -> HttpResponse:
    """Switch codes on with the phone's first code, and show the recovery codes this once."""
    user, form = current_user(request), ConfirmForm(request.POST, auto_id="confirm_%s")
    if codes.has_codes(user):  # the page with the recovery codes was loaded again
        return redirect("two-factor")
    if not form.is_valid():
        return _page(request, confirm=form)
    try:
        phone, fresh = codes.confirm(user=user, typed=form.cleaned_data["code"], at=timezone.now())
    except codes.WrongCode as problem:
        security.event("code_wrong", request)
        form.add_error("code", str(problem))
        return _page(request, confirm=form)
    except codes.CodesError as problem:
        messages.error(request, str(problem))
        return redirect("two-factor")
    request.session.cycle_key()
    note_code_given(request, phone)
    security.event("codes_on", request)
    return _recovery_codes(request, fresh, are_first=True)


@require_POST
@sensitive_post_parameters("password", "code")
@sensitive_variables("fresh")
@role_required(*EVERYONE)
def renew(request: HttpRequest) -> HttpResponse:
    """Make ten new recovery codes, and show them this once."""
    if refusal := _unless_sure(request, "renew"):
        return refusal
    fresh = codes.renew_recovery_codes(user=current_user(request))
    security.event("recovery_codes_made", request)
    return _recovery_codes(request, fresh, are_first=False)


@require_POST
@sensitive_post_parameters("password", "code")
@role_required(*EVERYONE)
def switch_off(request: HttpRequest) -> HttpResponse:
    """Switch codes off: from now on the password is enough."""
    if refusal := _unless_sure(request, "off"):
        return refusal
    codes.switch_off(user=current_user(request))
    security.event("codes_off", request)
    messages.success(request, _("Two-factor sign-in is off. From now on your password is enough."))
    return redirect("two-factor")


def _unless_sure(request: HttpRequest, name: str) -> HttpResponse | None:
    """The answer to whoever has no codes, or gives a wrong password or code in the form of this name."""
    user, form = current_user(request), PasswordAndCodeForm(request.POST, auto_id=f"{name}_%s")
    if not codes.has_codes(user):
        return redirect("two-factor")
    # The password first: a recovery code is not used up beside a wrong one.
    is_known = form.is_valid() and checked_password(request, user, form)
    return (
        None if is_known and checked_code(request, user, form) is not None else _page(request, **{name: form})
    )


def _page(request: HttpRequest, **refused: forms.Form) -> HttpResponse:
    user = current_user(request)
    phone = codes.phone_of(user)
    waiting = codes.waiting_phone(user, at=timezone.now()) if phone is None else None
    context: dict[str, Any] = {
        "title": _("Two-factor sign-in"),
        "lead": _("A code from your phone after your password: a stolen password alone is not enough."),
        "phone": phone,
        "waiting": waiting,
    }
    if phone is not None:
        context |= {
            "left": codes.recovery_codes_left(user),
            "of": codes.RECOVERY_CODES,
            "renew": PasswordAndCodeForm(auto_id="renew_%s"),
            "off": PasswordAndCodeForm(auto_id="off_%s"),
        }
    elif waiting is not None:
        context |= {
            "drawn": qr_code(waiting.config_url),
            "secret": codes.secret_of(waiting),
            "confirm": ConfirmForm(auto_id="confirm_%s"),
        }
    context.setdefault("begin", PasswordForm(auto_id="begin_%s"))
    context |= refused | {"refused": next(iter(refused.values()), None)}
    return render(request, "two_factor/page.html", context, status=422 if refused else 200)


def _recovery_codes(request: HttpRequest, fresh: list[str], *, are_first: bool) -> HttpResponse:
    context = {
        "title": _("Recovery codes"),
        "lead": _("For when your phone is lost or broken. Each code works once."),
        "fresh": fresh,
        "are_first": are_first,
        "made_at": timezone.now(),
    }
    return render(request, "two_factor/recovery.html", context)
