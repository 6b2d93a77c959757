"""Piece pages: the gallery, making pieces of pours, and who may do what with them."""

import re
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from costing.pieces.actions.pieces import PieceFacts, WorkFacts, add_labour, finish_piece, make_piece, move_on
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.selling.actions import write_off_piece
from inventory.ledger.models import Entry
from inventory.materials.models import Material
from inventory.sessions.models import Pour
from studio.accounts.models import User
from tests.costing.pages import MONEY, NASTY, as_user, make_varnish, page_of, text_of
from tests.costing.stories import (
    LATER,
    POURED_ON,
    a_piece,
    make_channel,
    reverse_session_of,
    two_ring_pours,
    use_rates,
)
from tests.making import (
    ingredients,
    make_helper,
    make_lot,
    make_material,
    make_pour,
    make_session,
    make_submission,
    make_surface,
    money,
    pour_of,
    the_reason,
    units,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def signed(owner: User) -> Client:
    return as_user(owner)


@pytest.fixture
def varnish() -> Material:
    return make_varnish()


# The gallery


def test_the_gallery_shows_each_piece_with_its_state_size_price_and_cost(signed: Client) -> None:
    piece = a_piece(title="Low water", state=State.FOR_SALE, price="45.00")
    words = text_of(signed.get(reverse("costing:pieces")))
    assert f"Low water For sale {piece.label}, 30 × 30 cm, Ring pour £45.00 cost £5.50" in words


def test_a_list_says_the_same_line_by_line(signed: Client) -> None:
    a_piece(title="Low water", state=State.FOR_SALE, price="45.00")
    words = text_of(signed.get(reverse("costing:pieces"), {"view": "list"}))
    # 5.50 over 1,116 cm² is 0.004928…
    assert "For sale 30 × 30 cm Ring pour 1 Jun 2025 £45.00 £5.50 £0.49 per 100 cm²" in words


def test_the_gallery_filters_and_sorts(signed: Client, owner: User) -> None:
    a_piece(title="Ebb", price="20.00")
    a_piece(title="Flood", state=State.FOR_SALE, price="60.00")
    small = make_surface(name="Ferry tile", height=10_000, width=10_000, depth=None)
    paint = make_lot(on=POURED_ON).material
    make_lot(material=small, quantity=units(1), on=POURED_ON)
    session = make_session(pours=[pour_of(material=paint, quantity=1000, surface=small)], on=POURED_ON)
    tile = a_piece(title="Slack", pours=session.pours.all())
    gone = a_piece(title="Neap", state=State.FINISHED)
    write_off_piece(piece=gone, reason=the_reason("damaged"), submission=make_submission(by=owner, on=LATER))

    def listed(**query: Any) -> list[str]:
        rows = signed.get(reverse("costing:pieces"), query).context["table"].rows
        return [row.piece.title for row in rows]

    assert listed(sort="title") == ["Ebb", "Flood", "Slack"]
    assert listed(state="for_sale") == ["Flood"]
    assert listed(state="written_off") == ["Neap"]
    assert len(listed(state="all")) == 4
    assert listed(search="ferry") == ["Slack"]
    assert listed(search=tile.label.lower()) == ["Slack"]
    assert listed(sort="size")[0] == "Slack"
    assert listed(sort="-price", state="for_sale") == ["Flood"]
    assert listed(year="2024") == []
    assert sorted(listed(technique=the_ring(), state="here", sort="nonsense", year="x")) == [
        "Ebb", "Flood", "Slack",
    ]  # fmt: skip


def the_ring() -> int:
    return int(Pour.objects.values_list("technique_id", flat=True)[0])


def test_the_pieces_of_a_session_that_was_taken_back_are_gone(signed: Client) -> None:
    reverse_session_of(a_piece(title="Ebb"))
    assert "Ebb" not in text_of(signed.get(reverse("costing:pieces"), {"state": "all"}))


def test_an_empty_gallery_teaches(signed: Client, bookkeeper: User) -> None:
    words = text_of(signed.get(reverse("costing:pieces")))
    assert "No piece yet A piece is what you sell" in words
    assert "Create a piece" not in text_of(as_user(bookkeeper).get(reverse("costing:pieces")))


# Making pieces


def test_pours_that_are_no_piece_yet_are_offered(signed: Client) -> None:
    first, second = two_ring_pours()
    make_pour(outcome="failed", on=POURED_ON)
    words = text_of(signed.get(reverse("costing:piece-new")))
    assert first.label in words
    assert second.label in words
    assert words.count("Create a piece") == 2
    assert "Two lamps 1 Jun 2025, 2 pours" in words
    assert "2 pours have not been made into pieces yet" in text_of(
        signed.get(reverse("costing:pieces"), {"state": "all"})
    )


def test_one_piece_is_made_of_the_chosen_pours(signed: Client) -> None:
    pours = two_ring_pours()
    response = signed.post(
        reverse("costing:piece-new"),
        {"title": "Two lamps", "size_note": "diptych", "pours": [pour.pk for pour in pours]},
    )
    made = Piece.objects.get()
    assert response["Location"] == page_of(made)
    assert (made.title, made.size_note, made.parts.count()) == ("Two lamps", "diptych", 2)


def test_a_piece_needs_a_title_and_a_pour_and_keeps_what_was_ticked(signed: Client) -> None:
    first, second = two_ring_pours()
    response = signed.post(reverse("costing:piece-new"), {"title": "", "pours": [first.pk]})
    assert response.status_code == 422
    assert response.context["form"]["pours"].value() == [str(first.pk)]
    page = response.content.decode()
    assert re.search(f'value="{first.pk}"[^>]* checked', page)
    assert not re.search(f'value="{second.pk}"[^>]* checked', page)
    response = signed.post(reverse("costing:piece-new"), {"title": "Ebb"})
    assert "Tick at least one pour." in text_of(response)
    response = signed.post(reverse("costing:piece-new"), {"title": "Ebb", "pours": ["999999", "x"]})
    assert response.status_code == 422
    assert not Piece.objects.exists()


# Who may, and how much it asks of the database

WRITING = [
    "piece-finish", "piece-pack", "piece-give", "piece-write-off", "piece-bring-back", "piece-step", "piece-price",
    "piece-minutes", "piece-photo-change", "piece-photo-remove",
]  # fmt: skip


@pytest.mark.parametrize("name", WRITING)
def test_the_bookkeeper_changes_nothing_and_strangers_are_sent_to_the_door(
    name: str, bookkeeper: User, stranger: User
) -> None:
    piece = a_piece(state=State.FOR_SALE)
    assert as_user(bookkeeper).post(page_of(piece, name)).status_code == 403
    for client in (Client(), as_user(stranger)):
        assert client.post(page_of(piece, name))["Location"].startswith(reverse("login"))
    assert Piece.objects.get().state == State.FOR_SALE


def test_the_bookkeeper_makes_no_piece(bookkeeper: User) -> None:
    pour = make_pour()
    client = as_user(bookkeeper)
    assert client.get(reverse("costing:piece-new")).status_code == 403
    assert client.post(reverse("costing:pieces-of-session", args=[pour.session_id])).status_code == 403
    assert not Piece.objects.exists()


def test_a_page_read_by_the_bookkeeper_offers_no_form(bookkeeper: User) -> None:
    page = as_user(bookkeeper).get(page_of(a_piece(state=State.FOR_SALE, price="45.00")))
    assert page.content.decode().count('<form class="form') == 0
    assert "What next?" not in text_of(page)
    assert "£45.00" in text_of(page)


def test_a_helper_sees_no_money_anywhere(helper: User, owner: User, varnish: Material) -> None:
    use_rates()
    make_channel()
    piece = a_piece(state=State.FOR_SALE, price="45.67")
    finish_piece(
        piece=piece,
        facts=WorkFacts(materials=ingredients((varnish, 20_000)), minutes=15),
        submission=make_submission(by=owner, on=LATER),
    )
    client = as_user(helper)
    for address in (
        reverse("costing:pieces"),
        f"{reverse('costing:pieces')}?view=list",
        page_of(piece),
        page_of(piece, "piece-finish"),
        page_of(piece, "piece-write-off"),
    ):
        response = client.get(address)
        assert response.status_code == 200
        assert not MONEY.search(text_of(response))
    assert client.get(reverse("costing:pieces"), {"sort": "-price"}).context["table"].sort == "-made"
    for name in ("piece-give", "piece-price"):
        assert client.post(page_of(piece, name), {"price-price": "1.00"}).status_code == 403
    assert Piece.objects.get().price == money("45.67")


def test_a_helper_who_may_see_money_prices_pieces() -> None:
    piece = a_piece()
    client = as_user(make_helper(may_see_money=True))
    assert "£5.50" in text_of(client.get(page_of(piece)))
    client.post(page_of(piece, "piece-price"), {"price-price": "20"})
    assert Piece.objects.get().price == money(20)


def test_a_piece_of_a_session_that_was_taken_back_says_so_and_offers_nothing(signed: Client) -> None:
    piece = a_piece()
    reverse_session_of(piece)
    words = text_of(signed.get(page_of(piece)))
    assert "The session of this piece was reversed." in words
    assert "What next?" not in words


def test_a_hostile_name_is_written_as_text(signed: Client, owner: User) -> None:
    use_rates()
    paint = make_lot(material=make_material(name=NASTY), on=POURED_ON).material
    canvas = make_surface(name=NASTY + "2")
    make_lot(material=canvas, quantity=units(1), on=POURED_ON)
    pour = make_session(
        pours=[pour_of(material=paint, quantity=1000, surface=canvas)], on=POURED_ON, title=NASTY
    ).pours.get()
    assert NASTY not in signed.get(reverse("costing:piece-new")).content.decode()
    piece = make_piece(
        facts=PieceFacts(title=NASTY, pours=[pour], description=NASTY, size_note=NASTY),
        submission=make_submission(by=owner),
    )
    move_on(piece=piece, to="dry", note=NASTY, submission=make_submission(by=owner, on=LATER))
    add_labour(piece=piece, work=NASTY, minutes=5, submission=make_submission(by=owner, on=LATER))
    for address in (
        reverse("costing:pieces"),
        f"{reverse('costing:pieces')}?view=list",
        *(
            page_of(piece, name)
            for name in ("piece", "piece-finish", "piece-pack", "piece-give", "piece-write-off")
        ),
    ):
        page = signed.get(address).content.decode()
        assert NASTY not in page
        assert "&lt;script&gt;" in page


@pytest.mark.parametrize("query", [{}, {"view": "list"}])
def test_the_number_of_queries_does_not_grow_with_the_pieces(signed: Client, query: dict[str, str]) -> None:
    def count(more: int) -> int:
        for _ in range(more):
            a_piece(state=State.FOR_SALE, price="20.00")
        with CaptureQueriesContext(connection) as queries:
            assert signed.get(reverse("costing:pieces"), query).status_code == 200
        return len(queries)

    count(1)  # the first visit warms up what is read once
    assert count(2) == count(10)


def test_the_number_of_queries_of_a_piece_does_not_grow_with_its_lines(
    signed: Client, owner: User, varnish: Material
) -> None:
    use_rates()
    piece = a_piece(pours=two_ring_pours(), state=State.DRY)
    finish_piece(
        piece=piece,
        facts=WorkFacts(materials=ingredients((varnish, 1000)), minutes=1),
        submission=make_submission(by=owner, on=LATER),
    )

    def count() -> int:
        with CaptureQueriesContext(connection) as queries:
            assert signed.get(page_of(piece)).status_code == 200
        return len(queries)

    count()
    before = count()
    for _ in range(8):
        finish_piece(
            piece=piece,
            facts=WorkFacts(materials=ingredients((varnish, 1000)), minutes=1),
            submission=make_submission(by=owner, on=LATER),
        )
    assert Entry.objects.filter(role="finish").count() >= 18
    assert count() == before
