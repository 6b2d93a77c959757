"""The year end by page, file, paper and program; who sees it, and what is refused."""

import csv
from datetime import date
from io import StringIO

import pypdfium2
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.reports.forms import usual_period
from costing.reports.models import WriteDown
from costing.reports.queries import Period
from costing.reports.stages import owned_on
from costing.selling.actions import sell
from inventory.ledger.models import Posting
from studio.accounts.models import User
from tests.costing.pages import as_user, text_of
from tests.costing.stories import LATER, a_piece, make_channel, use_rates
from tests.days import TODAY
from tests.inventory.browsing import KEY, queries
from tests.making import make_lot, make_pour, make_submission, money, units

pytestmark = pytest.mark.django_db
PERIOD = {"first": "2025-06-01", "last": "2025-06-30"}
YEAR_END, WRITE_DOWNS = "/year-end/", "/year-end/write-downs/"


@pytest.fixture(autouse=True)
def month() -> None:
    """Three pieces with 5.50 of material each; one was sold for 30.00, one is offered for less than its materials."""
    use_rates()
    stall = make_channel()
    sold, cheap, _kept = (
        a_piece(title=title, state=State.FOR_SALE, price="30.00") for title in ("Ebb", "Flood", "Neap")
    )
    sell(piece=sold, channel=stall, price=money(30), submission=make_submission(on=LATER))
    cheap.price = money(2)
    cheap.save(update_fields=["price"])


def test_the_page_shows_the_period_and_its_figures_lead_to_what_is_behind_them(owner: User) -> None:
    client = as_user(owner)
    page = client.get(YEAR_END, PERIOD)
    words = text_of(page)
    assert "Cost of sales £5.50" in words
    assert "Gross profit £24.50" in words
    assert "Finished pieces left at the end −£11.00" in words
    behind = [line.url for part in page.context["parts"] for line in part.lines if line.url]
    assert behind
    assert {client.get(url).status_code for url in behind} == {200}


def test_what_was_owned_says_how_much_of_which_lot_and_at_what_unit_cost(owner: User) -> None:
    client, lot = as_user(owner), make_lot(quantity=units(500), cost=money(10))
    day = {"day": "2025-06-30"}
    assert "500 mL £2.00 per 100 mL £10.00" in text_of(client.get("/year-end/owned/", day))
    file = client.get("/year-end/owned/", {**day, "export": "csv"}).content.decode("utf-8-sig")
    (row,) = [row for row in csv.DictReader(StringIO(file)) if row["Lot"] == lot.label]
    assert (row["Quantity"], row["Quantity, unit"], row["Cost (GBP)"]) == ("500", "mL", "10.00")


def test_pours_are_read_to_be_named_and_not_to_be_summed(owner: User) -> None:
    pours = [make_pour() for _ in range(3)]
    with CaptureQueriesContext(connection) as seen:
        owned = owned_on(TODAY)
    assert {each.pour for each in owned if each.pour} == {pour.pk for pour in pours}
    assert not [each["sql"] for each in seen if 'FROM "inventory_pour"' in each["sql"]]
    words = text_of(as_user(owner).get("/year-end/owned/", {"day": TODAY.isoformat()}))
    assert all(f"{pour.label}, {pour.session}" in words for pour in pours)


def test_without_a_period_it_is_the_last_year_that_is_over_and_a_wrong_one_says_what_to_do(
    owner: User,
) -> None:
    client = as_user(owner)
    assert "Year end" in text_of(client.get(YEAR_END))
    for asked, advice in (
        ({"first": "2025-06-30", "last": "2025-06-01"}, "Use the first day or a later one."),
        ({"first": "2025-06-30"}, "Enter this day too."),
        ({"first": "2010-01-01", "last": "2025-06-01"}, "at most ten years"),
        ({"first": "2998-06-01", "last": "2999-01-01"}, "Use today or an earlier day."),
        ({"first": "0001-01-01", "last": "0001-12-31"}, "Use a day from 1970 on."),
    ):
        answer = client.get(YEAR_END, asked)
        assert (answer.status_code, advice in text_of(answer)) == (422, True), asked
        assert "Net sales" not in text_of(answer)


def test_a_period_that_ends_in_the_future_is_shown_up_to_today(owner: User) -> None:
    answer = as_user(owner).get(YEAR_END, {"first": "2025-06-01", "last": "2999-01-01"})
    assert answer.status_code == 200
    assert answer.context["found"].period == Period(date(2025, 6, 1), timezone.localdate())
    assert "up to today" in text_of(answer)


