"""A delivery from a file: thirty lines in mixed units end to end, and every way such a file can be wrong."""

from decimal import Decimal
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from inventory.ledger.models import Lot, Posting
from inventory.ledger.verification import check
from inventory.materials.models import Material, Supplier
from inventory.purchasing.actions.delivery_facts import DeliveryHeader
from inventory.purchasing.file_import.actions import Received, receive_file
from inventory.purchasing.file_import.reading import DeliveryFileError
from inventory.purchasing.models import Delivery
from studio.errors import InputError
from tests.days import TODAY
from tests.making import (
    make_bookkeeper,
    make_helper,
    make_material,
    make_owner,
    make_submission,
    make_supplier,
    make_surface,
    make_water,
    money,
    take_back,
)

HEADING = "material,quantity,packs,price,best before,place,batch,kind\n"


# Receiving


def receive(text: str, **facts: Any) -> Received:
    create = facts.pop("create_materials", False)
    return receive_file(
        raw=text.encode("utf-8-sig"),
        header=header(**facts),
        create_materials=create,
        submission=make_submission(),
    )


def header(**facts: Any) -> DeliveryHeader:
    supplier = Supplier.objects.first() or make_supplier()
    return DeliveryHeader(
        supplier, **{"received_on": TODAY, "home_currency": "GBP", "currency": "GBP", **facts}
    )


THIRTY = [
    # material, quantity of one pack, packs, price of the line, thousandths that makes
    ("Paint", "8 fl oz", 2, "14.00", 2 * 227_305),
    ("Paint", "1/2 l", 1, "11.50", 500_000),
    ("Paint", "2 1/2 cl", 4, "6.40", 100_000),
    ("Paint", "1 pint", 1, "12.25", 568_261),
    ("Paint", "340 g", 1, "7.10", 303_571),  # at 1.12 g/mL
    ("Paint", "12 oz weight", 1, "8.00", 303_745),
    ("Paste", "340 g", 3, "21.00", 1_020_000),
    ("Paste", "1 lb", 1, "9.99", 453_592),
    ("Paste", "250 ml", 1, "8.80", 375_000),  # at 1.5 g/mL
    ("Paste", "0.5 kg", 1, "10.00", 500_000),
    ("Canvas", "2 each", 5, "35.00", 10_000),
    ("Canvas", "1 dozen", 1, "40.00", 12_000),
    ("Canvas", "1", 1, "4.20", 1_000),
    ("Cloth", "1 m2", 1, "5.00", 10_000_000),
    ("Cloth", "2 sq ft", 2, "3.00", 3_716_122),
    ("Wire", "5 m", 1, "2.50", 500_000),
    ("Wire", "12 in", 1, "0.60", 30_480),
    ("Wire", "1 ft", 3, "1.80", 91_440),
    *[("Paint", f"{number} ml", 1, f"{number}.00", number * 1000) for number in range(1, 13)],
]


@pytest.fixture
def shop(db: None) -> Supplier:
    make_material(name="Paint", density=1_120_000)
    make_material(name="Paste", measure="mass", density=1_500_000)
    make_surface(name="Canvas")
    make_material(name="Cloth", kind="sundry", measure="area")
    make_material(name="Wire", kind="sundry", measure="length")
    make_water(name="Tap water")
    return make_supplier(name="Tern & Gull")


def thirty_lines() -> str:
    rows = (f"{name},{quantity},{packs},{price}\n" for name, quantity, packs, price, _ in THIRTY)
    return "material,quantity,packs,price\n" + "".join(rows)


