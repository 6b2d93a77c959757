"""What comes in is set against what came in before: a wrong pack size or price is asked about, and confirmed once."""

import itertools
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.materials.models import Material
from inventory.purchasing.actions.deliveries import receive_delivery
from inventory.purchasing.actions.delivery_facts import LineFacts
from inventory.purchasing.models import Delivery
from studio.accounts.models import User
from studio.errors import NeedsConfirmation, Question
from tests.days import DAY, TODAY
from tests.inventory.browsing import as_user, text_of
from tests.inventory.purchasing.test_delivery_file_pages import head, upload
from tests.inventory.purchasing.test_delivery_logging_page import sent
from tests.inventory.sessions.test_session_questions import asked
from tests.making import (
    delivery_facts,
    make_delivery,
    make_helper,
    make_material,
    make_submission,
    make_supplier,
    money,
    take_back,
    units,
)
from tests.programs import Program

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]

RECEIVED = "Sail Loft White received: 80 L. Your last 5 were 500 mL to 1 L."
COST = "Cost of Sail Loft White: £195.00 per 100 mL. Your last 5 were £1.90 per 100 mL to £2.00 per 100 mL."


@pytest.fixture
def paint(db: None) -> Material:
    """Five deliveries of half a litre or one lie behind her, at 1.9 to 2 pence a millilitre."""
    paint = make_material(name="Sail Loft White")
    for quantity, price in ((500, "9.50"), (500, "10"), (1000, "19"), (500, "9.75"), (1000, "20")):
        make_delivery(lines=[(paint, units(quantity), money(price))], on=TODAY - DAY)
    return paint


def questions(*lines: LineFacts, **facts: Any) -> list[Question]:
    asking = delivery_facts(lines=list(lines), supplier=make_supplier(), **facts)
    try:
        receive_delivery(facts=asking, submission=make_submission(confirmed=()))
    except NeedsConfirmation as refusal:
        return list(refusal.questions)
    return []


def texts(*lines: LineFacts, **facts: Any) -> list[str]:
    return [each.text.replace("\xa0", " ") for each in questions(*lines, **facts)]


def test_a_wrong_pack_size_is_asked_about_by_the_amount(paint: Material) -> None:
    [question] = questions(LineFacts(paint, units(8_000), money(19), packs=10))
    assert (question.text.replace("\xa0", " "), question.is_money) == (RECEIVED, False)


def test_a_slip_in_the_price_is_asked_about_by_the_cost(paint: Material) -> None:
    [question] = questions(LineFacts(paint, units(500), money(975)))
    assert (question.text.replace("\xa0", " "), question.is_money) == (COST, True)


def test_far_more_that_cost_nothing_is_asked_about(paint: Material) -> None:
    assert texts(LineFacts(paint, units(80_000))) == [RECEIVED]


@pytest.mark.parametrize(
    ("pack", "packs", "price"), [(500, 1, "9.90"), (1000, 30, "540"), (250, 1, "6.50"), (500, 2, 0)]
)
def test_a_large_order_a_small_pack_and_a_free_sample_are_not_asked_about(
    paint: Material, pack: int, packs: int, price: str
) -> None:
    assert texts(LineFacts(paint, units(pack), money(price), packs=packs)) == []


def test_a_cost_counts_with_its_share_of_carriage(paint: Material) -> None:
    line = LineFacts(paint, units(500), money("9.50"))
    assert texts(line, carriage=money(5)) == []
    assert [each.topic for each in questions(line, carriage=money(500))] == ["unit-cost"]


def test_reversed_deliveries_are_no_history(paint: Material) -> None:
    for delivery in Delivery.objects.order_by("pk")[:2]:
        take_back(delivery.posting)
    assert texts(LineFacts(paint, units(80_000), money(19))) == []


def test_two_lines_alike_are_asked_about_once(paint: Material) -> None:
    line = LineFacts(paint, units(80_000), money(19))
    assert texts(line, line) == [RECEIVED]


def test_a_delivery_takes_the_same_queries_however_many_lines_and_past_deliveries(paint: Material) -> None:
    def counted(count: int) -> int:
        lines = [LineFacts(paint, units(500), money(10)) for _line in range(count)]
        facts = delivery_facts(lines=lines, supplier=make_supplier())
        with CaptureQueriesContext(connection) as queries:
            receive_delivery(facts=facts, submission=make_submission(confirmed=()))
        return len(queries)

    assert counted(30) == counted(1)


