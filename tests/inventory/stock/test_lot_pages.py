"""One lot: where it came from and went, what is written on it, writing it off, decanting it."""

from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django import DjangoCaptureOnCommitCallbacks

from inventory.alerts.models import Alert
from inventory.errors import InventoryError
from inventory.ledger.models import Entry, Lot, Posting, PostingKind
from inventory.stock.actions.lots import describe_lot
from studio.accounts.models import User
from tests.days import TODAY
from tests.inventory.browsing import as_user, queries, text_of
from tests.making import (
    held,
    make_batch,
    make_lot,
    make_material,
    make_recipe,
    make_session,
    make_submission,
    make_surface,
    make_water,
    money,
    pour_of,
    spill,
    the_reason,
    units,
)

pytestmark = pytest.mark.django_db
KEY = "0" * 32


def at(name: str, lot: Lot) -> str:
    return reverse(f"inventory:{name}", args=[lot.pk])


def off(quantity: str = "100 ml", **said: Any) -> dict[str, Any]:
    """A write-off as the browser sends it."""
    return {
        "key": KEY,
        "quantity": quantity,
        "reason": the_reason().pk,
        "on": TODAY.isoformat(),
        "note": "",
    } | said


# The page of a lot


def test_it_says_where_it_came_from_and_where_it_went(owner: User) -> None:
    lot = make_lot(material=make_material(name="Sail Loft White"))
    canvas = make_lot(material=make_surface(name="Deep canvas"), quantity=units(2)).material
    session = make_session(pours=[pour_of(material=lot.material, quantity=units(200), surface=canvas)])
    words = text_of(as_user(owner).get(at("lot", lot)))
    assert "In stock 800 mL" in words
    assert "Value remaining £8.00 £1.00 per 100 mL" in words
    assert "Origin Delivered: Merchant" in words
    assert f"{session.pours.get().label}, Deep canvas" in words


def test_a_mixed_lot_leads_to_its_recipe(owner: User) -> None:
    version = make_recipe(parts=[(make_lot().material, 1), (make_water(), 1)], name="Thin blue")
    lot = make_batch(version=version, quantity=units(100)).lot
    content = as_user(owner).get(at("lot", lot)).content.decode()
    assert reverse("inventory:recipe", args=[version.recipe_id]) in content
    assert "Thin blue" in content


def test_an_empty_lot_holds_nothing_and_offers_nothing_to_take(owner: User) -> None:
    lot = make_lot()
    spill(lot=lot, quantity=units(1000))
    words = text_of(as_user(owner).get(at("lot", lot)))
    assert "In stock 0 mL" in words
    assert "Decant" not in words


def test_a_lot_that_nothing_was_ever_posted_to_can_be_looked_at(owner: User) -> None:
    lot = Lot.objects.create(material=make_material(), origin=Lot.Origin.COUNT, received_on=TODAY)
    assert "In stock 0 mL" in text_of(as_user(owner).get(at("lot", lot)))


def test_the_day_after_opening_counts_as_its_use_by(owner: User) -> None:
    lot = make_lot(material=make_material(keeps_days=30))
    Lot.objects.filter(pk=lot.pk).update(opened_on=date(2025, 6, 1), best_before=date(2027, 1, 1))
    words = text_of(as_user(owner).get(at("lot", lot)))
    assert "Use by Expired 1 Jul 2025" in words
    assert "Best before 1 Jan 2027" in words


def test_a_helper_sees_no_money_on_a_lot(helper: User) -> None:
    lot = make_lot()
    spill(lot=lot, quantity=units(10))
    words = text_of(as_user(helper).get(at("lot", lot)))
    assert "In stock 990 mL" in words
    assert "£" not in words


