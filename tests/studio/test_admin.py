"""Settings pages: for owners alone, a ledger that can only be looked at, and how the books are kept."""

from datetime import timedelta
from typing import Any

import pytest
from django.contrib import admin
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.ledger.models import Books, CostingMethod, Entry, LotBalance, Posting
from inventory.reordering.models import Alert
from studio.accounts.models import Role, User
from tests.inventory.browsing import as_user
from tests.making import make_lot, make_material, make_recipe
from tests.studio.settings_pages import page_of, values

pytestmark = pytest.mark.django_db


# Whom the settings open to


@pytest.mark.parametrize("role", [Role.HELPER, Role.BOOKKEEPER])
def test_the_settings_are_the_owners_alone(role: str, signed: Client) -> None:
    other = as_user(User.objects.create(username="other", role=role, is_staff=True, may_see_money=True))
    for address in (reverse("admin:index"), page_of(Posting, "changelist")):
        assert signed.get(address).status_code == 200
        assert other.get(address, follow=True).status_code == 403


def test_a_stranger_is_sent_to_the_studios_own_door() -> None:
    for address in (reverse("admin:index"), reverse("admin:login")):
        response = Client().get(address, follow=True)
        assert response.redirect_chain[-1][0].startswith(reverse("login"))


def test_every_page_of_the_settings_opens(signed: Client) -> None:
    make_lot()
    make_recipe(parts=[(make_material(), 1)])
    for model, settings in admin.site._registry.items():
        if model._meta.app_label not in ("studio", "inventory", "costing"):
            continue
        assert signed.get(page_of(model, "changelist"), follow=True).status_code == 200
        row = model._default_manager.first()
        if row is not None:
            assert signed.get(page_of(model, "change", row.pk)).status_code == 200
        if settings.has_add_permission(signed.get("/").wsgi_request):
            assert signed.get(page_of(model, "add")).status_code == 200


# The ledger is looked at


@pytest.mark.parametrize("model", [Posting, Entry, LotBalance, Alert])
def test_the_ledger_and_what_follows_from_it_cannot_be_typed(model: Any, signed: Client) -> None:
    lot = make_lot()
    make_recipe(parts=[(lot.material, 1)])
    Alert.objects.create(material=lot.material, raised_at=timezone.now(), stock=0, on_order=0, level=1)
    row = model.objects.first()
    before = model.objects.filter(pk=row.pk).values().get()
    assert signed.get(page_of(model, "add")).status_code == 403
    assert signed.post(page_of(model, "change", row.pk), {"note": "changed", "money": "1"}).status_code == 403
    assert signed.post(page_of(model, "delete", row.pk), {"post": "yes"}).status_code == 403
    assert model.objects.filter(pk=row.pk).values().get() == before


# How the books are kept


def test_the_cost_flow_is_chosen_before_the_first_posting(signed: Client) -> None:
    address = page_of(Books, "change", 1)
    signed.post(address, values(signed, address) | {"costing_method": "average"})
    assert Books.objects.get().costing_method == CostingMethod.AVERAGE
    make_lot()
    response = signed.post(address, values(signed, address) | {"costing_method": "fifo"}, follow=True)
    assert "chosen before the first posting" in response.content.decode()
    assert Books.objects.get().costing_method == CostingMethod.AVERAGE


def test_the_books_close_through_a_past_day_and_stay_closed(signed: Client) -> None:
    address, today = page_of(Books, "change", 1), timezone.localdate()
    yesterday = today - timedelta(days=1)
    signed.post(address, {"costing_method": "fifo", "closed_through": yesterday.isoformat()})
    assert Books.objects.get().closed_through == yesterday
    for day in ("", (yesterday - timedelta(days=1)).isoformat()):
        response = signed.post(address, values(signed, address) | {"closed_through": day}, follow=True)
        assert "a closed period stays closed" in response.content.decode()
    sent = values(signed, address) | {"closed_through": today.isoformat()}
    response = signed.post(address, sent, follow=True)
    assert "closing date in the past" in response.content.decode()
    assert Books.objects.get().closed_through == yesterday


def test_the_head_of_the_ledger_is_never_typed(signed: Client) -> None:
    make_lot()
    before = Books.objects.values().get()
    signed.post(
        page_of(Books, "change", 1), {"costing_method": "fifo", "last_number": "99", "last_hash": "f" * 64}
    )
    assert Books.objects.values().get() == before
    assert signed.get(page_of(Books, "add")).status_code == 403
    assert signed.post(page_of(Books, "delete", 1), {"post": "yes"}).status_code == 403
