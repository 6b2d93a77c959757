"""The page of one pour: its lines, and the run-off and notes that may still change."""

import csv
from io import StringIO
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.sessions.models import Pour
from studio.accounts.models import User
from tests.inventory.browsing import HOSTILE, text_of
from tests.inventory.session_bench import Bench, log, sent
from tests.making import make_pour, take_back, units

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(db: None) -> Bench:
    return Bench()


def test_the_pour_shows_its_lines_each_with_its_posting(signed: Client) -> None:
    pour = make_pour()
    page = signed.get(reverse("inventory:pour", args=[pour.pk]))
    words = text_of(page)
    assert "£3.50" in words
    assert "£2.00" in words
    assert "£5.50" in words
    assert reverse("inventory:posting", args=[pour.session.posting_id]) in page.content.decode()


def test_the_lines_come_as_a_file_with_the_figures_of_the_page(signed: Client) -> None:
    response = signed.get(reverse("inventory:pour", args=[make_pour().pk]), {"export": "csv"})
    assert response["Content-Type"].startswith("text/csv")
    lines = csv.DictReader(StringIO(response.content.decode("utf-8-sig"), newline=""))
    assert sorted(line["Cost (GBP)"] for line in lines) == ["2.00", "3.50"]


def test_run_off_and_notes_are_kept_with_who_changed_them(signed: Client, owner: User) -> None:
    pour = make_pour()
    address = reverse("inventory:pour", args=[pour.pk])
    response = signed.post(address, {"run_off": "60 ml", "notes": HOSTILE})
    assert response.status_code == 302
    pour.refresh_from_db()
    assert (pour.run_off, pour.notes) == (units(60), HOSTILE)
    page: Any = signed.get(address)
    kept = {line.change.field: (line.old, line.new) for line in page.context["history"]}
    assert kept == {"run_off": ("", "60\xa0mL"), "notes": ("", HOSTILE)}
    assert {line.change.by for line in page.context["history"]} == {owner}
    assert HOSTILE not in page.content.decode()


def test_run_off_above_what_was_poured_is_refused(signed: Client) -> None:
    pour = make_pour(quantity=units(200))
    response = signed.post(reverse("inventory:pour", args=[pour.pk]), {"run_off": "201 ml", "notes": ""})
    assert response.status_code == 422
    assert "cannot be more than 200 mL" in text_of(response)
    pour.refresh_from_db()
    assert pour.run_off is None


def test_a_pour_of_a_session_reversed_is_not_changed_any_more(signed: Client) -> None:
    pour = make_pour()
    take_back(pour.session.posting)
    address = reverse("inventory:pour", args=[pour.pk])
    assert "How did it turn out?" not in text_of(signed.get(address))
    response = signed.post(address, {"run_off": "", "notes": "Late"})
    assert response.status_code == 422
    assert "was reversed" in text_of(response)


def test_the_pour_asks_as_many_queries_for_few_lines_as_for_many(signed: Client, bench: Bench) -> None:
    def queries(pour: Pour) -> int:
        with CaptureQueriesContext(connection) as counted:
            assert signed.get(reverse("inventory:pour", args=[pour.pk])).status_code == 200
        return len(counted)

    queries(make_pour())
    few = queries(make_pour())
    row = bench.pours(alike="1", each="180 ml")
    log(signed, sent(cups=[bench.cup(number) for number in range(3)], pours=[row]))
    pour = Pour.objects.order_by("-pk")[0]
    queries(pour)  # shows what was posted, and leads on to the next of the first steps
    assert queries(pour) <= few