def test_a_write_off_of_long_ago_leads_to_its_reversal(owner: User, bookkeeper: User) -> None:
    lot = make_lot()
    address = reverse("inventory:posting-reverse", args=[spill(lot=lot, quantity=units(10)).pk])
    assert address in as_user(owner).get(at("lot", lot)).content.decode()
    assert address not in as_user(bookkeeper).get(at("lot", lot)).content.decode()
    as_user(owner).post(address, {"key": KEY, "reason": "It was not spilled"})
    assert address not in as_user(owner).get(at("lot", lot)).content.decode()


def test_hostile_words_are_written_out_harmlessly(owner: User) -> None:
    lot = make_lot(material=make_material(name="<script>alert(1)</script>"))
    Lot.objects.filter(pk=lot.pk).update(place="<img src=x>", supplier_batch="<b>7")
    for name in ("lot", "lot-edit", "write-off", "decant"):
        content = as_user(owner).get(at(name, lot)).content.decode()
        assert "<script>alert" not in content
        assert "<img src=x>" not in content


def test_a_lot_asks_as_many_queries_for_few_movements_as_for_many(owner: User) -> None:
    few_moves, many_moves = make_lot(), make_lot()
    for lot, times in ((few_moves, 3), (many_moves, 15)):
        for _ in range(times):
            spill(lot=lot, quantity=units(1))
    few = queries(as_user(owner), at("lot", few_moves))
    assert queries(as_user(owner), at("lot", many_moves)) == few


# What is written on it


def test_it_writes_down_what_is_on_the_jar_and_moves_nothing(helper: User) -> None:
    lot, entries = make_lot(), Entry.objects.count()
    said = {"opened_on": "2025-06-11", "best_before": "2026-01-31", "place": "Window", "empty_weight": "34 g"}
    response = as_user(helper).post(at("lot-edit", lot), said)
    assert response["Location"] == at("lot", lot)
    lot.refresh_from_db()
    assert (lot.opened_on, lot.best_before) == (date(2025, 6, 11), date(2026, 1, 31))
    assert (lot.place, lot.empty_weight) == ("Window", 34_000)
    assert Entry.objects.count() == entries


def test_an_empty_container_may_weigh_nothing_and_its_page_says_so(owner: User) -> None:
    lot = make_lot()
    as_user(owner).post(at("lot-edit", lot), {"empty_weight": "0"})
    lot.refresh_from_db()
    assert lot.empty_weight == 0
    assert "Empty container 0 g" in text_of(as_user(owner).get(at("lot", lot)))


@pytest.mark.parametrize(
    ("said", "problem"),
    [
        ({"opened_on": "2020-01-01"}, "cannot have been opened before"),
        ({"opened_on": "2999-01-01"}, "cannot be opened in the future"),
        ({"empty_weight": "34 parsecs"}, "not a known unit"),
        ({"best_before": "soon"}, "Enter a valid date"),
    ],
)
def test_it_refuses_days_and_weights_that_cannot_be(owner: User, said: dict[str, str], problem: str) -> None:
    lot = make_lot()
    response = as_user(owner).post(at("lot-edit", lot), {"place": "Window"} | said)
    assert response.status_code == 422
    assert problem in text_of(response)
    lot.refresh_from_db()
    assert lot.place == ""


def test_the_writer_refuses_a_weight_below_nothing(owner: User) -> None:
    lot = make_lot()
    lot.empty_weight = -1
    with pytest.raises(InventoryError, match="zero or more"):
        describe_lot(lot, submission=make_submission(by=owner))


# Writing off


def test_it_writes_off_for_a_cause_once_however_often_it_is_sent(helper: User) -> None:
    lot = make_lot()
    for _ in range(2):
        response = as_user(helper).post(at("write-off", lot), off(note="Knocked over"))
        assert response["Location"] == at("lot", lot)
    assert held(lot) == (units(900), money(9))
    posting = Posting.objects.get(kind=PostingKind.WRITE_OFF)
    assert (posting.note, posting.effective_on, posting.recorded_by) == ("Knocked over", TODAY, helper)


