"""The people who sign in: added, given a role, and never without an owner."""

import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from studio.accounts.models import Role, User
from tests.inventory.browsing import as_user
from tests.studio.settings_pages import errors, page_of, values

pytestmark = pytest.mark.django_db
PASSWORD = "a-long-enough-phrase-for-the-loft"


def test_an_owner_adds_a_helper_who_may_sign_in(signed: Client) -> None:
    sent = {
        "username": "wren",
        "usable_password": "true",
        "password1": PASSWORD,
        "password2": PASSWORD,
        "role": "helper",
    }
    assert signed.post(page_of(User, "add"), sent).status_code == 302
    made = User.objects.get(username="wren")
    assert (made.role, made.is_staff, made.sees_money) == (Role.HELPER, False, False)
    assert made.check_password(PASSWORD)


def test_a_short_password_is_refused(signed: Client) -> None:
    sent = {"username": "wren", "usable_password": "true", "password1": "short", "password2": "short"}
    response = signed.post(page_of(User, "add"), sent | {"role": "helper"})
    assert re.search("at least 15 characters", errors(response))
    assert not User.objects.filter(username="wren").exists()


def test_an_owner_sets_a_new_password(signed: Client) -> None:
    wren = User.objects.create(username="wren")
    address = reverse("admin:auth_user_password_change", args=[wren.pk])
    sent = {"usable_password": "true", "password1": PASSWORD, "password2": PASSWORD}
    assert signed.post(address, sent).status_code == 302
    wren.refresh_from_db()
    assert wren.check_password(PASSWORD)


def person(client: Client, user: User, **changes: Any) -> dict[str, Any]:
    data = values(client, page_of(User, "change", user.pk)) | changes
    return {name: value for name, value in data.items() if value is not None}


def test_a_new_role_opens_or_shuts_the_settings(signed: Client) -> None:
    wren = User.objects.create(username="wren")
    address = page_of(User, "change", wren.pk)
    signed.post(address, person(signed, wren, role="owner"))
    assert as_user(User.objects.get(pk=wren.pk)).get(reverse("admin:index")).status_code == 200
    signed.post(address, person(signed, wren, role="bookkeeper"))
    assert not User.objects.get(pk=wren.pk).is_staff


@pytest.mark.parametrize("changes", [{"role": "helper"}, {"is_active": None}])
def test_the_last_owner_stays(signed: Client, changes: dict[str, Any]) -> None:
    maud = User.objects.get(username="maud")
    response = signed.post(page_of(User, "change", maud.pk), person(signed, maud, **changes), follow=True)
    assert "Make another person an owner first" in response.content.decode()
    maud.refresh_from_db()
    assert (maud.role, maud.is_active, maud.is_staff) == (Role.OWNER, True, True)


def test_nobody_is_removed(signed: Client) -> None:
    wren = User.objects.create(username="wren")
    assert signed.post(page_of(User, "delete", wren.pk), {"post": "yes"}).status_code == 403
