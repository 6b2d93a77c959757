"""The pages of overhead, and the same for programs."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from costing.overhead.models import OverheadLine, OverheadYear
from studio.accounts.models import User
from studio.preferences.models import Rates
from tests.costing.overhead.stories import FIRST, LAST, a_year
from tests.costing.pages import as_user, text_of
from tests.costing.stories import two_ring_pours, use_rates
from tests.days import DAY
from tests.making import make_bookkeeper, make_helper, money
from tests.programs import Program

pytestmark = pytest.mark.django_db
LIST = "/settings/overhead/"


def page(year: OverheadYear) -> str:
    return f"{LIST}{year.pk}/"


def test_the_owner_enters_a_year_line_by_line_sees_the_arithmetic_and_takes_the_rate_over(
    owner: User,
) -> None:
    client = as_user(owner)
    sent = {
        "seen": "0",
        "starts_on": "2025-01-01",
        "ends_on": "2025-12-31",
        "hours": "175",
        "paid_in_total": "",
    }
    assert client.post(f"{LIST}new/", sent).status_code == 302
    year = OverheadYear.objects.get()
    assert "once you have entered a line with an estimate" in text_of(client.get(page(year)))
    for name, estimated in (("Rent", "240"), ("Insurance", "84"), ("Electricity", "96.00")):
        sent = {"seen": "0", "year": str(year.pk), "name": name, "estimated": estimated, "paid": ""}
        assert client.post(f"{LIST}lines/new/?year={year.pk}", sent).headers["Location"] == page(year)
    words = text_of(client.get(page(year)))
    assert "£420.00 estimated overhead ÷ 175 estimated hours = £2.40 an hour" in words
    assert "Use £2.40 an hour from 1 Jan 2025" in words
    assert "to see whether your work absorbed it" in words
    assert client.post(f"{page(year)}rate/").status_code == 302
    assert Rates.objects.get().overhead_per_hour == money("2.40")
    assert "Your rates have this overhead per hour since 1 Jan 2025" in text_of(client.get(page(year)))


@pytest.mark.parametrize(
    ("paid", "words"),
    [("4.50", "Under-absorbed £1.50"), ("2.00", "Over-absorbed £1.00"), ("3.00", "Fully absorbed £0.00")],
)
def test_the_page_says_what_was_absorbed_and_what_that_means(owner: User, paid: str, words: str) -> None:
    use_rates(overhead="3.00")
    two_ring_pours(minutes=60)
    year, client = a_year(("Rent", "3.00", paid)), as_user(owner)
    text = text_of(client.get(page(year)))
    assert words in text
    assert "1 hour logged, at the rate of its day" in text
    assert "not tax or legal advice" in text
    assert words.partition(" £")[0] in text_of(client.get(LIST))


def test_a_line_is_changed_and_deleted_and_the_year_goes_with_its_lines(owner: User) -> None:
    year, client = a_year(("Rent", "240", None), ("Insurance", "84", None)), as_user(owner)
    rent, insurance = year.lines.all()
    sent = {"seen": "99999", "year": str(year.pk), "name": "Rent", "estimated": "240", "paid": "250"}
    assert client.post(f"{LIST}lines/{rent.pk}/", sent).status_code == 302
    rent.refresh_from_db()
    assert rent.paid == money(250)
    assert client.post(f"{LIST}lines/{insurance.pk}/delete/", {"seen": "99999"}).status_code == 302
    assert list(year.lines.all()) == [rent]
    assert client.post(f"{page(year)}delete/", {"seen": "99999"}).status_code == 302
    assert not OverheadLine.objects.exists()


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"ends_on": "2024-12-31"}, "ends_on"),
        ({"ends_on": "2026-06-01"}, "ends_on"),
        ({"ends_on": "the end"}, "ends_on"),
        ({"hours": "0"}, "hours"),
        ({"hours": "1e9"}, "hours"),
        ({"hours": "all of them"}, "hours"),
        ({"paid_in_total": "-5"}, "paid_in_total"),
        ({"paid_in_total": "99999999999999"}, "paid_in_total"),
    ],
)
def test_a_senseless_year_comes_back_as_it_was_typed(owner: User, typed: dict[str, str], field: str) -> None:
    sent = {
        "seen": "0",
        "starts_on": "2025-01-01",
        "ends_on": "2025-12-31",
        "hours": "520",
        "paid_in_total": "",
    }
    response = as_user(owner).post(f"{LIST}new/", sent | typed)
    assert response.status_code == 422
    assert field in response.context["form"].errors
    assert not OverheadYear.objects.exists()


def test_a_rate_that_cannot_be_worked_out_is_refused_in_words(owner: User) -> None:
    response = as_user(owner).post(f"{page(a_year())}rate/", follow=True)
    assert "Enter at least one line of overhead with an estimate first" in text_of(response)
    assert not Rates.objects.exists()


def test_only_the_owner_sees_the_pages() -> None:
    year = a_year()
    for person in (make_helper(may_see_money=True), make_bookkeeper()):
        for address in (LIST, page(year)):
            assert as_user(person).get(address).status_code == 403


def test_the_list_asks_the_database_as_often_for_many_years_as_for_one(owner: User) -> None:
    client, counts = as_user(owner), []
    for number in range(4):
        a_year(("Rent", "240", "250"), first=FIRST, last=LAST - DAY * number)
        client.get(LIST)
        with CaptureQueriesContext(connection) as asked:
            client.get(LIST)
        counts.append(len(asked))
    assert len(set(counts)) == 1


def test_a_program_adds_a_year_with_its_lines_and_takes_its_rate_over(owner: User) -> None:
    program = Program(owner)
    body = {
        "starts_on": "2025-01-01",
        "ends_on": "2025-12-31",
        "hours": 175,
        "lines": [
            {"name": "Rent", "estimated": "240.00", "paid": "250.00"},
            {"name": "Insurance", "estimated": "180.00", "paid": "170.00"},
        ],
    }
    added = program.send("overhead/", body)
    assert (added["estimated"], added["rate"], added["paid"]) == ("420.000000", "2.400000", "420.000000")
    assert (added["absorbed"], added["difference"]) == ("0.000000", "420.000000")
    assert program.read("overhead/")["results"] == [added]
    assert program.send(f"overhead/{added['id']}/rate/", status=200) == added
    assert Rates.objects.get().overhead_per_hour == money("2.40")
    assert "starts_on" in program.refusal("overhead/", body, status=400)["errors"]
    assert program.post("overhead/", body | {"hours": 0}).status_code == 400
    twice = body | {"ends_on": "2025-11-30", "lines": [body["lines"][0]] * 2}  # type: ignore[index]
    assert program.post("overhead/", twice).status_code == 400
    assert OverheadYear.objects.count() == 1


def test_programs_of_those_who_see_money_read_it_and_only_the_owners_write(owner: User) -> None:
    year = a_year(("Rent", "240", None))
    bookkeeper = Program(make_bookkeeper())
    assert bookkeeper.read(f"overhead/{year.pk}/")["difference"] is None
    assert bookkeeper.post(f"overhead/{year.pk}/rate/").status_code == 403
    assert Program(make_helper()).get("overhead/").status_code == 403