def test_the_usual_period_is_this_year_where_the_books_began_in_it(owner: User) -> None:
    begun = Posting.objects.order_by("effective_on")[0].effective_on
    assert usual_period(date(begun.year, 12, 1)) == Period(date(begun.year, 1, 1), date(begun.year, 12, 1))
    assert usual_period(date(begun.year + 1, 3, 1)) == Period(
        date(begun.year, 1, 1), date(begun.year, 12, 31)
    )


def test_one_link_asks_for_the_year_so_far(owner: User) -> None:
    client, today = as_user(owner), timezone.localdate()
    [this_year] = [link for link in client.get(YEAR_END).context["periods"] if link.label == "This year"]
    page = client.get(YEAR_END + this_year.href)
    assert page.context["found"].period == Period(date(today.year, 1, 1), today)
    assert [link.label for link in page.context["periods"] if link.is_shown] == [this_year.label]
    assert not page.context["is_cut"]


def test_the_first_day_there_is_is_answered_in_words(owner: User) -> None:
    client = as_user(owner)
    assert client.get("/earnings/", {"first": "0001-01-01"}).status_code == 200
    answer = client.get("/api/year-end/", {"first": "0001-01-01", "last": "0001-12-31"})
    assert (answer.status_code, "Use a day from 1970 on." in answer.content.decode()) in {
        (400, True),
        (422, True),
    }


def test_the_file_has_every_line_with_its_part(owner: User) -> None:
    answer = as_user(owner).get(YEAR_END, PERIOD | {"export": "csv"})
    rows = list(csv.reader(StringIO(answer.content.decode("utf-8-sig"))))
    assert rows[0][0] == "Part"
    assert ["Profit", "Gross profit", "24.50"] in [row[:3] for row in rows]


@pytest.mark.parametrize("paper", ["A4", "A5", "Letter"])
def test_the_paper_carries_the_lines_and_the_seal(owner: User, paper: str) -> None:
    answer = as_user(owner).get(reverse("costing:year-end-paper"), PERIOD | {"paper": paper})
    with pypdfium2.PdfDocument(answer.content) as pdf:
        words = " ".join(page.get_textpage().get_text_range() for page in pdf)
    assert all(text in words for text in ("Year end", "Gross profit", "£24.50", "Check figure"))
    refused = as_user(owner).get(reverse("costing:year-end-paper"), PERIOD | {"paper": "A9"})
    assert refused.status_code == 302


def test_stock_below_its_cost_is_written_down_by_its_page(owner: User) -> None:
    client = as_user(owner)
    asked = {"day": "2025-06-30"}
    page = client.get(WRITE_DOWNS, asked)
    assert "Flood" in text_of(page)
    (name,) = page.context["form"].proposals
    sent = {"key": KEY, "on": "2025-06-30", f"take-{name}": "on", f"value-{name}": "", "note": ""}
    refused = client.post(f"{WRITE_DOWNS}?day=2025-06-30", sent)
    assert "Enter what it will bring" in text_of(refused)
    assert client.post(f"{WRITE_DOWNS}?day=2025-06-30", sent | {f"value-{name}": "2.00"}).status_code == 302
    assert WriteDown.objects.get().amount == money("3.50")
    assert "Nothing to write down" in text_of(client.get(WRITE_DOWNS, asked))
    assert "less stock written down −£3.50" in text_of(client.get(YEAR_END, PERIOD))


def test_programs_read_the_lines_and_write_down_once(owner: User, helper: User) -> None:
    client = as_user(owner)
    lines = client.get("/api/year-end/", PERIOD).json()["results"]
    assert next(line["amount"] for line in lines if line["key"] == "gross-profit") == "24.500000"
    assert client.get("/api/year-end/", {"first": "2025-06-01"}).status_code in (400, 422)
    piece = Piece.objects.get(title="Flood")
    body = {"on": "2025-06-30", "items": [{"piece": piece.pk, "value": "2.00"}]}
    headers = {"Idempotency-Key": "w1"}
    first, again = (
        client.post("/api/write-downs/", body, content_type="application/json", headers=headers)
        for _time in range(2)
    )
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json()["items"][0]["amount"] == "3.500000"
    assert as_user(helper).get("/api/year-end/", PERIOD).status_code == 403
    assert as_user(helper).get(YEAR_END).status_code == 403


def test_the_page_asks_the_database_as_often_for_ten_pieces_as_for_three(owner: User) -> None:
    client = as_user(owner)
    few = queries(client, f"{YEAR_END}?first=2025-06-01&last=2025-06-30")
    for number in range(7):
        a_piece(title=f"Bore {number}", state=State.FOR_SALE, price="30.00")
    assert queries(client, f"{YEAR_END}?first=2025-06-01&last=2025-06-30") == few