def test_thirty_lines_in_mixed_units_come_in_with_their_share_of_the_carriage(shop: Supplier) -> None:
    received = receive(thirty_lines(), carriage=money("5.99"), duty=money("3.00"), tax=money("1.01"))
    lines = list(received.delivery.lines.select_related("lot__balance"))
    assert len(lines) == 30
    assert [line.quantity for line in lines] == [quantity for *_, quantity in THIRTY]
    prices = [money(price) for _, _, _, price, _ in THIRTY]
    assert [line.price for line in lines] == prices
    assert sum(line.landed for line in lines) == sum(prices) + money(10)
    exact = [price * (sum(prices) + money(10)) // sum(prices) for price in prices]
    assert all(abs(line.landed - share) <= 3 for line, share in zip(lines, exact, strict=True))
    assert [(line.lot.balance.quantity, line.lot.balance.money) for line in lines] == [
        (line.quantity, line.landed) for line in lines
    ]
    assert lines[0].typed == "8 fl oz"
    assert received.delivery.posting.lines == 60
    assert check().is_clean


def test_the_same_file_twice_posts_nothing_new_whoever_sends_it(shop: Supplier) -> None:
    first = receive(thirty_lines())
    again = receive_file(
        raw=thirty_lines().encode("utf-8-sig"),
        header=header(carriage=money(9)),
        submission=make_submission(by=make_helper()),
    )
    assert (first.is_new, again.is_new) == (True, False)
    assert again.delivery == first.delivery
    assert Posting.objects.count() == 1


def test_a_file_can_be_received_again_once_its_delivery_was_reversed(shop: Supplier) -> None:
    first = receive(thirty_lines())
    take_back(first.delivery.posting)
    again = receive(thirty_lines(), carriage=money(5))
    assert again.is_new
    assert not receive(thirty_lines()).is_new


def test_one_bad_line_posts_nothing(shop: Supplier) -> None:
    with pytest.raises(DeliveryFileError) as refusal:
        receive(thirty_lines() + "Paint,a lot,1,1\nPaint,1 l,1,dear\n")
    assert [problem.line for problem in refusal.value.problems] == [32, 33]
    assert not Posting.objects.exists()
    assert not Lot.objects.exists()


def test_foreign_prices_are_changed_at_the_rate(shop: Supplier) -> None:
    received = receive(HEADING + "Paint,1 l,1,10.00\n", currency="EUR", rate=Decimal("0.86"))
    assert received.delivery.lines.get().landed == money("8.60")
    assert received.delivery.rate_on == TODAY


def test_carriage_can_be_shared_by_weight(shop: Supplier) -> None:
    text = HEADING + "Paste,1 kg,1,1.00\nPaste,3 kg,1,1.00\n"
    lines = receive(text, carriage=money(4), carriage_shared_by="mass").delivery.lines.all()
    assert [line.landed for line in lines] == [money(2), money(4)]


def test_new_materials_are_added_only_with_the_delivery(shop: Supplier) -> None:
    new = HEADING + "Kelp green,340 g,1,5,,,,paint\nKelp green,1 kg,1,9\n"
    with pytest.raises(DeliveryFileError):
        receive(new)
    with pytest.raises(DeliveryFileError):
        receive(new + "Paint,oops,1,1\n", create_materials=True)
    assert not Material.objects.filter(name="Kelp green").exists()
    received = receive(new, create_materials=True)
    assert [(material.name, material.kind, material.measure) for material in received.created] == [
        ("Kelp green", "paint", "mass")
    ]
    assert received.delivery.lines.filter(lot__material__name="Kelp green").count() == 2


# The command


def run(file: Path, *options: str) -> str:
    said = StringIO()
    make_owner()
    fixed = ["--supplier", "tern & gull", "--received-on", "2025-06-10", "--by", "owner"]
    call_command("receive_file", str(file), *fixed, *options, stdout=said)
    return said.getvalue()


@pytest.fixture
def file(tmp_path: Path, shop: Supplier) -> Path:
    path = tmp_path / "delivery.csv"
    path.write_text(thirty_lines(), encoding="utf-8-sig")
    return path


def test_the_command_receives_a_file_and_says_what_came(file: Path) -> None:
    told = run(file, "--carriage", "5.99", "--reference", "INV 77")
    delivery = Delivery.objects.get()
    assert (delivery.carriage, delivery.reference) == (money("5.99"), "INV 77")
    assert "30 lines" in told
    assert "Paint: 454.61\u00a0mL" in told


def test_the_command_says_when_a_file_had_come_before(file: Path) -> None:
    run(file)
    assert "has already been imported as delivery" in run(file)
    assert Delivery.objects.count() == 1


def test_a_dry_run_posts_nothing(file: Path) -> None:
    assert "dry run" in run(file, "--dry-run")
    assert not Posting.objects.exists()


def test_the_command_names_every_bad_line(file: Path) -> None:
    file.write_text(HEADING + "Paint,oops,1,1\nNope,1 l,1,1\n")
    with pytest.raises(CommandError, match=r"(?s)line 2, Pack size.*line 3, Material"):
        run(file)


def test_the_command_takes_a_rate_to_its_last_decimal_or_what_was_paid(file: Path) -> None:
    file.write_text(HEADING + "Paint,1 l,1,1000000.00\nPaint,1 l,2,333333.33\n")
    assert "2 lines, £41.87" in run(file, "--currency", "IDR", "--paid", "41.87")
    take_back(Posting.objects.get())
    run(file, "--currency", "IDR", "--rate", "0.0000314")
    # 1,333,333.33 × 0.0000314 = 41.866666562 by arithmetic, rounded once to the millionth
    assert sum(line.landed for line in Delivery.objects.latest("pk").lines.all()) == money("41.866667")


def test_the_command_asks_for_what_is_missing(file: Path) -> None:
    with pytest.raises(CommandError) as refusal:
        run(file, "--currency", "EUR")
    assert isinstance(refusal.value.__cause__, InputError)
    assert refusal.value.__cause__.field == "rate"
    with pytest.raises(CommandError, match="There is no supplier called"):
        run(file, "--supplier", "Nobody")
    with pytest.raises(CommandError, match="cannot be read"):
        run(file.with_name("none.csv"))
    with pytest.raises(CommandError, match="weight of Canvas is unknown"):
        run(file, "--carriage", "5", "--shared-by", "mass")
    make_bookkeeper()
    with pytest.raises(CommandError, match="not allowed to receive"):
        run(file, "--by", "bookkeeper")
    assert not Posting.objects.exists()
