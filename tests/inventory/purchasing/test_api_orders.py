"""Orders for programs: placed, changed, sent, chased, received in parts, closed and opened again."""

from typing import Any

import pytest

from inventory.materials.models import Supply
from inventory.purchasing.models import Delivery, Order, OrderChase
from studio.accounts.models import User
from tests.making import make_material, make_order, make_supplier, money, units
from tests.programs import Program

pytestmark = pytest.mark.django_db
GTIN = "4006381333931"  # check digit worked out by GS1's weights 3 and 1; the number itself is of no goods of ours


@pytest.fixture
def program(owner: User) -> Program:
    return Program(owner)


def body(**more: Any) -> dict[str, Any]:
    line = {"material": make_material().pk, "pack": "500 ml", "packs": 2, "price": "20.00"}
    return {"supplier": make_supplier().pk, "ordered_on": "2025-06-01", "lines": [line], **more}


def test_an_order_is_placed_once_and_answers_with_what_is_due(program: Program) -> None:
    asked = body(reference="LC-7", deliver_to="Net loft")
    first = program.send("orders/", asked, key="a")
    assert program.send("orders/", asked, key="a", status=200)["id"] == first["id"]
    assert (first["number"], first["reference"], first["deliver_to"]) == (1, "LC-7", "Net loft")
    [line] = first["lines"]
    assert (line["packs"], line["pack"]["amount"], line["due"]["amount"]) == (2, units(500), units(1000))
    assert "2 × 500 ml" in first["email"]["text"]
    assert program.client.get(first["paper"])["Content-Type"] == "application/pdf"
    [listed] = program.read("orders/")["results"]
    assert (listed["number"], listed["lines"][0]["received"]["amount"]) == (1, 0)
    assert program.read("orders/", state="closed")["results"] == []


def test_a_barcode_stands_for_a_material_and_its_pack(program: Program) -> None:
    pack = Supply.objects.create(
        supplier=make_supplier(), material=make_material(), pack_size=units(500), price=0, barcode=GTIN
    )
    order = program.send("orders/", body(lines=[{"barcode": f"0{GTIN}", "packs": 2, "price": "20.00"}]))
    [line] = order["lines"]
    assert (line["material"]["id"], line["pack"]["amount"]) == (pack.material_id, units(500))
    scanned = {"barcode": GTIN, "price": "20.00"}
    came = {"supplier": pack.supplier_id, "received_on": "2025-06-02"}
    made = program.send("deliveries/", came | {"lines": [scanned, scanned | {"pack": "1 l"}]})
    assert [line["quantity"]["amount"] for line in made["lines"]] == [units(500), units(1000)]
    assert [line["material"]["id"] for line in made["lines"]] == [pack.material_id] * 2


@pytest.mark.parametrize(
    ("line", "field"),
    [
        ({"barcode": "4006381333938"}, "barcode"),
        ({"barcode": "96385074"}, "barcode"),
        ({"barcode": "tide"}, "barcode"),
        ({}, "material"),
        ({"pack": "1 l"}, "material"),
        ({"barcode": "4006381333931", "pack": "heap"}, "pack"),
    ],
)
def test_a_line_without_a_known_pack_is_refused_by_field(
    program: Program, line: dict[str, str], field: str
) -> None:
    Supply.objects.create(
        supplier=make_supplier(), material=make_material(), pack_size=units(500), price=0, barcode=GTIN
    )
    sent = {"supplier": make_supplier().pk, "received_on": "2025-06-02", "lines": [{"price": "1.00"} | line]}
    for path in ("deliveries/", "orders/"):
        asked = sent if path == "deliveries/" else body(lines=sent["lines"])
        [errors] = program.refusal(path, asked, status=400)["errors"]["lines"].values()
        assert errors.keys() == {field}


def test_a_barcode_of_something_else_than_the_material_is_refused(program: Program) -> None:
    supplier, material = make_supplier(), make_material()
    Supply.objects.create(supplier=supplier, material=material, pack_size=units(500), price=0, barcode=GTIN)
    line = {"barcode": GTIN, "material": make_material(name="Foam White").pk}
    [errors] = program.refusal("orders/", body(lines=[line]), status=400)["errors"]["lines"].values()
    assert errors.keys() == {"barcode"}


def test_a_change_that_has_not_seen_the_last_one_is_refused(program: Program) -> None:
    made = program.send("orders/", body())
    path, line = f"orders/{made['id']}/", made["lines"][0]
    tag = program.get(path)["ETag"]
    kept = {"id": line["id"], "material": line["material"]["id"], "pack": "500 ml", "packs": 3}
    changed = program.post(f"{path}change/", {"lines": [kept], "notes": "By the side door"}, if_match=tag)
    assert (changed.status_code, changed.json()["lines"][0]["due"]["amount"]) == (200, units(1500))
    assert changed.json()["lines"][0]["id"] == line["id"]
    for path_of, sent in (
        ("change/", {"notes": "x"}),
        ("sent/", {"sent_by": "phone"}),
        ("close/", {}),
        ("reopen/", {}),
    ):
        assert program.post(path + path_of, sent, if_match=tag).status_code == 412
    row = Order.objects.get()
    assert (row.notes, row.sent_by, row.is_closed) == ("By the side door", "", False)
    assert program.post(f"{path}sent/", {"sent_by": "phone"}, if_match=changed["ETag"]).status_code == 200