@pytest.mark.parametrize(
    ("said", "problem"),
    [
        ({"quantity": "2 l"}, "stocktake of the lot first"),
        ({"quantity": "0"}, "above zero"),
        ({"quantity": "some"}, "does not start with a number"),
        ({"quantity": ""}, "required"),
        ({"reason": ""}, "required"),
        ({"reason": "999999"}, "valid choice"),
        ({"key": "short"}, "Reload the page"),
    ],
)
def test_it_refuses_what_cannot_be_written_off_and_keeps_what_was_typed(
    owner: User, said: dict[str, str], problem: str
) -> None:
    lot, postings = make_lot(), Posting.objects.count()
    response = as_user(owner).post(at("write-off", lot), off(note="Knocked over") | said)
    assert response.status_code == 422
    assert problem in text_of(response)
    assert "Knocked over" in response.content.decode()
    assert Posting.objects.count() == postings


def test_a_count_difference_is_not_offered_as_a_cause(owner: User) -> None:
    lot = make_lot()
    response = as_user(owner).post(at("write-off", lot), off(reason=the_reason("count").pk))
    assert response.status_code == 422


def test_writing_off_looks_for_what_is_low_now(
    owner: User, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    lot = make_lot(material=make_material(reorder_level=units(950)))
    with django_capture_on_commit_callbacks(execute=True):
        as_user(owner).post(at("write-off", lot), off())
    assert Alert.objects.standing().filter(material=lot.material).exists()


# Decanting


def test_it_decants_into_a_jar_of_its_own(helper: User) -> None:
    lot = make_lot()
    said = {
        "key": KEY,
        "quantity": "250 ml",
        "on": TODAY.isoformat(),
        "place": "Bench",
        "empty_weight": "34 g",
    }
    response = as_user(helper).post(at("decant", lot), said, follow=True)
    jar = Lot.objects.get(decanted_from=lot)
    assert response.redirect_chain[0][0] == at("lot", jar)
    assert (held(jar), held(lot)) == ((units(250), money("2.50")), (units(750), money("7.50")))
    assert (jar.place, jar.empty_weight) == ("Bench", 34_000)
    assert f"{jar.label} created" in text_of(response)
    assert f"from {lot.label}" in text_of(response)


def test_it_does_not_decant_more_than_there_is(owner: User) -> None:
    lot = make_lot()
    said = {"key": KEY, "quantity": "3 l", "on": TODAY.isoformat()}
    response = as_user(owner).post(at("decant", lot), said)
    assert response.status_code == 422
    assert Lot.objects.count() == 1


def test_the_forms_say_what_the_books_say(owner: User) -> None:
    lot = make_lot()
    assert "Recorded: 1,000 mL" in text_of(as_user(owner).get(at("decant", lot)))


# Who may


def test_a_bookkeeper_reads_and_may_write_nothing(bookkeeper: User) -> None:
    lot = make_lot()
    assert as_user(bookkeeper).get(at("lot", lot)).status_code == 200
    for name in ("lot-edit", "write-off", "decant"):
        assert as_user(bookkeeper).get(at(name, lot)).status_code == 403
        assert as_user(bookkeeper).post(at(name, lot), off()).status_code == 403
    assert held(lot) == (units(1000), money(10))


def test_strangers_are_sent_to_the_door(client: Client, stranger: User) -> None:
    client.force_login(stranger)
    lot = make_lot()
    for name in ("lot", "lot-edit", "write-off", "decant"):
        assert reverse("login") in client.get(at(name, lot))["Location"]


def test_a_lot_that_does_not_exist_is_not_found(owner: User) -> None:
    assert as_user(owner).get(reverse("inventory:lot", args=[987_654])).status_code == 404


def test_today_stands_in_the_form(owner: User) -> None:
    content = as_user(owner).get(at("write-off", make_lot())).content.decode()
    assert f'value="{timezone.localdate():%Y-%m-%d}"' in content
