"""Amounts on the settings pages: typed as people type them, kept to the thousandth, refused in words."""

from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from costing.pricing.models import SalesChannel
from inventory.ledger.models import Entry, LotBalance, Posting
from studio.preferences.models import Studio
from studio.values.numbers import NO_BREAK_SPACE
from tests.making import make_lot, make_material, money
from tests.studio.settings_pages import errors, page_of, values

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("locale", ["en_GB", "de_DE"])
def test_saving_a_form_unchanged_changes_nothing(signed: Client, locale: str) -> None:
    Studio.objects.update(locale=locale, wage_per_hour=money("14.50"), tax_rate=25_500, reserve=123_400)
    SalesChannel.objects.create(name="Stall", commission=355_500, card_rate=17_500, fixed_fee=money("0.20"))
    rows = [SalesChannel.objects.get(), Studio.current()]
    for row in rows:
        model = type(row)
        address = page_of(model, "change", row.pk)
        before = model._default_manager.filter(pk=row.pk).values().get()
        sent = values(signed, address)
        response = signed.post(address, sent)
        assert response.status_code == 302, errors(response)
        assert model._default_manager.filter(pk=row.pk).values().get() == before


def test_the_currency_stays_once_anything_was_posted(signed: Client) -> None:
    address = page_of(Studio, "change", 1)
    signed.post(address, values(signed, address) | {"currency": "eur"})
    assert Studio.current().currency == "EUR"
    make_lot()
    signed.post(address, values(signed, address) | {"currency": "USD", "name": "Wrackline Studio"})
    assert (Studio.current().currency, Studio.current().name) == ("EUR", "Wrackline Studio")


@pytest.mark.parametrize(
    ("changes", "says"),
    [({"currency": "XXQ"}, "not a known currency code"), ({"locale": "zz_zz_zz"}, "in the list")],
)
def test_the_studio_refuses_unknown_codes(signed: Client, changes: dict[str, str], says: str) -> None:
    address = page_of(Studio, "change", 1)
    response = signed.post(address, values(signed, address) | changes)
    assert says in errors(response)
    assert Studio.current().currency == "GBP"


def test_there_is_one_studio(signed: Client) -> None:
    assert signed.get(page_of(Studio, "add")).status_code == 403
    assert signed.post(page_of(Studio, "delete", 1), {"post": "yes"}).status_code == 403
    assert signed.get(page_of(Studio, "changelist"))["Location"] == page_of(Studio, "change", 1)


def test_long_lists_ask_no_more_of_the_database(signed: Client) -> None:
    def count(model: Any) -> int:
        with CaptureQueriesContext(connection) as queries:
            signed.get(page_of(model, "changelist"))
        return len(queries)

    models = (Entry, LotBalance, Posting)
    make_lot()
    few = [count(model) for model in models]
    few = [count(model) for model in models]
    for _ in range(10):
        make_lot()
    assert [count(model) for model in models] == few


def test_a_hostile_name_is_written_as_text(signed: Client) -> None:
    nasty = "<script>alert(1)</script>"
    make_lot(material=make_material(name=nasty))
    for model in (Entry, LotBalance):
        assert nasty not in signed.get(page_of(model, "changelist")).content.decode()


def test_numbers_and_days_are_written_in_a_way_chosen_from_a_list(signed: Client) -> None:
    address = page_of(Studio, "change", 1)
    page = signed.get(address).content.decode()
    assert "German (Germany): 1.234,50 £, 31.12.2026" in page.replace(NO_BREAK_SPACE, " ")
    assert '<option value="EUR">Euro</option>' in page
    assert signed.post(address, values(signed, address) | {"locale": "de_DE"}).status_code == 302
    assert Studio.current().locale == "de_DE"


def test_a_way_of_writing_that_no_list_names_may_stay(signed: Client) -> None:
    Studio.objects.update(locale="pt-AO")
    address = page_of(Studio, "change", 1)
    assert "Portuguese (Angola)" in signed.get(address).content.decode()
    assert signed.post(address, values(signed, address) | {"name": "Renamed"}).status_code == 302
    assert (Studio.current().name, Studio.current().locale) == ("Renamed", "pt-AO")
