"""Settings pages: for owners alone, amounts typed as people type them, and a ledger that can only be looked at."""

import re
from datetime import timedelta
from typing import Any

import pytest
from django.contrib import admin
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from costing.models import SellingRoute
from inventory.models import (
    Alert,
    Books,
    Cause,
    CostFlow,
    Entry,
    Lot,
    LotBalance,
    Material,
    Posting,
    Recipe,
    Supplier,
    Supply,
    Technique,
)
from studio.models import Role, Studio, User
from tests.making import make_lot, make_material, make_recipe, make_supplier, make_surface, money, units

pytestmark = pytest.mark.django_db
PASSWORD = "a-long-enough-phrase-for-the-loft"


def as_user(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


@pytest.fixture
def signed(db: None) -> Client:
    """An owner with no rights but her role."""
    return as_user(User.objects.create(username="maud", role=Role.OWNER, is_staff=True))


def page_of(model: Any, action: str, *arguments: Any) -> str:
    return reverse(f"admin:{model._meta.app_label}_{model._meta.model_name}_{action}", args=arguments)


def values(client: Client, address: str) -> dict[str, Any]:
    """What a settings form would send if nothing in it were changed."""
    form = client.get(address).context["adminform"].form
    sent = {}
    for bound in form:
        value = bound.value()
        if value is not None and value is not False:
            sent[bound.html_name] = "on" if value is True else bound.field.prepare_value(value)
    return sent


def errors(response: Any) -> str:
    found = response.context["errors"]
    return " ".join(str(item) for item in found)


# Whom the settings open to


@pytest.mark.parametrize("role", [Role.HELPER, Role.BOOKKEEPER])
def test_the_settings_are_the_owners_alone(role: str, signed: Client) -> None:
    other = as_user(User.objects.create(username="other", role=role, is_staff=True, may_see_money=True))
    for address in (reverse("admin:index"), page_of(Material, "changelist"), page_of(Supplier, "add")):
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


@pytest.mark.parametrize("model", [Posting, Entry, LotBalance, Alert, Recipe])
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


def test_a_lot_keeps_its_material_and_takes_new_words(signed: Client) -> None:
    lot = make_lot()
    address = page_of(Lot, "change", lot.pk)
    other = make_material()
    sent = values(signed, address) | {"place": "Cool box", "empty_weight": "42.5 g", "material": other.pk}
    assert signed.post(address, sent).status_code == 302
    changed = Lot.objects.get(pk=lot.pk)
    assert (changed.place, changed.empty_weight, changed.material) == ("Cool box", 42_500, lot.material)
    assert "42.5 g" in signed.get(address).content.decode()
    assert signed.get(page_of(Lot, "add")).status_code == 403


# How the books are kept


def test_the_cost_flow_is_chosen_before_the_first_posting(signed: Client) -> None:
    address = page_of(Books, "change", 1)
    signed.post(address, {"cost_flow": "average", "closed_through": ""})
    assert Books.objects.get().cost_flow == CostFlow.AVERAGE
    make_lot()
    response = signed.post(address, {"cost_flow": "fifo", "closed_through": ""}, follow=True)
    assert "chosen before the first posting" in response.content.decode()
    assert Books.objects.get().cost_flow == CostFlow.AVERAGE


def test_the_books_close_through_a_past_day_and_stay_closed(signed: Client) -> None:
    address, today = page_of(Books, "change", 1), timezone.localdate()
    yesterday = today - timedelta(days=1)
    signed.post(address, {"cost_flow": "fifo", "closed_through": yesterday.isoformat()})
    assert Books.objects.get().closed_through == yesterday
    for day in ("", (yesterday - timedelta(days=1)).isoformat()):
        response = signed.post(address, {"cost_flow": "fifo", "closed_through": day}, follow=True)
        assert "a closed period stays closed" in response.content.decode()
    response = signed.post(address, {"cost_flow": "fifo", "closed_through": today.isoformat()}, follow=True)
    assert "through a day that has passed" in response.content.decode()
    assert Books.objects.get().closed_through == yesterday


def test_the_head_of_the_ledger_is_never_typed(signed: Client) -> None:
    make_lot()
    before = Books.objects.values().get()
    signed.post(
        page_of(Books, "change", 1), {"cost_flow": "fifo", "last_number": "99", "last_hash": "f" * 64}
    )
    assert Books.objects.values().get() == before
    assert signed.get(page_of(Books, "add")).status_code == 403
    assert signed.post(page_of(Books, "delete", 1), {"post": "yes"}).status_code == 403


# Amounts as people type them


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
    SellingRoute.objects.create(name="Stall", commission=355_500, card_rate=17_500, fixed_fee=money("0.20"))
    lot = make_lot()
    Lot.objects.update(empty_weight=42_001)
    rows = [canvas, paint, SellingRoute.objects.get(), Technique.objects.get(name="Ring"), supplier]
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
    [({"currency": "XXQ"}, "not a currency code"), ({"locale": "zz_zz_zz"}, "such as en_GB")],
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
        "lead_time_spread_days": "0",
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
    cause = Cause.objects.get(code="spilled")
    signed.post(page_of(Cause, "change", cause.pk), {"name": "Knocked over", "code": "other", "kind": "gift"})
    cause.refresh_from_db()
    assert (cause.name, cause.code, cause.kind) == ("Knocked over", "spilled", "loss")
    assert signed.post(page_of(Cause, "delete", cause.pk), {"post": "yes"}).status_code == 403


def test_a_hostile_name_is_written_as_text(signed: Client) -> None:
    nasty = "<script>alert(1)</script>"
    make_lot(material=make_material(name=nasty))
    for model in (Material, Lot, Entry, LotBalance):
        assert nasty not in signed.get(page_of(model, "changelist")).content.decode()


# The people who sign in


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


def test_every_field_of_a_supply_says_its_name_to_a_screen_reader(signed: Client) -> None:
    supplier = make_supplier()
    Supply.objects.create(supplier=supplier, material=make_material(), pack_size=units(500), price=money(6))
    page = signed.get(page_of(Supplier, "change", supplier.pk)).content.decode()
    fields = re.findall(r'<(?:input|select)\b[^>]*name="supplies-0-[^>]*>', page)
    shown = [field for field in fields if 'type="hidden"' not in field]
    assert len(shown) == 7
    assert all("aria-label=" in field for field in shown)
