"""A barcode finds its pack: in deliveries, orders and stocktakes, and by the API; it names one kind of goods."""

from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st
from stdnum import ean

from inventory.materials.actions import save_pack
from inventory.materials.models import Supply
from inventory.materials.packs import same_gtins, tidy_gtin
from inventory.purchasing.models import Delivery, Order
from studio.accounts.models import User
from studio.errors import InputError
from tests.inventory.purchasing.test_delivery_logging_page import sent
from tests.making import make_delivery, make_material, make_submission, make_supplier, money, units
from tests.programs import Program

pytestmark = pytest.mark.django_db
GTIN = "4006381333931"  # EAN-13, valid by python-stdnum 2.2 (stdnum.ean)
GTIN_8 = "73513537"  # EAN-8, the example of python-stdnum's own documentation


def make_pack(**facts: Any) -> Supply:
    known: dict[str, Any] = {"pack_size": units(500), "price": money(12), "barcode": GTIN}
    known["supplier"] = facts.get("supplier") or make_supplier()
    known["material"] = facts.get("material") or make_material()
    return save_pack(Supply(**known | facts), submission=make_submission())


@pytest.mark.parametrize(
    ("text", "tidy"),
    [
        # GS1 General Specifications, section 3.2 (AI 01): shorter numbers are filled with zeros from the left.
        ("0036000241457", "036000241457"),
        ("00036000241457", "036000241457"),
        ("00000073513537", GTIN_8),
        (" 4 006381 333931 ", GTIN),
        ("L0012", "L0012"),
    ],
)  # fmt: skip
def test_zeros_in_front_make_no_other_number(text: str, tidy: str) -> None:
    assert tidy_gtin(text) == tidy


@given(st.sampled_from([7, 11, 12, 13]).flatmap(lambda n: st.text("0123456789", min_size=n, max_size=n)))
def test_every_length_of_a_number_is_the_same_number(digits: str) -> None:
    code = digits + ean.calc_check_digit(digits)
    same = same_gtins(code)
    assert code in same
    assert {each.zfill(14) for each in same} == {code.zfill(14)}
    assert {tidy_gtin(each) for each in same} == {tidy_gtin(code)}


def test_a_supplier_has_a_barcode_on_one_pack_only() -> None:
    row = make_pack()
    with pytest.raises(InputError) as refused:
        make_pack(supplier=row.supplier, material=row.material, pack_size=units(250))
    assert "barcode" in {problem.field for problem in refused.value.problems}
    with pytest.raises(IntegrityError), transaction.atomic():
        Supply.objects.bulk_create(
            [Supply(supplier=row.supplier, material=make_material(), pack_size=1, price=0, barcode=GTIN)]
        )


def test_another_supplier_has_it_on_the_same_goods_alone() -> None:
    row = make_pack()
    make_pack(supplier=make_supplier(), material=row.material)
    with pytest.raises(InputError):
        make_pack(supplier=make_supplier(), material=row.material, pack_size=units(250))


def test_a_barcode_chooses_material_and_pack_of_a_line(signed: Client) -> None:
    row = make_pack()
    page = reverse("inventory:delivery-new")
    data = sent({"barcode": f"0{GTIN}", "packs": "2", "price": "24.00"}, supplier=row.supplier_id)
    assert signed.post(page, data).status_code == 302
    line = Delivery.objects.get().lines.get()
    assert (line.lot.material, line.quantity, line.packs) == (row.material, units(1000), 2)
    order = sent(
        {"barcode": GTIN, "packs": "3"}, supplier=row.supplier_id, ordered_on="2025-06-01", key="b" * 32
    )
    assert signed.post(reverse("inventory:order-new"), order).status_code == 302
    assert Order.objects.get().lines.get().quantity == units(1500)


@pytest.mark.parametrize("code", ["5901234123457", "4006381333932", "jar"])
def test_an_unknown_barcode_says_what_to_do_and_posts_nothing(signed: Client, code: str) -> None:
    make_pack()
    answer = signed.post(reverse("inventory:delivery-new"), sent({"barcode": code, "price": "1"}))
    assert answer.status_code == 422
    assert list(answer.context["formset"][0].errors) == ["barcode"]
    offers = f"{reverse('inventory:pack-new')}?barcode={code}" in answer.content.decode()
    assert offers == (code == "5901234123457")
    assert not Delivery.objects.exists()


def test_a_barcode_of_something_else_than_was_chosen_is_refused(signed: Client) -> None:
    make_pack()
    line = {"barcode": GTIN, "material": make_material().pk, "pack": "1 l", "price": "1"}
    answer = signed.post(reverse("inventory:delivery-new"), sent(line))
    assert list(answer.context["formset"][0].errors) == ["barcode"]


def test_a_scan_chooses_the_lots_of_a_stocktake(signed: Client) -> None:
    row = make_pack()
    wanted = make_delivery(lines=[(row.material, units(500), money(1))]).lines.get().lot
    other = make_delivery(lines=[(make_material(), units(500), money(1))]).lines.get().lot
    page = reverse("inventory:stocktake-new")
    for code, lot in ((GTIN, wanted), (f"0{GTIN}", wanted), (other.label, other)):
        assert [each.lot for each in signed.get(page, {"code": code}).context["sheet"]] == [lot]
    everything = signed.get(page, {"all": "1"}).content.decode()
    assert f"<span hidden>{GTIN}</span>" in everything  # what the page's own search looks through
    for code in ("5901234123457", "L9999", "shelf"):
        assert signed.get(page, {"code": code}).status_code == 422


def test_programs_find_packs_by_their_number(owner: User) -> None:
    row = make_pack(barcode=GTIN_8)
    for code in (GTIN_8, GTIN_8.zfill(14)):
        assert [each["id"] for each in Program(owner).read("packs/", gtin=code)["results"]] == [row.pk]
    assert Program(owner).read("packs/", gtin=GTIN)["results"] == []


def test_a_new_pack_starts_with_the_number_that_was_scanned(signed: Client) -> None:
    assert GTIN in signed.get(reverse("inventory:pack-new"), {"barcode": GTIN}).content.decode()
