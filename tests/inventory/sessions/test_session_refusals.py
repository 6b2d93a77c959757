"""What a session's form refuses, beside its field and with nothing posted; and how an amount is shared over cups."""

import pytest
from django.test import Client
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import InventoryError
from inventory.ledger.models import Place, Posting, PostingKind
from inventory.sessions.forms.pours import spread
from inventory.sessions.models import Session
from tests.inventory.browsing import HOSTILE, text_of
from tests.inventory.session_bench import Bench, log, sent, value_of
from tests.making import units

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(db: None) -> Bench:
    return Bench()


# What is refused


def test_too_little_on_the_shelf_lists_every_shortfall_and_posts_nothing(
    signed: Client, bench: Bench
) -> None:
    before = Posting.objects.count()
    data = sent(cups=[bench.cup(1, "4 l")], pours=[bench.pours(alike="12", each="100 ml")])
    response = log(signed, data)

    words = text_of(response)
    assert response.status_code == 422
    assert Posting.objects.count() == before
    assert "Lantern Amber: 1,000 mL needed, 500 mL in stock, 500 mL short." in words
    assert "Canvas 30: 12 needed, 10 in stock, 2 short." in words
    assert 'name="confirm_gain"' in response.content.decode()


def test_confirming_that_the_bottles_held_more_posts_the_gain_and_then_the_session(
    signed: Client, bench: Bench
) -> None:
    data = sent(cups=[bench.cup(1, "4 l")], pours=[bench.pours(alike="6", each="500 ml")])
    assert log(signed, data).status_code == 422
    assert log(signed, data | {"confirm_gain": "on"}).status_code == 302

    gain = Posting.objects.get(kind=PostingKind.COUNT_GAIN)
    assert Session.objects.get().posting_id == gain.number + 1
    assert gain.entries.get(place=Place.LOT, material=bench.amber).quantity == units(500)


@pytest.mark.parametrize(
    ("cup", "pour", "said"),
    [
        ({"contents": "", "wanted": "300 ml"}, None, "Choose what is in this cup"),
        ({"wanted": ""}, None, "Enter how much of it was mixed"),
        ({}, {"surface": ""}, "Choose the surface"),
        ({}, {"technique": ""}, "Choose the technique"),
        ({}, {"each": ""}, "Enter how much was poured on each"),
        ({}, {"each": "", "cup_2": "50 ml"}, "Cup 2 is not used"),
        ({}, {"alike": "1000"}, "less than or equal to 999"),
        ({}, {"failed": "7"}, "only 6 of them"),
        ({}, {"each": "100 ml", "cup_1": "90 ml"}, "The cups add up to 90 mL"),
        ({}, {"alike": "1", "each": "100 ml", "run_off": "120 ml"}, "Run-off is part of what was poured"),
        ({}, {"each": "180 ml"}, "only 400 mL was mixed"),
        ({}, {"each": "5 oz"}, "An ounce is a weight"),
    ],
)  # fmt: skip
def test_it_refuses_what_makes_no_sense_beside_its_field_and_posts_nothing(
    signed: Client, bench: Bench, cup: dict[str, str], pour: dict[str, str] | None, said: str
) -> None:
    before = Posting.objects.count()
    rows = [bench.pours(**pour)] if pour is not None else []
    response = log(signed, sent(cups=[bench.cup(0) | cup], pours=rows))
    assert response.status_code == 422
    assert said in text_of(response)
    assert Posting.objects.count() == before


def test_what_was_typed_comes_back_with_the_errors(signed: Client, bench: Bench) -> None:
    response = log(signed, sent(cups=[bench.cup(0)], pours=[bench.pours(each="")], title=HOSTILE))
    assert value_of(response, "cups-0-wanted") == "400 ml"
    assert HOSTILE not in response.content.decode()
    assert "&lt;script&gt;" in response.content.decode()


def test_an_empty_form_asks_for_a_mix_or_a_pour(signed: Client, bench: Bench) -> None:
    response = log(signed, sent())
    assert response.status_code == 422
    assert "at least one mix or one pour" in text_of(response)


def test_more_cups_than_any_bench_holds_are_refused_kindly(signed: Client, bench: Bench) -> None:
    response = log(signed, sent(cups=[bench.cup(0, "10 ml")] * 101))
    assert response.status_code == 422
    assert "at most 100 rows" in text_of(response)


# Sharing over cups


@given(
    each=st.integers(1, 10**9),
    alike=st.integers(1, 60),
    weights=st.lists(st.integers(0, 10**7), min_size=1, max_size=6).filter(any),
)
def test_shares_give_every_surface_exactly_its_amount_and_no_cup_more_than_its_part(
    each: int, alike: int, weights: list[int]
) -> None:
    rows = list(spread(each, alike, weights))
    assert [sum(row) for row in rows] == [each] * alike
    for column, weight in zip(zip(*rows, strict=True), weights, strict=True):
        assert abs(sum(column) * sum(weights) - each * alike * weight) < sum(weights)
        if each * alike <= sum(weights):
            assert sum(column) <= weight


def test_sharing_over_empty_cups_is_refused() -> None:
    with pytest.raises(InventoryError, match="are empty"):
        list(spread(1000, 1, [0, 0]))
