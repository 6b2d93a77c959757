"""Hourly rates and tax, each from its day: listed, added, changed and deleted by the owner; read by programs."""

from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.accounts.models import User
from studio.preferences.models import Rates, Studio
from studio.preferences.rates import DatedRates
from studio.values.dated import Held
from tests.days import DAY, TODAY, june
from tests.inventory.browsing import as_user, queries, text_of
from tests.making import make_helper, make_rates, money
from tests.programs import Program
from tests.two_tabs import Tab

pytestmark = pytest.mark.django_db


def page(client: Client, name: str, *args: Any) -> Tab:
    address = reverse(name, args=args)
    return Tab(client, address, address)


def test_rates_are_typed_as_people_type_them_and_what_is_blank_stays(signed: Client) -> None:
    page(signed, "rates-new").send(
        holds_from="", wage_per_hour="14.50", overhead_per_hour="2.4", tax_rate="20"
    )
    page(signed, "rates-new").send(holds_from="2025-06-05", wage_per_hour="£16")
    first, rise = Rates.objects.all()
    assert (first.holds_from, first.wage_per_hour, first.overhead_per_hour, first.tax_rate) == (
        None, money("14.50"), money("2.40"), 200_000,
    )  # fmt: skip
    assert (rise.holds_from, rise.wage_per_hour, rise.overhead_per_hour, rise.tax_rate) == (
        june(5), money(16), None, None,
    )  # fmt: skip
    held = DatedRates.read().on(TODAY)
    assert held.wage == Held(money(16), june(5))
    assert (held.overhead, held.tax) == (Held(money("2.40"), None), Held(200_000, None))


def test_new_rates_begin_today_unless_another_day_is_typed(signed: Client) -> None:
    assert page(signed, "rates-new").fields["holds_from"] == timezone.localdate().isoformat()


@pytest.mark.parametrize("locale", ["en_GB", "de_DE"])
def test_saved_as_they_were_opened_rates_are_the_same(signed: Client, locale: str) -> None:
    Studio.objects.update(locale=locale)
    made = [
        make_rates(wage_per_hour=money("14.50"), tax_rate=25_500),
        make_rates(june(5), overhead_per_hour=0),
    ]
    before = list(Rates.objects.values())
    for row in made:
        assert page(signed, "rates-edit", row.pk).send().redirect_chain
    assert list(Rates.objects.values()) == before


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"holds_from": "2025-06-05"}, "holds_from"),
        ({"holds_from": ""}, "holds_from"),
        ({"holds_from": "0001-01-01"}, "holds_from"),  # nothing comes before it: the beginning itself
        ({"holds_from": "5 June"}, "holds_from"),
        ({"wage_per_hour": ""}, "__all__"),
        ({"wage_per_hour": "-3"}, "wage_per_hour"),
        ({"wage_per_hour": "3.005"}, "wage_per_hour"),
        ({"tax_rate": "120"}, "tax_rate"),
        ({"tax_rate": "2.²"}, "tax_rate"),
    ],
)
def test_a_wrong_entry_is_refused_at_its_field(signed: Client, typed: dict[str, str], field: str) -> None:
    make_rates(wage_per_hour=1)
    make_rates(june(5), wage_per_hour=1)
    sent = page(signed, "rates-new").fields | {"holds_from": "2025-06-06", "wage_per_hour": "3"} | typed
    answer: Any = signed.post(reverse("rates-new"), sent)
    assert (answer.status_code, list(answer.context["form"].errors)) == (422, [field])
    assert Rates.objects.count() == 2


@pytest.mark.parametrize("since", [None, TODAY])
def test_the_database_keeps_one_entry_for_a_day_and_none_that_says_nothing(since: Any) -> None:
    """Going round Python."""
    Rates.objects.bulk_create([Rates(holds_from=since, wage_per_hour=1)])
    wrong = [
        Rates(holds_from=since, tax_rate=1),
        Rates(holds_from=TODAY + DAY),
        Rates(holds_from=TODAY + DAY, overhead_per_hour=-1),
    ]
    for row in wrong:
        with pytest.raises(IntegrityError), transaction.atomic():
            Rates.objects.bulk_create([row])


def test_the_list_shows_what_holds_today_and_asks_no_more_for_more_rows(signed: Client) -> None:
    make_rates(wage_per_hour=money(12))
    make_rates(june(5), wage_per_hour=money(15))
    here = reverse("rates")
    words = text_of(signed.get(here))
    assert "Hourly rate today £15.00 since 5 Jun 2025" in words
    rows = words.partition("Tax in prices ")[2]
    assert (
        rows.index("5 Jun 2025") < rows.index("£15.00") < rows.index("The beginning") < rows.index("£12.00")
    )
    assert "Overhead per hour today – not entered" in words
    few = queries(signed, here)
    for day in range(6, 14):
        make_rates(june(day), wage_per_hour=money(day))
    assert queries(signed, here) == few


def test_deleted_rates_leave_what_held_before(signed: Client) -> None:
    make_rates(wage_per_hour=money(12))
    rise = make_rates(june(5), wage_per_hour=money(15))
    page(signed, "rates-delete", rise.pk).send()
    assert DatedRates.read().on(TODAY).wage == Held(money(12), None)


def test_only_owners_reach_the_pages() -> None:
    client = as_user(make_helper())
    row = make_rates(wage_per_hour=1)
    for name, args in (
        ("rates", []),
        ("rates-new", []),
        ("rates-edit", [row.pk]),
        ("rates-delete", [row.pk]),
    ):
        assert client.get(reverse(name, args=args)).status_code == 403


def test_programs_read_and_add_rates(owner: User) -> None:
    program = Program(owner)
    program.send("rates/", {"holds_from": None, "wage_per_hour": "12.50", "tax_rate": "0.2"})
    made = program.send("rates/", {"holds_from": "2025-06-05", "overhead_per_hour": "2.40"})
    assert (made["holds_from"], made["wage_per_hour"], made["overhead_per_hour"]) == (
        "2025-06-05",
        None,
        "2.400000",
    )
    assert [row["tax_rate"] for row in program.read("rates/")["results"]] == ["0.200000", None]
    twice = program.refusal("rates/", {"holds_from": "2025-06-05", "wage_per_hour": "1"}, status=400)
    assert list(twice["errors"]) == ["holds_from"]
    assert program.post("rates/", {"holds_from": "2025-06-07"}).status_code == 400
    assert (
        Program(make_helper()).post("rates/", {"holds_from": "2025-06-07", "tax_rate": "0"}).status_code
        == 403
    )
