"""The costing method and the closing of a period, on their pages: chosen once, closed once, and only on purpose."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.ledger.models import Books, CostingMethod
from studio.accounts.models import User
from tests.edit_pages import somebody
from tests.inventory.browsing import as_user, text_of
from tests.making import make_lot
from tests.two_tabs import Tab

pytestmark = pytest.mark.django_db
METHOD, CLOSING = "/settings/costing-method/", "/settings/closing/"


@pytest.fixture
def signed(owner: User) -> Client:
    return as_user(owner)


def test_the_costing_method_is_chosen_while_nothing_is_recorded(signed: Client) -> None:
    Tab(signed, METHOD, METHOD).send(costing_method="average")
    assert Books.objects.get().costing_method == CostingMethod.AVERAGE


def test_the_usual_costing_method_can_be_chosen_too(signed: Client) -> None:
    assert Books.objects.get().costing_method_chosen_at is None
    Tab(signed, METHOD, METHOD).send()
    assert Books.objects.get().costing_method_chosen_at is not None


def test_once_anything_is_recorded_the_page_offers_no_other_method_and_takes_none(signed: Client) -> None:
    opened = Tab(signed, METHOD, METHOD)
    make_lot()
    answer: Any = signed.get(METHOD)
    assert answer.context["is_fixed"]
    assert f'action="{METHOD}"' not in answer.content.decode()
    assert 'name="costing_method"' not in answer.content.decode()
    assert signed.post(METHOD, opened.fields | {"costing_method": "average"}).status_code == 422
    assert Books.objects.get().costing_method == CostingMethod.FIFO


def test_a_costing_method_that_was_chosen_meanwhile_is_not_overwritten() -> None:
    first, second = (Tab(somebody(name), METHOD, METHOD) for name in ("first", "second"))
    first.send(costing_method="average")
    refused = second.send(costing_method="fifo")
    assert "by first," in text_of(refused)
    assert Books.objects.get().costing_method == CostingMethod.AVERAGE
    second.back(refused)
    second.send()
    assert Books.objects.get().costing_method == CostingMethod.FIFO


def ask(client: Client, day: object) -> Any:
    return client.post(CLOSING, Tab(client, CLOSING, CLOSING).fields | {"day": str(day)})


def confirm(client: Client, asked: Any) -> Any:
    fields = {name: asked.context["form"][name].value() for name in ("seen", "day")}
    return client.post(CLOSING, fields | {"confirm": "1"})


def test_a_period_is_closed_only_after_it_was_confirmed(signed: Client) -> None:
    yesterday = timezone.localdate() - timedelta(days=1)
    make_lot()
    asked = ask(signed, yesterday)
    assert (asked.status_code, asked.context["form"].cleaned_data["day"], asked.context["postings"]) == (
        200,
        yesterday,
        1,
    )
    assert Books.objects.get().closed_through is None
    assert confirm(signed, asked).status_code == 302
    assert Books.objects.get().closed_through == yesterday


@pytest.mark.parametrize("days", [0, 1, -30])
def test_a_day_that_is_not_over_or_is_closed_already_is_refused_before_it_is_confirmed(
    signed: Client, days: int
) -> None:
    today = timezone.localdate()
    closed = today - timedelta(days=20)
    confirm(signed, ask(signed, closed))
    assert ask(signed, today + timedelta(days=days)).status_code == 422
    fields = Tab(signed, CLOSING, CLOSING).fields
    sent = fields | {"day": str(today + timedelta(days=days)), "confirm": "1"}
    assert signed.post(CLOSING, sent).status_code == 422
    assert Books.objects.get().closed_through == closed


def test_the_head_of_the_ledger_is_never_typed(signed: Client) -> None:
    make_lot()
    before = Books.objects.values("last_number", "last_hash", "last_recorded_at").get()
    for address in (METHOD, CLOSING):
        signed.post(address, {"last_number": "99", "last_hash": "f" * 64, "seen": "0"})
    assert Books.objects.values("last_number", "last_hash", "last_recorded_at").get() == before


@pytest.mark.parametrize("address", [METHOD, CLOSING])
def test_each_page_links_to_the_glossary(signed: Client, address: str) -> None:
    assert reverse("glossary") + "#" in signed.get(address).content.decode()
