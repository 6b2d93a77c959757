"""The people who sign in, on their pages: added, given a role, let in again, and never without an owner."""

from datetime import timedelta
from typing import Any

import pytest
from axes.models import AccessAttempt
from django.conf import settings
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from django_otp.plugins.otp_totp.models import TOTPDevice

from studio.accounts.login_limits import ELSEWHERE, MOST_PER_NAME
from studio.accounts.models import Role, User
from studio.accounts.queries import locked_until
from studio.accounts.two_factor import has_codes
from tests.inventory.browsing import as_user, queries
from tests.two_tabs import Tab

pytestmark = pytest.mark.django_db
PASSWORD = "a-long-enough-phrase-for-the-loft"
ATTEMPT = {"username": "wren", "ip_address": "192.0.2.7", "user_agent": ELSEWHERE}


@pytest.fixture
def wren(db: None) -> User:
    return User.objects.create_user("wren", password="another-long-phrase-of-hers")


def page(client: Client, name: str, *args: Any) -> Tab:
    address = reverse(name, args=args)
    return Tab(client, address, address)


def locked_out(*, failures: int = settings.AXES_FAILURE_LIMIT, **changes: Any) -> AccessAttempt:
    made: AccessAttempt = AccessAttempt.objects.create(
        **{**ATTEMPT, **changes}, failures_since_start=failures
    )
    return made


def test_an_owner_adds_a_helper_who_can_sign_in(signed: Client) -> None:
    page(signed, "person-new").send(username="wren", password=PASSWORD, again=PASSWORD, first_name="Wren")
    made = User.objects.get(username="wren")
    assert (made.role, made.first_name, made.sees_money) == (Role.HELPER, "Wren", False)
    answer = Client().post(reverse("login"), {"username": "wren", "password": PASSWORD})
    assert answer.status_code == 302


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"password": "short", "again": "short"}, "password"),
        ({"again": PASSWORD + "x"}, "again"),
        ({"username": "maud"}, "username"),
        ({"username": "two words"}, "username"),
        ({"email": "nowhere"}, "email"),
        ({"role": "queen"}, "role"),
    ],
)
def test_a_new_person_is_refused_at_the_field_that_will_not_do(
    signed: Client, typed: dict[str, str], field: str
) -> None:
    sent = {"username": "wren", "role": "helper", "password": PASSWORD, "again": PASSWORD} | typed
    answer: Any = signed.post(reverse("person-new"), sent)
    assert (answer.status_code, list(answer.context["form"].errors)) == (422, [field])
    assert PASSWORD not in answer.content.decode()
    assert User.objects.count() == 1


def test_a_person_is_changed(signed: Client, wren: User) -> None:
    page(signed, "person", wren.pk).send(
        role="bookkeeper", may_see_money="on", language="de", last_name="Fell", email="wren@example.org"
    )
    wren.refresh_from_db()
    assert (wren.role, wren.may_see_money, wren.language) == (Role.BOOKKEEPER, True, "de")
    assert (wren.get_full_name(), wren.email, wren.is_active) == ("Fell", "wren@example.org", True)


def test_a_new_role_opens_or_shuts_the_settings(signed: Client, wren: User) -> None:
    page(signed, "person", wren.pk).send(role="owner")
    hers = as_user(User.objects.get(pk=wren.pk))
    assert hers.get(reverse("settings")).status_code == 200
    page(signed, "person", wren.pk).send(role="bookkeeper")
    assert hers.get(reverse("settings")).status_code == 403


def test_the_last_owner_stays(signed: Client) -> None:
    maud = User.objects.get(username="maud")
    answer: Any = signed.post(
        reverse("person", args=[maud.pk]), page(signed, "person", maud.pk).fields | {"role": "helper"}
    )
    assert answer.status_code == 422
    signed.post(reverse("person-activity", args=[maud.pk]), {"active": "no"})
    maud.refresh_from_db()
    assert (maud.role, maud.is_active) == (Role.OWNER, True)


def test_somebody_who_left_is_deactivated_and_may_come_back(signed: Client, wren: User) -> None:
    hers = as_user(wren)
    signed.post(reverse("person-activity", args=[wren.pk]), {"active": "no"})
    assert not User.objects.get(pk=wren.pk).is_active
    assert hers.get(reverse("home")).status_code == 302, "her session has ended"
    signed.post(reverse("person-activity", args=[wren.pk]), {"active": "yes"})
    assert User.objects.get(pk=wren.pk).is_active


# Ways in


def test_an_owner_sets_a_new_password_that_ends_her_sessions(signed: Client, wren: User) -> None:
    hers = as_user(wren)
    page(signed, "person-password", wren.pk).send(password=PASSWORD, again=PASSWORD)
    assert User.objects.get(pk=wren.pk).check_password(PASSWORD)
    assert hers.get(reverse("home")).status_code == 302


