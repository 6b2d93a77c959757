"""Amounts on the settings pages: typed as people type them, kept to the thousandth, refused in words."""

import re
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from costing.pricing.models import SalesChannel
from inventory.ledger.models import Entry, Lot, LotBalance, Posting, Reason
from inventory.materials.models import Material, Supplier, Supply
from inventory.sessions.models import Technique
from studio.preferences.models import Studio
from studio.values.numbers import NO_BREAK_SPACE
from tests.making import make_lot, make_material, make_supplier, make_surface, money, units
from tests.studio.settings_pages import errors, page_of, values

pytestmark = pytest.mark.django_db


def material(**changes: Any) -> dict[str, Any]:
    return {
        "name": "Net Loft White",
        "kind": "paint",
        "measure": "volume",
        "water_share": "0 %",
        "free_rate": "0",
    } | changes


def test_a_material_is_typed_in_plain_units(signed: Client) -> None:
    response = signed.post(
        page_of(Material, "add"),
        material(density="1.12 g/mL", water_share="2.55 %", reorder_level="1/2 l", safety_stock="112 g"),
    )
    assert response.status_code == 302
    made = Material.objects.get()
    assert (made.density, made.water_share, made.reorder_level) == (1_120_000, 25_500, units(500))
    assert made.safety_stock == units(100)  # 112 g at 1.12 g/mL


def test_a_surface_is_typed_with_its_size(signed: Client) -> None:
    signed.post(
        page_of(Material, "add"),
        material(kind="surface", measure="count", size="30 x 40 x 1.8 cm", sides_painted="on"),
    )
    made = Material.objects.get()
    assert (made.height, made.width, made.depth, made.is_round) == (30_000, 40_000, 1_800, False)
    assert "30 x 40 x 1.8 cm" in signed.get(page_of(Material, "change", made.pk)).content.decode()


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"kind": "surface", "measure": "count"}, "A surface needs its size"),
        ({"kind": "surface", "size": "30 x 30 cm"}, "A surface is counted"),
        (
            {"kind": "surface", "measure": "count", "size": "30 x 30 cm", "sides_painted": "on"},
            "write the depth as well",
        ),
        ({"density": "heavy"}, "cannot be read as one number"),
        ({"density": "0"}, "above zero"),
        ({"density": "0.01"}, "100000"),
        ({"reorder_level": "3 each"}, "a volume is wanted"),
        ({"water_share": "140 %"}, "more than 100 %"),
        ({"free_rate": "cheap"}, "not an amount in GBP"),
        ({"size": "big"}, "Give every side a number"),
        ({"colour": "blue"}, "Write a colour such as"),
    ],
)
def test_it_refuses_a_material_that_makes_no_sense(
    signed: Client, changes: dict[str, Any], says: str
) -> None:
    response = signed.post(page_of(Material, "add"), material(**changes))
    assert response.status_code == 200
    assert says in errors(response)
    assert not Material.objects.exists()


@pytest.mark.parametrize("locale", ["en_GB", "de_DE"])
def test_saving_a_form_unchanged_changes_nothing(signed: Client, locale: str) -> None:
    Studio.objects.update(locale=locale, wage_per_hour=money("14.50"), tax_rate=25_500, reserve=123_400)
    supplier = make_supplier(currency="EUR")
    canvas = make_surface(reorder_level=units(5), keeps_days=9)
    paint = make_material(density=1_123_456, water_share=12_300, safety_stock=units("0.125"))
    SalesChannel.objects.create(name="Stall", commission=355_500, card_rate=17_500, fixed_fee=money("0.20"))
    lot = make_lot()
    Lot.objects.update(empty_weight=42_001)
    rows = [canvas, paint, SalesChannel.objects.get(), Technique.objects.get(name="Ring"), supplier]
    rows += [Studio.current(), Lot.objects.get(pk=lot.pk)]
    for row in rows:
        model = type(row)
        address = page_of(model, "change", row.pk)
        before = model._default_manager.filter(pk=row.pk).values().get()
        sent = values(signed, address)
        if model is Supplier:
            sent |= {"supplies-TOTAL_FORMS": "0", "supplies-INITIAL_FORMS": "0"}
        response = signed.post(address, sent)
        assert response.status_code == 302, errors(response)
        assert model._default_manager.filter(pk=row.pk).values().get() == before


def test_the_measure_stays_once_amounts_are_kept_in_it(signed: Client) -> None:
    lot = make_lot()
    address = page_of(Material, "change", lot.material_id)
    signed.post(address, values(signed, address) | {"measure": "mass", "name": "Renamed"})
    lot.material.refresh_from_db()
    assert (lot.material.name, lot.material.measure) == ("Renamed", "volume")


