"""Selling over JSON: sales once each, sales channels, and the price list."""

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from costing.pieces.calculations import State
from costing.selling.actions import sell
from costing.selling.models import Sale
from studio.accounts.models import User
from tests.costing.stories import LATER, a_piece
from tests.making import make_submission, money
from tests.programs import Program
from tests.small_studio import SmallStudio

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


@pytest.fixture
def program(owner: User) -> Program:
    return Program(owner)


def sale(built: SmallStudio, **change: Any) -> dict[str, Any]:
    return {
        "piece": built.for_sale.pk,
        "channel": built.channel.pk,
        "price": "60.00",
        "on": LATER.isoformat(),
    } | change


def test_a_sale_takes_tax_and_fees_from_the_price(built: SmallStudio, program: Program) -> None:
    made = program.send("sales/", sale(built), key="till")
    # 60.00 with 20 % tax inside: 10.00 tax; 40 % commission of 50.00; card 1.75 % of 60.00.
    [line] = made["lines"]
    assert [line[name] for name in ("tax", "commission", "card_fee")] == [
        "10.000000",
        "20.000000",
        "1.050000",
    ]
    assert made["net_proceeds"] == "28.950000"
    assert program.send("sales/", sale(built), key="till", status=200) == made
    assert program.read(f"sales/{made['id']}/") == made
    assert Sale.objects.count() == 2


def test_a_piece_is_sold_once(built: SmallStudio, program: Program) -> None:
    program.send("sales/", sale(built))
    refused = program.refusal("sales/", sale(built), status=409)
    assert refused["kind"] == "pieces-gone"
    assert Sale.objects.count() == 2


@pytest.mark.parametrize(
    ("change", "status"),
    [
        ({"price": "0"}, 422),
        ({"price": "60.001"}, 422),
        ({"price": 60.001}, 422),
        ({"price": [60]}, 400),
        ({"price": "9" * 11}, 400),
        ({"channel": 0}, 400),
        ({"piece": 10**9}, 400),
        ({"on": "2999-01-01"}, 422),
        ({"haggled": "2.00"}, 400),
        ({"lines": [{"piece": 1, "price": "60.00"}]}, 400),
        ({"piece": None, "price": None}, 400),
    ],
)
def test_a_sale_that_makes_no_sense_is_refused(
    built: SmallStudio, program: Program, change: dict[str, Any], status: int
) -> None:
    program.refusal("sales/", sale(built, **change), status=status)
    assert Sale.objects.count() == 1


def test_sales_are_chosen_by_day_route_piece_and_return(built: SmallStudio, program: Program) -> None:
    assert program.read("sales/", piece=built.sold.pk, channel=built.channel.pk, first=LATER)["count"] == 1
    assert program.read("sales/", returned="true")["count"] == 0
    assert program.read("sales/", sort="-proceeds")["count"] == 1
    assert program.read("sales/", last="2020-01-01")["count"] == 0


def test_the_price_list_has_what_is_for_sale_and_priced(built: SmallStudio, program: Program) -> None:
    [row] = program.read("price-list/")["results"]
    assert (row["title"], row["price"], row["price_formatted"]) == ("Slack tide", "61.770000", "£61.77")
    assert row["size_cm"] == "30 × 30\xa0cm"
    assert program.read("price-list/", state="reserved")["count"] == 0
    assert program.get("price-list/", state="sold").status_code == 400


def test_selling_lists_take_the_same_queries_however_long_they_are(
    built: SmallStudio, program: Program
) -> None:
    def queries(path: str) -> int:
        program.read(path)
        with CaptureQueriesContext(connection) as made:
            program.read(path)
        return len(made)

    few = {path: queries(path) for path in ("sales/", "price-list/", "sales-channels/")}
    for number in range(6):
        a_piece(title=f"Listed {number}", state=State.FOR_SALE, price="20.00")
        gone = a_piece(title=f"Gone {number}", state=State.FOR_SALE, price="20.00")
        sell(piece=gone, channel=built.channel, price=money(20), submission=make_submission(on=LATER))
    assert {path: queries(path) for path in few} == few


def test_prices_are_for_those_who_see_money_and_a_helper_sells_all_the_same(
    built: SmallStudio, helper: User, bookkeeper: User
) -> None:
    for path in ("price-list/",):
        assert Program(helper).get(path).status_code == 403
        assert Program(bookkeeper).get(path).status_code == 200
    assert Program(bookkeeper).post("sales/", sale(built)).status_code == 403
    made = Program(helper).send("sales/", sale(built))
    assert made["price"] == "60.000000"
    hidden = {"tax", "fees", "net_proceeds", "cost", "profit", "commission", "postage_paid"}
    assert not hidden & {*made, *made["lines"][0]}
    channel = next(
        each
        for each in Program(helper).read("sales-channels/")["results"]
        if each["id"] == sale(built)["channel"]
    )
    assert (channel["payment"], "commission" in channel, "card_rate" in channel) == ("cash", False, False)
