"""Ledger pages: the list, one posting with its moves, taking one back, and where every penny is."""

import re
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.ledger.models import Place, Posting, PostingKind
from inventory.ledger.movements import posted_movements
from inventory.ledger.summaries import Change, MaterialChanges, Summary, summary_of
from inventory.materials.models import Material
from studio.accounts.models import User
from tests.days import DAY, TODAY
from tests.making import (
    correct,
    held,
    make_batch,
    make_delivery,
    make_helper,
    make_lot,
    make_material,
    make_pour,
    make_recipe,
    make_surface,
    make_water,
    money,
    sell,
    spill,
    take_back,
    units,
)

pytestmark = pytest.mark.django_db
KEY = "0" * 32
HOSTILE = "<script>alert(1)</script>"


@pytest.fixture
def signed(client: Client, owner: User) -> Client:
    client.force_login(owner)
    return client


def as_user(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def text_of(response: Any) -> str:
    """The page's words with all spaces plain."""
    words = re.sub(r"<[^>]+>", " ", response.content.decode())
    return " ".join(words.replace("\xa0", " ").split())


def rows_of(response: Any) -> list[int]:
    """The numbers of the postings listed."""
    found = re.findall(r'<th scope="row"><a href="/ledger/(\d+)/">', response.content.decode())
    return [int(number) for number in found]


def queries_of(client: Client, address: str) -> int:
    with CaptureQueriesContext(connection) as counted:
        assert client.get(address).status_code == 200
    return len(counted)


# The list


def test_the_list_filters_by_kind_day_material_place_cause_and_words(signed: Client) -> None:
    white, amber = make_material(name="White"), make_material(name="Amber")
    old = make_lot(material=white, on=TODAY - 9 * DAY)
    make_lot(material=amber)
    lost = spill(lot=old, quantity=units(10))
    numbers = {"old": 1, "new": 2, "lost": lost.number}

    def listed(**query: Any) -> list[int]:
        return rows_of(signed.get(reverse("inventory:postings"), query))

    assert listed() == [numbers["lost"], numbers["new"], numbers["old"]]
    assert listed(kind="write_off") == [numbers["lost"]]
    assert listed(last=str(TODAY - DAY)) == [numbers["old"]]
    assert listed(first=str(TODAY)) == [numbers["lost"], numbers["new"]]
    assert listed(material=white.pk) == [numbers["lost"], numbers["old"]]
    assert listed(place="outside") == [numbers["new"], numbers["old"]]
    assert listed(reason=lost.entries.get(place=Place.LOSS).reason_id) == [numbers["lost"]]
    assert listed(search="spill") == [numbers["lost"]]
    assert listed(search=str(numbers["new"])) == [numbers["new"]]
    assert listed(search="owner") == [numbers["lost"], numbers["new"], numbers["old"]]
    assert listed(search="nobody") == []
    assert len(listed(kind="?", first="x", last="2025-99-99", material="y", reason="-1", place="z")) == 3


def test_the_list_comes_in_pages_of_fifty_and_keeps_its_filter(signed: Client) -> None:
    lot = make_lot()
    for _ in range(51):
        spill(lot=lot, quantity=units(1))
    page = signed.get(reverse("inventory:postings"), {"kind": "write_off"})
    assert len(rows_of(page)) == 50
    assert "Page 1 of 2" in text_of(page)
    second = signed.get(reverse("inventory:postings"), {"kind": "write_off", "page": "2"})
    assert rows_of(second) == [2]


def test_the_list_asks_as_many_queries_for_few_postings_as_for_many(signed: Client) -> None:
    lot = make_lot()
    take_back(spill(lot=lot, quantity=units(1)))
    few = queries_of(signed, reverse("inventory:postings"))
    for _ in range(15):
        take_back(spill(lot=lot, quantity=units(1)))
    assert queries_of(signed, reverse("inventory:postings")) == few


def test_an_empty_ledger_teaches_how_it_begins(signed: Client) -> None:
    words = text_of(signed.get(reverse("inventory:postings")))
    assert "The ledger is empty" in words
    assert "Enter opening stock" in words


# One posting


def test_a_posting_shows_its_moves_from_giver_to_taker_with_links(signed: Client) -> None:
    pour = make_pour()
    page = signed.get(reverse("inventory:posting", args=[pour.session.posting_id]))
    words, code = text_of(page), page.content.decode()

    assert f"Pour {pour.label}" in words
    assert "Poured 200 mL £2.00" in words
    assert "Surface 1 £3.50" in words
    assert reverse("inventory:pour", args=[pour.pk]) in code
    assert reverse("inventory:session", args=[pour.session_id]) in code
    assert pour.session.posting.hash in code


def test_a_correction_names_what_it_corrects_and_is_named_there(signed: Client) -> None:
    lot = make_lot(quantity=units(100), cost=money(10), on=TODAY - 3 * DAY)
    spill(lot=lot, quantity=units(50))
    correction = correct(lot=lot, difference=money(4))
    corrected = correction.corrects
    assert corrected is not None
    page = signed.get(f"/ledger/{correction.number}/").content.decode()
    assert f'href="/ledger/{corrected.number}/"' in page
    assert "7 June 2025" in page or "7 Jun 2025" in page  # the day of receipt, on which the cost counts
    page = signed.get(f"/ledger/{corrected.number}/").content.decode()
    assert f'href="/ledger/{correction.number}/"' in page
    answer = signed.get(f"/api/postings/{correction.number}/").json()
    assert answer["posting"]["corrects"] == corrected.number
    assert {movement["on"] for movement in answer["movements"]} == {"2025-06-07", "2025-06-10"}


def test_a_mix_is_told_as_a_cup_that_becomes_a_lot(signed: Client) -> None:
    glue, water = make_material(name="Glue"), make_water(name="Tap water")
    bottle = make_delivery(lines=[(glue, units(1000), money(9))]).lines.get().lot
    mix = make_batch(version=make_recipe(parts=[(glue, 2), (water, 1)], name="Medium"), quantity=units(300))
    words = text_of(signed.get(reverse("inventory:posting", args=[mix.posting_id])))
    assert f"Lot {bottle.label} Cup of Medium" in words
    assert f"Cup of Medium Lot {mix.lot.label}" in words


def test_the_sums_of_a_posting_balance_place_by_place() -> None:
    pour = make_pour()
    summary = summary_of(posted_movements(pour.session.posting))
    assert summary.places == [Place.LOT, Place.WORK]
    assert [(total.place, total.money) for total in summary.totals] == [
        (Place.LOT, -money("5.50")),
        (Place.WORK, money("5.50")),
    ]
    for row in summary.materials:
        assert sum(change.quantity for change in row.changes) == 0
        assert sum(change.money for change in row.changes) == 0


def test_a_helper_sees_quantities_and_no_money() -> None:
    pour = make_pour()
    page = text_of(as_user(make_helper()).get(reverse("inventory:posting", args=[pour.session.posting_id])))
    assert "200 mL" in page
    assert "£" not in page


def test_a_helper_is_not_told_where_money_alone_moved() -> None:
    lot = make_lot(quantity=units(100), cost=money(10), on=TODAY - 3 * DAY)
    spill(lot=lot, quantity=units(50))
    address = reverse("inventory:posting", args=[correct(lot=lot, difference=money(4)).pk])
    pages = [as_user(make_helper(may_see_money=sees)).get(address) for sees in (True, False)]
    assert [b'data-label="In stock"' in shown.content for shown in pages] == [True, False]


def test_the_posting_asks_as_many_queries_for_few_moves_as_for_many(signed: Client) -> None:
    few = make_delivery(lines=[(make_material(), units(1), money(1)) for _ in range(3)])
    many = make_delivery(lines=[(make_material(), units(1), money(1)) for _ in range(30)])
    address = [reverse("inventory:posting", args=[delivery.posting_id]) for delivery in (few, many)]
    assert queries_of(signed, address[0]) == queries_of(signed, address[1])


def test_an_unknown_posting_is_not_found(signed: Client) -> None:
    assert signed.get(reverse("inventory:posting", args=[99])).status_code == 404


def test_hostile_notes_and_names_are_shown_as_text(signed: Client) -> None:
    lot = make_lot(material=make_material(name=HOSTILE))
    lost = spill(lot=lot, quantity=units(1))
    for address in (
        reverse("inventory:postings"),
        reverse("inventory:posting", args=[lost.number]),
        reverse("inventory:posting-reverse", args=[lost.number]),
    ):
        page = signed.get(address).content.decode()
        assert HOSTILE not in page


# Taking one back


def back(client: Client, posting: Posting, **data: Any) -> Any:
    sent = {"key": KEY, "reason": "Logged twice"} | data
    return client.post(reverse("inventory:posting-reverse", args=[posting.number]), sent)


def test_asking_changes_nothing_and_says_what_would_come_back(signed: Client) -> None:
    pour = make_pour()
    page = signed.get(reverse("inventory:posting-reverse", args=[pour.session.posting_id]))
    words = text_of(page)
    assert "added back to stock: 200 mL" in words
    assert "Its 1 pour will be empty" in words
    assert not Posting.objects.filter(kind=PostingKind.REVERSAL).exists()


def test_taking_back_mirrors_the_posting_with_its_reason_and_leads_to_where_it_came_from(
    signed: Client,
) -> None:
    pour = make_pour()
    paint = pour.session.posting.entries.filter(place=Place.LOT, material__measure="volume").get().lot
    response = back(signed, pour.session.posting)
    assert response["Location"] == reverse("inventory:session", args=[pour.session_id])
    mirror = Posting.objects.get(reverses=pour.session.posting)
    assert mirror.note == "Logged twice"
    assert paint is not None
    assert held(paint)[0] == units(1000)
    assert f"Reversed by posting {mirror.number}" in text_of(
        signed.get(reverse("inventory:posting", args=[pour.session.posting_id]))
    )


def test_a_write_off_taken_back_leads_to_its_own_posting(signed: Client) -> None:
    lost = spill(lot=make_lot(), quantity=units(10))
    assert back(signed, lost)["Location"] == reverse("inventory:posting", args=[lost.number])


def test_what_stands_in_the_way_is_said_and_nothing_is_posted(signed: Client) -> None:
    lot = make_lot()
    delivery = lot.delivery_line.delivery
    spill(lot=lot, quantity=units(10))
    response = back(signed, delivery.posting)
    assert response.status_code == 422
    assert "has been used or changed since (posting 2)" in text_of(response)
    assert Posting.objects.count() == 2


def test_a_reason_is_asked_for(signed: Client) -> None:
    lost = spill(lot=make_lot(), quantity=units(10))
    response = back(signed, lost, reason=" ")
    assert response.status_code == 422
    assert not Posting.objects.filter(reverses=lost).exists()


def test_sending_it_twice_takes_it_back_once(signed: Client) -> None:
    lost = spill(lot=make_lot(), quantity=units(10))
    assert back(signed, lost).status_code == 302
    again = back(signed, lost)
    assert again.status_code == 302
    assert Posting.objects.filter(kind=PostingKind.REVERSAL).count() == 1


def test_what_has_been_taken_back_is_not_offered_again(signed: Client) -> None:
    lost = spill(lot=make_lot(), quantity=units(10))
    mirror = take_back(lost)
    for posting in (lost, mirror):
        page = signed.get(reverse("inventory:posting", args=[posting.number])).content.decode()
        assert reverse("inventory:posting-reverse", args=[posting.number]) not in page
    response = back(signed, mirror, key="1" * 32)
    assert response.status_code == 422
    assert "Enter the original again instead" in text_of(response)


def test_a_sale_is_sent_to_its_piece_instead(signed: Client) -> None:
    sale = sell(pours=[make_pour()])
    page = text_of(signed.get(reverse("inventory:posting", args=[sale.number])))
    assert "record a return of the piece instead" in page
    assert back(signed, sale).status_code == 422
    assert not Posting.objects.filter(reverses=sale).exists()


def test_a_helper_may_take_back_and_a_bookkeeper_may_not(bookkeeper: User) -> None:
    lost = spill(lot=make_lot(), quantity=units(10))
    assert "Reverse" not in text_of(as_user(bookkeeper).get(reverse("inventory:posting", args=[lost.number])))
    assert back(as_user(bookkeeper), lost).status_code == 403
    assert back(as_user(make_helper()), lost).status_code == 302


@pytest.mark.parametrize("address", ["/ledger/", "/ledger/1/", "/ledger/1/reverse/", "/ledger/value/"])
def test_a_stranger_is_sent_to_the_door(client: Client, address: str) -> None:
    response = client.get(address)
    assert response.status_code == 302
    assert reverse("login") in response["Location"]


# Where every penny is


def test_every_penny_is_accounted_for_and_leads_to_its_entries(signed: Client) -> None:
    pour = make_pour()
    sell(pours=[pour])
    # 1,000 mL for 10.00 and a canvas for 3.50 came in; a canvas and 200 mL were sold.
    paint = Material.objects.get(measure="volume")
    lot = paint.lots.get()
    spill(lot=lot, quantity=units(50))
    page = signed.get(reverse("inventory:ledger-value"))
    words, code = text_of(page), page.content.decode()

    assert "£13.50 received" in words
    assert "In stock: paint £7.50" in words
    assert "Cost of sales £5.50" in words
    assert "Spill or dropped bottle loss £0.50" in words
    assert "Total £13.50 £13.50" in words
    assert "Balances exactly" in words
    assert f"{reverse('inventory:postings')}?place=sold" in code


def test_it_can_be_asked_as_of_a_past_day(signed: Client) -> None:
    lot = make_lot(on=TODAY - 9 * DAY)
    spill(lot=lot, quantity=units(50))
    words = text_of(signed.get(reverse("inventory:ledger-value"), {"on": str(TODAY - DAY)}))
    assert "In stock: paint £10.00" in words
    assert "Spill" not in words
    assert "In stock: paint £9.50" in text_of(
        signed.get(reverse("inventory:ledger-value"), {"on": "nonsense"})
    )


def test_an_empty_studio_is_worth_nothing_without_a_drawing(signed: Client) -> None:
    words = text_of(signed.get(reverse("inventory:ledger-value")))
    assert "Total £0.00 £0.00" in words


def test_only_those_who_see_money_see_where_it_is(bookkeeper: User) -> None:
    make_surface()
    assert as_user(bookkeeper).get(reverse("inventory:ledger-value")).status_code == 200
    assert as_user(make_helper()).get(reverse("inventory:ledger-value")).status_code == 403
    assert as_user(make_helper(may_see_money=True)).get(reverse("inventory:ledger-value")).status_code == 200


def test_what_a_posting_changed_is_rounded_figure_by_figure_and_the_rest_has_a_line() -> None:
    """Twice 1.5 pence are printed as 2 each, as in the list of movements, and 3 in all: a penny is rounding."""
    lines = [MaterialChanges(make_material(), [Change(Place.LOT, 1, money("0.015"))]) for _ in range(2)]
    summary = Summary([Place.LOT], lines, [Change(Place.LOT, money=money("0.03"))])
    assert summary.rounding("GBP") == [-money("0.01")]
    whole = [MaterialChanges(make_material(), [Change(Place.LOT, 1, money("0.03"))])]
    assert Summary([Place.LOT], whole, summary.totals).rounding("GBP") == []