def test_a_weak_password_is_refused(signed: Client, wren: User) -> None:
    answer: Any = signed.post(
        reverse("person-password", args=[wren.pk]), {"password": "short", "again": "short", "seen": "0"}
    )
    assert (answer.status_code, list(answer.context["form"].errors)) == (422, ["password"])


def test_ones_own_password_and_codes_are_not_changed_without_the_old_ones(signed: Client) -> None:
    maud = User.objects.get(username="maud")
    before = maud.password
    sent = {"password": PASSWORD, "again": PASSWORD, "seen": "0"}
    answer = signed.post(reverse("person-password", args=[maud.pk]), sent)
    assert answer["Location"] == reverse("password_change")
    answer = signed.post(reverse("person-two-factor-off", args=[maud.pk]))
    assert answer["Location"] == reverse("two-factor")
    assert User.objects.get(pk=maud.pk).password == before


def test_an_owner_switches_two_factor_sign_in_off_for_a_lost_phone(signed: Client, wren: User) -> None:
    TOTPDevice.objects.create(user=wren, name="phone", confirmed=True)
    assert has_codes(wren)
    address = reverse("person-two-factor-off", args=[wren.pk])
    assert address in signed.get(reverse("person", args=[wren.pk])).content.decode()
    signed.post(address)
    assert not has_codes(wren)
    assert address not in signed.get(reverse("person", args=[wren.pk])).content.decode()


def test_a_login_lock_is_shown_and_opened_early(signed: Client, wren: User) -> None:
    locked_out()
    credentials = {"username": "wren", "password": "another-long-phrase-of-hers"}
    assert Client(REMOTE_ADDR=ATTEMPT["ip_address"]).post(reverse("login"), credentials).status_code == 429
    address = reverse("person-unlock", args=[wren.pk])
    assert address in signed.get(reverse("person", args=[wren.pk])).content.decode()
    signed.post(address)
    assert address not in signed.get(reverse("person", args=[wren.pk])).content.decode()
    assert Client(REMOTE_ADDR=ATTEMPT["ip_address"]).post(reverse("login"), credentials).status_code == 302


def test_a_lock_lasts_from_the_last_of_enough_failures_from_one_address_or_from_all() -> None:
    now = timezone.now()
    assert locked_until(["wren"], at=now) == {}
    locked_out(failures=settings.AXES_FAILURE_LIMIT - 1)
    locked_out(failures=settings.AXES_FAILURE_LIMIT - 1, ip_address="192.0.2.8")
    assert locked_until(["wren"], at=now) == {}
    last = locked_out(failures=MOST_PER_NAME, ip_address="192.0.2.9")
    assert locked_until(["wren"], at=now) == {"wren": last.attempt_time + settings.AXES_COOLOFF_TIME}
    assert locked_until(["maud"], at=now) == {}
    assert locked_until(["wren"], at=now + settings.AXES_COOLOFF_TIME + timedelta(seconds=1)) == {}


# The list


def test_the_list_says_who_has_two_factor_sign_in_on_and_who_is_locked_or_gone(
    signed: Client, wren: User
) -> None:
    TOTPDevice.objects.create(user=wren, name="phone", confirmed=True)
    locked_out()
    User.objects.create(username="una", is_active=False)
    answer: Any = signed.get(reverse("people"))
    rows = answer.context["table"].rows
    assert [(row.username, row.has_two_factor, bool(row.locked_until)) for row in rows] == [
        ("maud", False, False),
        ("wren", True, True),
        ("una", False, False),
    ]


def test_many_people_take_no_more_queries(signed: Client, wren: User) -> None:
    few = queries(signed, reverse("people"))
    for number in range(8):
        more = User.objects.create(username=f"wren{number}")
        TOTPDevice.objects.create(user=more, name="phone", confirmed=True)
        locked_out(username=more.username)
    assert queries(signed, reverse("people")) == few


# One's own


def test_nobody_gives_herself_a_role_with_a_form_that_does_not_ask_for_it(wren: User) -> None:
    """OWASP ASVS 5.0, 15.3.3: of what is sent only the fields of the form are read."""
    hers = as_user(wren)
    more = {"role": "owner", "may_see_money": "on", "is_superuser": "on", "username": "maud"}
    Tab(hers, reverse("language"), reverse("language")).send(language="de", **more)
    wren.refresh_from_db()
    assert (wren.language, wren.role, wren.may_see_money) == ("de", Role.HELPER, False)
    assert (wren.is_superuser, wren.username) == (False, "wren")


@pytest.mark.parametrize("name", ["home", "inventory:stock", "costing:pieces", "language", "two-factor"])
def test_every_page_offers_to_log_out(wren: User, name: str) -> None:
    assert f'action="{reverse("logout")}"' in as_user(wren).get(reverse(name)).content.decode()
