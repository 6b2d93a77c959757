"""The page "Sign-in codes": codes switched on, recovery codes shown once, codes switched off."""

import os
import re
from base64 import b32decode
from datetime import timedelta
from random import Random
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.utils import timezone
from django_otp import verify_token
from django_otp.plugins.otp_static.models import StaticDevice, StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from studio.accounts import two_factor as codes
from studio.accounts.models import Role, User
from tests.hostile import HOSTILE, MARKUP, filled, forms_on
from tests.inventory.browsing import text_of
from tests.studio.accounts.two_factor.phones import PASSWORD, Phone, code_given, password_given, switched_on

pytestmark = pytest.mark.django_db


# On


@pytest.mark.parametrize("role", Role.values)
def test_everybody_may_switch_codes_on(role: str, phone: Phone, client: Client) -> None:
    user = User.objects.create_user("wren", password=PASSWORD, role=role)
    client.force_login(user)
    assert len(switched_on(client, user, phone)) == 10
    assert "Two-factor sign-in is on" in text_of(client.get("/two-factor/"))


def test_the_secret_is_shown_as_a_picture_and_in_groups_of_four(signed: Client) -> None:
    signed.post("/two-factor/begin/", {"password": PASSWORD})
    page: Any = signed.get("/two-factor/")
    html, key = page.content.decode(), bytes.fromhex(TOTPDevice.objects.get().key)
    groups = page.context["secret"].split()
    assert {len(group) for group in groups} == {4}
    assert b32decode("".join(groups)) == key
    assert f'<code class="secret">{" ".join(groups)}</code>' in html
    picture = re.search(r"<svg[^>]*class=\"qr\"[^>]*>.*?</svg>", html, re.DOTALL)
    assert picture
    assert not re.search(r"style|script|href|http|on\w+=", picture[0])
    link = re.search(r'href="(otpauth://totp/Meniscus%3Akeeper\?secret=([A-Z2-7]+)&[^"]*)"', html)
    assert link
    assert b32decode(link[2]) == key