def test_the_page_asks_and_records_who_confirmed(signed: Client, paint: Material) -> None:
    address, before = reverse("inventory:delivery-new"), Delivery.objects.count()
    data = sent(
        {"material": paint.pk, "pack": "8 l", "packs": "10", "price": "19.00"},
        {"material": paint.pk, "pack": "500 ml", "packs": "1", "price": "975.00"},
    )
    response = signed.post(address, data)
    assert (response.status_code, Delivery.objects.count()) == (422, before)
    assert RECEIVED in text_of(response)
    assert 'value="8 l"' in response.content.decode()

    made = signed.post(address, data | {"confirm": asked(response)})
    delivery = Delivery.objects.latest("pk")
    assert made["Location"] == reverse("inventory:delivery", args=[delivery.pk])
    words = text_of(signed.get(made["Location"]))
    assert f"{RECEIVED} Confirmed by owner" in words
    assert f"{COST} Confirmed by owner" in words
    # Who sees no money is not told it by what was confirmed.
    for page in (made["Location"], reverse("inventory:posting", args=[delivery.posting_id])):
        words = text_of(as_user(make_helper()).get(page))
        assert f"{RECEIVED} Confirmed by owner" in words
        assert "£" not in words


def test_a_program_is_asked_and_money_is_told_only_to_who_may_see_it(owner: User, paint: Material) -> None:
    body = {
        "supplier": make_supplier().pk,
        "received_on": TODAY.isoformat(),
        "lines": [
            {"material": paint.pk, "pack": "8 l", "packs": 10, "price": "19.00"},
            {"material": paint.pk, "pack": "500 ml", "price": "975.00"},
        ],
    }
    program = Program(owner)
    refused = program.refusal("deliveries/", body, key="van", status=409)
    tokens = [each["token"] for each in refused["questions"]]
    assert [each["topic"] for each in refused["questions"]] == ["received", "unit-cost"]
    still = program.refusal("deliveries/", body | {"confirmed": tokens[:1]}, key="van", status=409)
    assert [each["token"] for each in still["questions"]] == tokens[1:]
    made = program.send("deliveries/", body | {"confirmed": tokens}, key="van")
    assert [each["topic"] for each in made["confirmed"]] == ["received", "unit-cost"]
    told = Program(make_helper()).read(f"postings/{made['posting']}/")["posting"]["confirmed"]
    assert [each["topic"] for each in told] == ["received"]


FILE = "material,quantity,packs,price\nSail Loft White,8 l,10,19.00\nSail Loft White,500 ml,1,975.00\n"


def test_a_file_is_asked_about_after_its_lines_were_seen(signed: Client, paint: Material) -> None:
    address, supplier = reverse("inventory:delivery-file"), make_supplier()
    preview = signed.post(address, head(supplier, file=upload(FILE)))
    shown = head(supplier, carried=preview.context["form"].to_carry, seen=preview.context["seen"])
    response = signed.post(address, shown)
    assert response.status_code == 422
    assert RECEIVED in text_of(response)
    assert signed.post(address, shown | {"confirm": asked(response)}).status_code == 302
    assert len(Delivery.objects.latest("pk").posting.confirmed) == 2


def test_the_command_names_what_to_confirm(owner: User, paint: Material, tmp_path: Path) -> None:
    file = tmp_path / "lines.csv"
    file.write_text(FILE)
    supplier, before = make_supplier(), Delivery.objects.count()
    named = [
        "receive_file",
        str(file),
        "--supplier",
        supplier.name,
        "--received-on",
        TODAY.isoformat(),
        "--by",
        "owner",
    ]
    with pytest.raises(CommandError) as refusal:
        call_command(*named)
    assert Delivery.objects.count() == before
    words = str(refusal.value).replace("\xa0", " ").split()
    tokens = [token for flag, token in itertools.pairwise(words) if flag == "--confirm"]
    assert len(tokens) == 2
    call_command(*named, *(part for token in tokens for part in ("--confirm", token)), stdout=StringIO())
    assert Delivery.objects.count() == before + 1
