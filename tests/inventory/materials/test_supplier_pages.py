"""Pages of suppliers and packs: typed as on the label, in the supplier's currency, without prices for helpers."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from inventory.materials.models import Supplier, Supply
from studio.preferences.models import Studio
from tests.inventory.browsing import HOSTILE, as_user, queries, text_of
from tests.making import make_helper, make_material, make_owner, make_supplier, make_water, money, units
from tests.two_tabs import Tab

pytestmark = pytest.mark.django_db
GTIN = "4006381333931"  # a GTIN-13 with the right check digit (GS1 General Specifications, 7.9)


@pytest.fixture
def owner() -> Client:
    return as_user(make_owner())


def form(client: Client, name: str, *keys: Any, query: str = "") -> Tab:
    page = reverse(f"inventory:{name}", args=keys)
    return Tab(client, page + query, page)


def make_pack(**facts: Any) -> Supply:
    known = {"pack_size": units(500), "price": money("17.43")}
    return Supply.objects.create(
        supplier=facts.pop("supplier", None) or make_supplier(), material=make_material(), **known | facts
    )


def wrong_fields(response: Any) -> set[str]:
    assert response.status_code == 422
    return {name for name in response.context["form"].errors if name != "__all__"}


def test_a_supplier_is_typed_and_changed(owner: Client) -> None:
    new = form(owner, "supplier-new")
    assert new.fields["currency"] == "GBP"
    new.send(name="Mole Stores", currency="eur", country="IE", lead_time_days="5", email="sales@mole.example")
    made = Supplier.objects.get()
    assert (made.currency, made.lead_time_days, made.lead_time_variation_days) == ("EUR", 5, 0)
    form(owner, "supplier-edit", made.pk).send(lead_time_variation_days="2", notes="Closed in August")
    made.refresh_from_db()
    assert (made.name, made.lead_time_variation_days, made.notes) == ("Mole Stores", 2, "Closed in August")


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"currency": "XXQ"}, "currency"),
        ({"name": ""}, "name"),
        ({"lead_time_days": "-1"}, "lead_time_days"),
        ({"lead_time_days": "40000"}, "lead_time_days"),
        ({"email": "nobody"}, "email"),
    ],
)
def test_a_supplier_that_cannot_be_comes_back_by_its_field(
    owner: Client, typed: dict[str, str], field: str
) -> None:
    assert wrong_fields(form(owner, "supplier-new").send(**{"name": "Mole Stores"} | typed)) == {field}
    assert not Supplier.objects.exists()


def test_a_pack_is_typed_as_on_the_label_in_the_suppliers_currency(owner: Client) -> None:
    supplier, paint = make_supplier(currency="JPY"), make_material()
    new = form(owner, "pack-new", query=f"?supplier={supplier.pk}&material={paint.pk}")
    assert (new.fields["supplier"], new.fields["material"]) == (str(supplier.pk), str(paint.pk))
    assert wrong_fields(new.send(pack_size="500 ml", price="12.50")) == {"price"}  # there is no half yen
    new.send(
        pack_size="500 ml", price="1250", barcode="4 006381 333931", minimum_packs="3", is_preferred="on"
    )
    made = Supply.objects.get()
    assert (made.pack_size, made.price, made.barcode) == (units(500), money(1250), GTIN)
    assert (made.minimum_packs, made.is_preferred) == (3, True)
    page = form(owner, "pack-edit", made.pk)
    assert (page.fields["pack_size"], page.fields["price"]) == ("500 mL", "1250")
    assert "supplier" not in page.fields


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"barcode": "4006381333932"}, "barcode"),
        ({"barcode": "x" * 14}, "barcode"),
        ({"pack_size": "3 each"}, "pack_size"),
        ({"pack_size": "0 ml"}, "pack_size"),
        ({"price": "1.234"}, "price"),
        ({"price": "-1"}, "price"),
        ({"minimum_packs": "0"}, "minimum_packs"),
        ({"minimum_packs": "40000"}, "minimum_packs"),
        ({"supplier": ""}, "supplier"),
        ({"supplier": "999999"}, "supplier"),
        ({"material": "999999"}, "material"),
    ],
)
def test_a_pack_that_cannot_be_comes_back_by_its_field(
    owner: Client, typed: dict[str, str], field: str
) -> None:
    known = {
        "supplier": make_supplier().pk,
        "material": make_material().pk,
        "pack_size": "500 ml",
        "price": "9",
    }
    assert wrong_fields(form(owner, "pack-new").send(**known | typed)) == {field}
    assert not Supply.objects.exists()


def test_the_first_pack_of_a_new_supplier_brings_the_supplier_or_neither(owner: Client) -> None:
    given = {"new_supplier": "Mole  Stores", "material": make_material().pk, "pack_size": "500 ml"}
    assert wrong_fields(form(owner, "pack-new").send(**given, price="much")) == {"price"}
    assert wrong_fields(form(owner, "pack-new").send(**given, price="9", minimum_packs="0")) == {
        "minimum_packs"
    }
    assert not Supplier.objects.exists()
    form(owner, "pack-new").send(**given, price="9")
    made = Supply.objects.get()
    assert (made.supplier.name, made.supplier.currency, made.price) == ("Mole Stores", "GBP", money(9))


def test_a_free_material_is_not_offered_in_a_pack(owner: Client) -> None:
    water, paint = make_water(), make_material()
    page: Any = owner.get(reverse("inventory:pack-new"))
    offered = page.context["form"].fields["material"].offered
    assert paint.pk in offered
    assert water.pk not in offered


@pytest.mark.parametrize("locale", ["en_GB", "de_DE"])
def test_saving_a_page_unchanged_changes_nothing(owner: Client, locale: str) -> None:
    Studio.objects.update(locale=locale)
    row = make_pack(
        supplier=make_supplier(currency="EUR"), pack_size=500_125, barcode=GTIN, is_preferred=True
    )
    for page, saved in (("supplier-edit", row.supplier), ("pack-edit", row)):
        before = type(saved)._base_manager.filter(pk=saved.pk).values().get()
        assert form(owner, page, saved.pk).send().status_code == 200
        assert type(saved)._base_manager.filter(pk=saved.pk).values().get() == before


def test_packs_and_then_their_supplier_are_deleted(owner: Client) -> None:
    row = make_pack()
    assert form(owner, "supplier-delete", row.supplier_id).send().status_code == 422
    form(owner, "pack-delete", row.pk).send()
    form(owner, "supplier-delete", row.supplier_id).send()
    assert not Supplier.objects.exists()


def test_a_pack_stands_on_the_page_of_its_supplier_and_of_its_material(owner: Client) -> None:
    row = make_pack(barcode=GTIN)
    edit = reverse("inventory:pack-edit", args=[row.pk])
    for page in (
        reverse("inventory:supplier", args=[row.supplier_id]),
        reverse("inventory:material", args=[row.material_id]),
    ):
        answer = owner.get(page)
        assert edit in answer.content.decode()
        assert "17.43" in text_of(answer)
        seen = as_user(make_helper()).get(page)
        assert edit not in seen.content.decode()
        assert "17.43" not in text_of(seen)
        assert GTIN in text_of(seen)


def test_lists_and_pages_ask_as_many_queries_for_many_packs_as_for_few(owner: Client) -> None:
    supplier = make_supplier()
    pages = reverse("inventory:suppliers"), reverse("inventory:supplier", args=[supplier.pk])

    def count() -> tuple[int, ...]:
        make_pack(supplier=supplier)
        make_pack()
        return tuple(queries(owner, page) for page in pages)

    count()
    few = count()
    assert {count() for _turn in range(5)} == {few}


def test_an_empty_list_leads_to_the_first_supplier(owner: Client) -> None:
    new = reverse("inventory:supplier-new")
    page = reverse("inventory:suppliers")
    assert f'href="{new}"' in owner.get(page).content.decode()
    assert new not in as_user(make_helper()).get(page).content.decode()


def test_a_hostile_name_is_written_as_text(owner: Client) -> None:
    row = make_pack(supplier=make_supplier(name=HOSTILE, country=HOSTILE, notes=HOSTILE))
    names = ("supplier", "supplier-edit", "supplier-delete")
    pages = [reverse(f"inventory:{name}", args=[row.supplier_id]) for name in names]
    pages += [reverse(f"inventory:{name}", args=[row.pk]) for name in ("pack-edit", "pack-delete")]
    for page in [reverse("inventory:suppliers"), reverse("inventory:pack-new"), *pages]:
        assert HOSTILE not in owner.get(page).content.decode()