def test_the_picture_holds_the_address_of_the_secret(signed: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    import segno

    drawn, make = [], segno.make

    def noted(said: str, **way: Any) -> segno.QRCode:
        drawn.append(said)
        return make(said, **way)

    monkeypatch.setattr(segno, "make", noted)
    signed.post("/two-factor/begin/", {"password": PASSWORD})
    signed.get("/two-factor/")
    assert drawn == [TOTPDevice.objects.get().config_url]


def test_a_secret_is_shown_to_nobody_who_does_not_know_the_password(signed: Client) -> None:
    """OWASP ASVS 5.0, 7.5.1: signing in again before what signs somebody in is changed."""
    answer = signed.post("/two-factor/begin/", {"password": "wrong"})
    assert answer.status_code == 422
    assert "This is not your password" in text_of(answer)
    assert not TOTPDevice.objects.exists()


def test_codes_are_on_only_after_the_phone_has_shown_a_right_one(
    signed: Client, keeper: User, phone: Phone
) -> None:
    signed.post("/two-factor/begin/", {"password": PASSWORD})
    answer = signed.post("/two-factor/confirm/", {"code": "000000"})
    assert answer.status_code == 422
    assert "This code is not correct" in text_of(answer)
    assert password_given(Client()).headers["Location"] == "/"
    phone.later()
    assert signed.post("/two-factor/confirm/", {"code": phone.code(keeper)}).status_code == 200
    assert password_given(Client()).headers["Location"] == "/login/code/"


def test_the_code_that_switched_them_on_lets_nobody_in(signed: Client, keeper: User, phone: Phone) -> None:
    signed.post("/two-factor/begin/", {"password": PASSWORD})
    code = phone.code(keeper)
    signed.post("/two-factor/confirm/", {"code": code})
    client = Client()
    password_given(client)
    assert code_given(client, code).status_code == 422


def test_a_secret_that_was_not_confirmed_dies_after_a_quarter_of_an_hour(
    signed: Client, keeper: User, phone: Phone
) -> None:
    signed.post("/two-factor/begin/", {"password": PASSWORD})
    device = TOTPDevice.objects.get()
    TOTPDevice.objects.update(created_at=device.created_at - timedelta(minutes=16))
    assert "QR code" not in signed.get("/two-factor/").content.decode()
    answer = signed.post("/two-factor/confirm/", {"code": phone.code(keeper)}, follow=True)
    assert "This took too long" in text_of(answer)
    signed.post("/two-factor/begin/", {"password": PASSWORD})
    assert TOTPDevice.objects.get().key != device.key


def test_codes_that_are_on_are_not_begun_again(sheet: list[str], signed: Client) -> None:
    key = TOTPDevice.objects.get().key
    answer = signed.post("/two-factor/begin/", {"password": PASSWORD}, follow=True)
    assert "Two-factor sign-in is already on" in text_of(answer)
    assert TOTPDevice.objects.get().key == key
    assert signed.post("/two-factor/confirm/", {"code": "000000"}).headers["Location"] == "/two-factor/"


# Recovery codes


def test_recovery_codes_are_shown_once_and_kept_only_as_digests(sheet: list[str], signed: Client) -> None:
    page = signed.get("/two-factor/").content.decode()
    assert "10 of 10" in page
    kept = str(list(StaticToken.objects.values()))
    for code in sheet:
        assert re.fullmatch("[a-z2-7]{4}( [a-z2-7]{4}){3}", code)
        assert code not in page
        assert code.replace(" ", "") not in kept


def test_secrets_and_recovery_codes_come_from_the_systems_generator(
    signed: Client, keeper: User, phone: Phone, monkeypatch: pytest.MonkeyPatch
) -> None:
    """OWASP ASVS 5.0, 6.5.3."""
    drawn: list[int] = []

    def noted(count: int) -> bytes:
        drawn.append(count)
        return os.urandom(count)

    monkeypatch.setattr("django_otp.util.urandom", noted)
    monkeypatch.setattr("studio.accounts.two_factor.secrets.token_bytes", noted)
    switched_on(signed, keeper, phone)
    assert drawn == [20, *[codes.RECOVERY_BYTES] * codes.RECOVERY_CODES]


def test_new_recovery_codes_end_the_old_ones(
    sheet: list[str], signed: Client, keeper: User, phone: Phone
) -> None:
    answer: Any = signed.post("/two-factor/recovery/", {"password": PASSWORD, "code": phone.code(keeper)})
    fresh = answer.context["fresh"]
    assert len(set(fresh) | set(sheet)) == 20
    for code, status in ((sheet[0], 422), (fresh[0], 302)):
        client = Client()
        password_given(client)
        assert code_given(client, code).status_code == status
        phone.later()


def test_who_came_in_with_a_recovery_code_stays_in_when_she_makes_new_ones(sheet: list[str]) -> None:
    client = Client()
    password_given(client)
    code_given(client, sheet[0])
    assert client.post("/two-factor/recovery/", {"password": PASSWORD, "code": sheet[1]}).status_code == 200
    assert client.get("/two-factor/").status_code == 200


def test_few_recovery_codes_left_are_pointed_out(sheet: list[str], signed: Client) -> None:
    assert "Create new codes" not in text_of(signed.get("/two-factor/"))
    for token in StaticToken.objects.all()[:8]:
        token.delete()
    assert "2 of 10 Create new codes" in text_of(signed.get("/two-factor/"))


# Off


@pytest.mark.parametrize("address", ["/two-factor/off/", "/two-factor/recovery/"])
@pytest.mark.parametrize(
    ("password", "code", "said"),
    [
        ("wrong", "", "not your password"),
        (PASSWORD, "000000", "code is not correct"),
        (PASSWORD, "", "required"),
    ],
)
def test_without_password_and_code_nothing_changes(
    sheet: list[str],
    signed: Client,
    keeper: User,
    phone: Phone,
    address: str,
    password: str,
    code: str,
    said: str,
) -> None:
    typed = code or (phone.code(keeper) if password == "wrong" else "")
    answer = signed.post(address, {"password": password, "code": typed})
    assert answer.status_code == 422
    assert said in text_of(answer)
    assert TOTPDevice.objects.filter(confirmed=True).count() == 1
    assert StaticToken.objects.count() == 10


def test_beside_a_wrong_password_no_recovery_code_is_used_up(sheet: list[str], signed: Client) -> None:
    signed.post("/two-factor/off/", {"password": "wrong", "code": sheet[0]})
    assert StaticToken.objects.count() == 10


@pytest.mark.parametrize("way", ["phone", "sheet"])
def test_switched_off_the_password_is_enough(
    sheet: list[str], signed: Client, keeper: User, phone: Phone, way: str
) -> None:
    code = phone.code(keeper) if way == "phone" else sheet[0]
    answer = signed.post("/two-factor/off/", {"password": PASSWORD, "code": code}, follow=True)
    assert "Two-factor sign-in is off" in text_of(answer)
    assert not TOTPDevice.objects.exists()
    assert not StaticDevice.objects.exists()
    assert signed.get("/two-factor/").status_code == 200
    assert password_given(Client()).headers["Location"] == "/"


def test_guessing_on_the_page_locks_as_at_the_door(sheet: list[str], signed: Client, phone: Phone) -> None:
    statuses = []
    for _ in range(5):
        phone.later(40)
        statuses.append(signed.post("/two-factor/off/", {"password": PASSWORD, "code": "000000"}).status_code)
    assert statuses == [422] * 4 + [429]
    assert password_given(Client()).status_code == 429


def test_what_does_not_apply_leads_back_to_the_page(signed: Client) -> None:
    for address in ("/two-factor/off/", "/two-factor/recovery/", "/two-factor/confirm/"):
        assert (
            signed.post(address, {"password": PASSWORD, "code": "000000"}).headers["Location"]
            == "/two-factor/"
        )


# Hostile input


def test_every_form_about_codes_stands_up_to_hostile_input(
    sheet: list[str], signed: Client, keeper: User, phone: Phone
) -> None:
    """The forms that only somebody with codes meets; `test_hostile_forms.py` tries the others."""
    door, beginner = Client(), Client()
    password_given(door)
    wren = User.objects.create_user("wren", password=PASSWORD)
    beginner.force_login(wren)
    beginner.post("/two-factor/begin/", {"password": PASSWORD})
    pages = [
        (signed, "/two-factor/"),
        (beginner, "/two-factor/"),
        (door, "/login/code/"),
        (door, "/login/code/?recovery"),
    ]
    sessions = {client: client.cookies["sessionid"].value for client, _path in pages}
    for client, path in pages:
        client.cookies["sessionid"] = sessions[client]
        forms = [
            form for form in forms_on(path, client.get(path).content.decode()) if form.path != "/logout/"
        ]
        assert any("code" in field.name for form in forms for field in form.fields)
        for number, form in enumerate(forms * 8):
            hand = Random(f"low water {path} {number}")
            data = filled(form, hand)
            typed = hand.choices([*HOSTILE, phone.code(keeper), *sheet], k=2)
            data |= {"code": typed[0], "password": hand.choice([PASSWORD, PASSWORD, typed[1]])}
            client.cookies["sessionid"] = sessions[client]  # what an input did to it is undone with the input
            with transaction.atomic():
                answer: Any = client.post(form.path, data)
                assert answer.status_code < 500, data
                assert not answer.headers.get("Location", "").startswith("/login/?"), "nothing was tried"
                assert MARKUP not in answer.content.decode()
                transaction.set_rollback(True)


def test_of_two_windows_that_confirm_at_once_one_switches_on(
    signed: Client, keeper: User, phone: Phone, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Between the right code and the lock, another window does the same: its recovery codes stay the good ones."""
    codes.begin(user=keeper)
    typed, verify = phone.code(keeper), verify_token
    others: list[list[str]] = []

    def slow(*given: Any) -> Any:
        device = verify(*given)
        monkeypatch.setattr(codes, "verify_token", lambda *_given: device)
        others.append(codes.confirm(user=keeper, typed=typed, at=timezone.now())[1])
        return device

    monkeypatch.setattr(codes, "verify_token", slow)
    with pytest.raises(codes.CodesError, match="another window"):
        codes.confirm(user=keeper, typed=typed, at=timezone.now())
    monkeypatch.setattr(codes, "verify_token", verify)
    assert codes.is_recovery(codes.verify_code(user=keeper, typed=others[0][0]))


def test_a_secret_that_another_window_replaced_switches_nothing_on(
    signed: Client, keeper: User, phone: Phone, monkeypatch: pytest.MonkeyPatch
) -> None:
    codes.begin(user=keeper)
    typed, verify = phone.code(keeper), verify_token

    def slow(*given: Any) -> Any:
        device = verify(*given)
        codes.begin(user=keeper)
        return device

    monkeypatch.setattr(codes, "verify_token", slow)
    with pytest.raises(codes.CodesError, match="another window"):
        codes.confirm(user=keeper, typed=typed, at=timezone.now())
    assert not codes.has_codes(keeper)
    assert codes.recovery_codes_left(keeper) == 0