def test_the_currency_stays_once_anything_was_posted(signed: Client) -> None:
    address = page_of(Studio, "change", 1)
    signed.post(address, values(signed, address) | {"currency": "eur"})
    assert Studio.current().currency == "EUR"
    make_lot()
    signed.post(address, values(signed, address) | {"currency": "USD", "name": "Saltmarsh Lane Studio"})
    assert (Studio.current().currency, Studio.current().name) == ("EUR", "Saltmarsh Lane Studio")


@pytest.mark.parametrize(
    ("changes", "says"),
    [({"currency": "XXQ"}, "not a currency code"), ({"locale": "zz_zz_zz"}, "in the list")],
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


def supplied(*supplies: dict[str, Any], **head: Any) -> dict[str, Any]:
    data: dict[str, Any] = {
        "name": "Quay Colours",
        "currency": "GBP",
        "lead_time_days": "7",
        "lead_time_variation_days": "0",
        "supplies-TOTAL_FORMS": str(len(supplies)),
        "supplies-INITIAL_FORMS": "0",
    } | head
    for number, supply in enumerate(supplies):
        whole = {"minimum_packs": "1"} | supply
        data |= {f"supplies-{number}-{name}": value for name, value in whole.items()}
    return data


def test_a_supply_is_typed_as_on_the_label(signed: Client) -> None:
    paint = make_material()
    signed.post(
        page_of(Supplier, "add"),
        # 4006381333931 is a GTIN-13 with the right check digit (GS1 General Specifications, 7.9).
        supplied({"material": paint.pk, "pack_size": "500 ml", "price": "12.50", "barcode": "4006381333931"}),
    )
    made = Supply.objects.get()
    assert (made.pack_size, made.price, made.barcode) == (units(500), money("12.50"), "4006381333931")
    page = signed.get(page_of(Supplier, "change", made.supplier_id)).content.decode()
    assert 'value="500 mL"' in page
    assert 'value="12.50"' in page


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"barcode": "4006381333932"}, "Its last digit does not fit"),
        ({"pack_size": "3 each"}, "a volume is wanted"),
        ({"price": "1.234"}, "too many decimals"),
    ],
)
def test_it_refuses_a_supply_that_cannot_be_read(signed: Client, changes: dict[str, str], says: str) -> None:
    row = {"material": make_material().pk, "pack_size": "500 ml", "price": "12.50"} | changes
    response = signed.post(page_of(Supplier, "add"), supplied(row))
    assert response.status_code == 200
    assert says in errors(response)
    assert not Supplier.objects.exists()


def test_a_supplier_with_many_supplies_asks_no_more_of_the_database(signed: Client) -> None:
    def count(rows: int) -> int:
        supplier = make_supplier()
        for _ in range(rows):
            Supply.objects.create(supplier=supplier, material=make_material(), pack_size=1, price=1)
        with CaptureQueriesContext(connection) as queries:
            signed.get(page_of(Supplier, "change", supplier.pk))
        return len(queries)

    count(1)
    assert count(2) == count(15)


def test_long_lists_ask_no_more_of_the_database(signed: Client) -> None:
    def count(model: Any) -> int:
        with CaptureQueriesContext(connection) as queries:
            signed.get(page_of(model, "changelist"))
        return len(queries)

    models = (Entry, LotBalance, Lot, Posting, Material)
    make_lot()
    few = [count(model) for model in models]
    few = [count(model) for model in models]
    for _ in range(10):
        make_lot()
    assert [count(model) for model in models] == few


def test_a_cause_keeps_its_code_and_is_never_removed(signed: Client) -> None:
    reason = Reason.objects.get(code="spilled")
    signed.post(
        page_of(Reason, "change", reason.pk), {"name": "Knocked over", "code": "other", "kind": "gift"}
    )
    reason.refresh_from_db()
    assert (reason.name, reason.code, reason.kind) == ("Knocked over", "spilled", "loss")
    assert signed.post(page_of(Reason, "delete", reason.pk), {"post": "yes"}).status_code == 403


def test_a_hostile_name_is_written_as_text(signed: Client) -> None:
    nasty = "<script>alert(1)</script>"
    make_lot(material=make_material(name=nasty))
    for model in (Material, Lot, Entry, LotBalance):
        assert nasty not in signed.get(page_of(model, "changelist")).content.decode()


def test_every_field_of_a_supply_says_its_name_to_a_screen_reader(signed: Client) -> None:
    supplier = make_supplier()
    Supply.objects.create(supplier=supplier, material=make_material(), pack_size=units(500), price=money(6))
    page = signed.get(page_of(Supplier, "change", supplier.pk)).content.decode()
    fields = re.findall(r'<(?:input|select)\b[^>]*name="supplies-0-[^>]*>', page)
    shown = [field for field in fields if 'type="hidden"' not in field]
    assert len(shown) == 7
    assert all("aria-label=" in field for field in shown)


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
