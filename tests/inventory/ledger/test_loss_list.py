"""What was lost, given away and found, entry by entry: its total is the figure of the statement that leads there."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.html import escape

from inventory.ledger.models import Entry, Place, Reason
from inventory.stock.actions.stocktakes import Count, post_stocktake
from tests.days import TODAY
from tests.inventory.browsing import as_user, queries
from tests.making import (
    make_helper,
    make_lot,
    make_material,
    make_owner,
    make_submission,
    money,
    spill,
    take_back,
    units,
)

pytestmark = pytest.mark.django_db
LEDGER = "/ledger/"
DAYS = {"first": TODAY.isoformat(), "last": TODAY.isoformat()}


@pytest.fixture
def owner() -> Client:
    return as_user(make_owner())


@pytest.fixture(autouse=True)
def counted() -> None:
    """Of two litres at 0.01 a millilitre 36 mL are missing and 20 mL were found; 50 mL were spilled."""
    short, over = make_lot(material=make_material(name="Reed Green")), make_lot()
    spill(lot=over, quantity=units(30))
    spill(lot=over, quantity=units(20))
    counts = [Count(short, units(964)), Count(over, units(970))]
    post_stocktake(counts=counts, submission=make_submission())


def lines(client: Client, **asked: str) -> list[tuple[str, int, int]]:
    table = client.get(LEDGER, asked).context["table"]
    return [(row.account_name, -row.quantity, -row.money) for row in table.rows]


def test_each_loss_is_told_with_its_reason_amount_and_value(owner: Client) -> None:
    assert sorted(lines(owner, way="count", **DAYS)) == [
        (Reason.objects.get(kind="count").name, -units(36), -money("0.36")),
        ("Stocktake gain", units(20), money("0.20")),
    ]
    table = owner.get(LEDGER, {"way": "count", **DAYS}).context["table"]
    assert table.totals == {"money": -money("0.16")}


def test_the_year_end_leads_to_losses_that_come_to_its_figure(owner: Client) -> None:
    page = owner.get(reverse("costing:year-end"), DAYS)
    lost = [line for part in page.context["parts"] for line in part.lines if line.key.startswith("loss")]
    assert len(lost) > 2
    for line in lost:
        assert escape(line.url) in page.content.decode()
        assert owner.get(line.url).context["table"].totals == {"money": line.money}, line.key


def test_what_was_reversed_comes_to_nothing(owner: Client) -> None:
    spilled = Entry.objects.filter(place=Place.LOSS, reason__code="spilled")
    for entry in list(spilled):
        take_back(entry.posting)
    table = owner.get(LEDGER, {"reason": str(Reason.objects.get(code="spilled").pk)}).context["table"]
    assert (len(table.rows), table.totals) == (4, {"money": 0})


def test_reasons_say_what_left_for_each(owner: Client) -> None:
    rows: list[Any] = owner.get(reverse("inventory:reasons")).context["table"].rows
    worth = {row.code: row.money for row in rows if row.money}
    assert worth["spilled"] == money("0.50")


def test_a_helper_sees_what_was_lost_without_its_value() -> None:
    page = as_user(make_helper()).get(LEDGER, {"way": "count"})
    assert page.context["table"].totals == {}
    assert "£" not in page.content.decode()


def test_losses_take_the_same_queries_however_many_there_are(owner: Client) -> None:
    address = f"{LEDGER}?place=loss"
    queries(owner, address)
    few = queries(owner, address)
    for _ in range(3):
        spill(lot=make_lot(), quantity=units(5))
    assert queries(owner, address) == few