def test_what_is_wrong_is_named_by_field_and_line(program: Program) -> None:
    made = program.send("orders/", body())
    line = {"material": make_material().pk, "pack": "2 each"}
    problem = program.refusal("orders/", body(lines=[line]), status=400)
    assert "needs a volume" in str(problem["errors"]["lines"])
    other = make_order((make_material(), units(1)))
    line = {"id": other.lines.get().pk, "material": make_material().pk, "pack": "1 l"}
    problem = program.refusal(f"orders/{made['id']}/change/", {"lines": [line]}, status=400)
    assert "no longer on the order" in str(problem["errors"]["lines"])


def test_an_order_is_received_in_two_parts_and_closes(program: Program) -> None:
    made = program.send("orders/", body())
    path, line = f"orders/{made['id']}/", made["lines"][0]
    part = {"material": line["material"]["id"], "pack": "250 ml", "price": "5.00", "order_line": line["id"]}
    first = program.send(f"{path}receive/", {"received_on": "2025-06-05", "lines": [part]}, key="a")
    assert program.send(
        f"{path}receive/", {"received_on": "2025-06-05", "lines": [part]}, key="a", status=200
    )
    assert (first["lines"][0]["due"]["amount"], first["is_closed"]) == (units(750), False)
    second = program.send(f"{path}receive/", {"received_on": "2025-06-09"})  # everything still due
    assert (second["lines"][0]["due"]["amount"], second["is_closed"]) == (0, True)
    assert [each.paid for each in Delivery.objects.order_by("pk")] == [money(5), money(15)]
    problem = program.refusal(f"{path}receive/", {"received_on": "2025-06-09"}, status=400)
    assert "Nothing is due" in str(problem["errors"]["lines"])


def test_more_than_was_ordered_and_another_price_are_asked_about(program: Program) -> None:
    made = program.send("orders/", body())
    path, line = f"orders/{made['id']}/receive/", made["lines"][0]
    came = {"material": line["material"]["id"], "pack": "1200 ml", "price": "30.00", "order_line": line["id"]}
    extra = {"material": make_material().pk, "pack": "1 l", "price": "1.00"}
    asked = {"received_on": "2025-06-05", "lines": [came, extra]}
    problem = program.refusal(path, asked, status=409)
    topics = {each["topic"]: each["question"] for each in problem["questions"]}
    assert set(topics) == {"more-than-ordered", "not-ordered", "order-price"}
    assert "£30.00 is £6.00 (25%) more than ordered: £24.00" in topics["order-price"].replace("\xa0", "")
    assert not Delivery.objects.exists()
    tokens = [each["token"] for each in problem["questions"]]
    program.send(path, {**asked, "confirmed": tokens})
    [delivery] = Delivery.objects.all()
    told = program.read(f"deliveries/{delivery.pk}/")
    [changed] = told["price_changes"]
    assert [(each["against"], each["difference"]) for each in changed["changes"]] == [("order", "6.000000")]
    assert {each["topic"] for each in told["confirmed"]} == set(topics)


def test_a_chase_moves_the_expected_day_and_is_kept(program: Program) -> None:
    made = program.send("orders/", body(expected_on="2025-06-08"))
    path = f"orders/{made['id']}/"
    asked = {"asked_on": "2025-06-09", "promised_on": "2025-06-15", "note": "Kiln relined"}
    answer = program.send(f"{path}chase/", asked, key="c")
    program.send(f"{path}chase/", asked, key="c", status=200)
    assert OrderChase.objects.count() == 1
    assert (answer["expected_on"], answer["chases"][0]["expected_before"]) == ("2025-06-15", "2025-06-08")


def test_closing_and_opening_again_changes_nothing_the_second_time(program: Program) -> None:
    made = program.send("orders/", body())
    path = f"orders/{made['id']}/"
    for name, is_closed in (("close", True), ("close", True), ("reopen", False), ("reopen", False)):
        assert program.send(f"{path}{name}/", status=200)["is_closed"] is is_closed


def test_a_pack_price_is_taken_from_a_delivery(program: Program) -> None:
    made = program.send("orders/", body())
    program.send(f"orders/{made['id']}/receive/", {"received_on": "2025-06-05"})
    path = f"deliveries/{Delivery.objects.get().pk}/pack-prices/"
    for _time in range(2):
        program.send(path, status=200)
        assert [(each.pack_size, each.price) for each in Supply.objects.all()] == [(units(500), money(10))]
    assert program.refusal(path, {"lots": [10**6]}, status=400)


def test_who_sees_no_money_neither_reads_prices_nor_types_them(helper: User, program: Program) -> None:
    made = program.send("orders/", body())
    other = Program(helper)
    told = other.read(f"orders/{made['id']}/")
    assert "price" not in told["lines"][0]
    assert "20.00" not in told["email"]["text"]
    assert "does not show prices" in str(other.refusal("orders/", body(), status=400)["errors"]["lines"])
    assert other.post(f"orders/{made['id']}/receive/", {"received_on": "2025-06-05"}).status_code == 403


def test_the_number_of_queries_does_not_grow_with_the_orders(
    program: Program, django_assert_max_num_queries: Any
) -> None:
    for _each in range(6):
        make_order((make_material(), units(1)), (make_material(), units(1)))
    with django_assert_max_num_queries(14):
        assert len(program.read("orders/")["results"]) == 6
