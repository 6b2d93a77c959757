"""Writers and readers of sign-in codes: six digits from a phone after the password (RFC 6238), kept by django-otp.

A person has codes on while one confirmed phone of theirs is known. Beside it stand recovery codes for the day when
the phone is lost: of those only digests are kept, so that neither the books nor a backup tells them.
"""

import hashlib
import re
import secrets
from base64 import b32encode
from datetime import datetime, timedelta
from typing import Any

from django.db import transaction
from django_otp import verify_token
from django_otp.plugins.otp_static.models import StaticDevice, StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from studio.accounts.models import User
from studio.auditing.chain import sealing
from studio.auditing.recording import record_change
from studio.auditing.writing import create_all, set_all
from studio.errors import InputError, MeniscusError
from studio.translation import _, ngettext

RECOVERY_CODES = 10
RECOVERY_BYTES = 10  # 80 bits: sixteen letters of base 32, which is as long as the library's column
GROUP = 4
# A secret that was shown and not confirmed expires after this, so that a page left open reveals none.
CONFIRM_WITHIN = timedelta(minutes=15)
_PHONE, _RECOVERY = "phone", "recovery codes"
_GAPS = re.compile(r"[\s\u00ad\u2010-\u2015-]+")
_LOOKALIKES = str.maketrans("01", "ol")  # base 32 has neither digit, so who types one misread the letter


class CodesError(MeniscusError):
    """Raised when sign-in codes cannot be switched on or off as asked."""


class WrongCode(InputError):
    """Raised when a code is not right, was used before, or comes too soon after a wrong one."""


def has_codes(user: User) -> bool:
    """Whether this person is asked for a code after the password."""
    return bool(phones_of(user).exists())


def phones_of(user: Any) -> Any:
    """The confirmed phones of a person, or of each person of a query: one at most."""
    return TOTPDevice.objects.filter(user=user, confirmed=True)


def phone_of(user: User) -> Any:
    """The phone that makes this person's codes, or None."""
    return phones_of(user).first()


def waiting_phone(user: User, *, at: datetime) -> Any:
    """The device whose setup was started and is not confirmed yet, or None."""
    shown_since = at - CONFIRM_WITHIN
    return TOTPDevice.objects.filter(user=user, confirmed=False, created_at__gt=shown_since).first()


def recovery_codes_left(user: User) -> int:
    """How many recovery codes this person has not used yet."""
    return int(StaticToken.objects.filter(device__user=user).count())


@transaction.atomic
@sealing()
def begin(*, user: User) -> Any:
    """Start setting up a phone with a new secret. It has no effect until `confirm`."""
    _lock(user)
    if has_codes(user):
        raise CodesError(_("Two-factor sign-in is already on. To use another phone, switch it off first."))
    TOTPDevice.objects.filter(user=user).delete()
    return TOTPDevice.objects.create(user=user, name=_PHONE, confirmed=False)


def confirm(*, user: User, typed: str, at: datetime) -> tuple[Any, list[str]]:
    """Switch codes on once the phone has shown a right one; return the phone, and recovery codes to be shown once."""
    phone = waiting_phone(user, at=at)
    if phone is None:
        raise CodesError(_("This took too long. Please start again; your phone gets a new secret."))
    code = _normalized(typed)
    # Outside our transaction: the library's count of wrong codes must stand though we refuse.
    if not (_is_from_a_phone(code, phone) and verify_token(user, phone.persistent_id, code)):
        raise _wrong(phone)
    with transaction.atomic(), sealing():
        _lock(user)
        # Another window may have confirmed or replaced the secret in the meantime.
        if has_codes(user) or not set_all(TOTPDevice.objects.filter(pk=phone.pk), confirmed=True):
            raise CodesError(_("This was changed in another window. Reload the page."))
        codes = _new_recovery_codes(user)
        record_change(user, field="two_factor", old=False, new=True)
    return phone, codes


def verify_code(*, user: User, typed: str) -> Any:
    """Verify a one-time code or a recovery code, which is then used; return its device. Raises WrongCode."""
    code, phone = _normalized(typed), phone_of(user)
    if phone is None or _is_from_a_phone(code, phone):
        device, token = phone, code
    else:
        device, token = StaticDevice.objects.filter(user=user).first(), _digest(code)
    if device is None or not verify_token(user, device.persistent_id, token):
        raise _wrong(device)
    return device


def is_recovery(device: Any) -> bool:
    """Whether the device holds recovery codes."""
    return isinstance(device, StaticDevice)


@transaction.atomic
@sealing()
def renew_recovery_codes(*, user: User) -> list[str]:
    """Ten new recovery codes; the earlier ones are revoked."""
    _lock(user)
    if not has_codes(user):
        raise CodesError(_("Two-factor sign-in is off."))
    record_change(user, field="recovery_codes", old=None, new=RECOVERY_CODES)
    return _new_recovery_codes(user)


@transaction.atomic
@sealing()
def switch_off(*, user: User) -> bool:
    """Delete the phone and the recovery codes; return whether there were any."""
    _lock(user)
    was_on = has_codes(user)
    for model in (TOTPDevice, StaticDevice):
        model.objects.filter(user=user).delete()
    if was_on:
        record_change(user, field="two_factor", old=True, new=False)
    return was_on


def grouped(secret: str) -> str:
    """A secret as people read it aloud and type it: in groups of four."""
    return " ".join(secret[start : start + GROUP] for start in range(0, len(secret), GROUP))


def secret_of(phone: Any) -> str:
    """A phone's secret as apps take it when it is typed: base 32, in groups of four."""
    return grouped(b32encode(phone.bin_key).decode().rstrip("="))


def _new_recovery_codes(user: User) -> list[str]:
    # The row stays: a session that was opened with a recovery code names it.
    device, _is_new = StaticDevice.objects.get_or_create(user=user, defaults={"name": _RECOVERY})
    device.token_set.all().delete()
    codes = [_base32(secrets.token_bytes(RECOVERY_BYTES)) for _number in range(RECOVERY_CODES)]
    create_all(StaticToken(device=device, token=_digest(code)) for code in codes)
    return [grouped(code) for code in codes]


def _digest(code: str) -> str:
    """SHA-256 without salt, cut to the library's column: a recovery code is 80 random bits, which nobody can guess."""
    return _base32(hashlib.sha256(code.translate(_LOOKALIKES).encode()).digest()[:RECOVERY_BYTES])


def _base32(data: bytes) -> str:
    return b32encode(data).decode().lower()


def _normalized(typed: str) -> str:
    return _GAPS.sub("", typed).casefold()


def _is_from_a_phone(code: str, phone: Any) -> bool:
    return code.isascii() and code.isdigit() and len(code) == phone.digits


def _wrong(device: Any) -> WrongCode:
    """What to do about a code that was refused, with how long the library makes one wait after so many wrong ones."""
    now: Any = type(device).objects.filter(pk=device.pk).first() if device is not None else None
    allowed, why = now.verify_is_allowed() if now is not None else (True, {})
    if allowed:
        return WrongCode(_("This code is not correct. Enter the code shown now."), field="code")
    seconds = round((why["locked_until"] - now.throttling_failure_timestamp).total_seconds())
    return WrongCode(
        ngettext(
            "This code is not correct. Wait {seconds} second, then enter the code shown.",
            "This code is not correct. Wait {seconds} seconds, then enter the code shown.",
            seconds,
            seconds=seconds,
        ),
        field="code",
    )


def _lock(user: User) -> None:
    User.objects.select_for_update().get(pk=user.pk)
