"""What is done with a piece on its pages: steps, finishing, packing, minutes, and ways out."""

import pytest
from django.test import Client
from pytest_django import DjangoCaptureOnCommitCallbacks

from costing.pieces.actions.pieces import WorkFacts, finish_piece
from costing.pieces.calculations import State
from costing.pieces.models import Labour, Piece
from inventory.alerts.models import Alert
from inventory.ledger.models import Posting
from inventory.materials.models import Kind, Material, MeasureChoice, SignalWord
from studio.accounts.models import User
from studio.preferences.models import Studio
from tests.costing.pages import KEY, as_user, make_varnish, page_of, text_of, worked
from tests.costing.stories import LATER, POURED_ON, a_piece, held_in, use_rates
from tests.making import (
    ingredients,
    make_lot,
    make_material,
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


# Steps, finishing, packing, minutes


def test_each_step_has_its_button_and_is_taken(signed: Client) -> None:
    piece = a_piece()
    assert "Mark as dry" in text_of(signed.get(page_of(piece)))
    response = signed.post(
        page_of(piece, "piece-step"), {"step-to": "dry", "step-on": "2025-06-03", "step-note": "By the stove"}
    )
    assert response["Location"] == page_of(piece)
    words = text_of(signed.get(page_of(piece)))
    assert "Dry before: Wet By the stove 3 Jun 2025, owner" in words
    assert "Mark as still wet" in words
    assert "Finish it" in words


@pytest.mark.parametrize(
    ("sent", "says"),
    [
        ({"step-to": "sold"}, "cannot be changed to sold"),
        ({"step-to": "for_sale"}, "cannot be changed to for sale"),
        ({"step-to": "burnt"}, "burnt"),
        ({"step-to": "dry", "step-on": "2025-05-31"}, "was made on 1 June 2025"),
        ({"step-to": "dry", "step-on": "then"}, "Enter a valid date"),
    ],
)
def test_a_step_that_cannot_be_taken_is_refused_in_its_place(
    signed: Client, sent: dict[str, str], says: str
) -> None:
    piece = a_piece()
    response = signed.post(page_of(piece, "piece-step"), {"step-on": "2025-06-03"} | sent)
    assert response.status_code == 422
    assert says in text_of(response)
    assert (Piece.objects.get().state, piece.steps.count()) == ("wet", 1)


def test_finishing_charges_materials_and_minutes(signed: Client, varnish: Material) -> None:
    use_rates()
    piece = a_piece(state=State.DRY)
    response = signed.post(page_of(piece, "piece-finish"), worked((varnish, "20 ml"), minutes="15"))
    assert response["Location"] == page_of(piece)
    assert Piece.objects.get().state == State.FINISHED
    assert held_in(["work"], [piece.parts.get().pour]) == money("6.50")
    assert Labour.objects.get().minutes == 15
    assert "Finishing, packing, sundries £1.00" in text_of(signed.get(page_of(piece)))


def test_the_same_finishing_sent_twice_is_posted_once_and_a_changed_one_refused(
    signed: Client, varnish: Material
) -> None:
    use_rates()
    piece = a_piece(state=State.DRY)
    data = worked((varnish, "20 ml"), minutes="15")
    for _ in range(2):
        assert signed.post(page_of(piece, "piece-finish"), data).status_code == 302
    assert (Labour.objects.count(), Posting.objects.filter(kind="finishing").count()) == (1, 1)
    response = signed.post(page_of(piece, "piece-finish"), data | {"minutes": "45"})
    assert response.status_code == 422
    assert (Labour.objects.get().minutes, Posting.objects.filter(kind="finishing").count()) == (15, 1)


def test_varnishing_too_early_asks_once_and_then_does_it(signed: Client, varnish: Material) -> None:
    piece = a_piece(state=State.DRY)
    early = worked((varnish, "20 ml"))
    Studio.objects.update(varnish_after_days=14)
    response = signed.post(page_of(piece, "piece-finish"), early)
    assert response.status_code == 422
    words = text_of(response)
    assert "It may still be wet; nothing saved yet" in words
    assert "it is ready on 15 June 2025" in words
    assert 'value="20 ml"' in response.content.decode()
    assert not Posting.objects.filter(kind="finishing").exists()
    signed.post(page_of(piece, "piece-finish"), early | {"anyway": "on"})
    assert Piece.objects.get().state == State.FINISHED


def test_too_little_varnish_is_listed_and_confirmed_once(signed: Client, varnish: Material) -> None:
    piece = a_piece(state=State.DRY)
    data = worked((varnish, "150 ml"))
    response = signed.post(page_of(piece, "piece-finish"), data)
    assert response.status_code == 422
    assert "Not enough in stock; nothing saved yet" in text_of(response)
    assert "Satin varnish" in text_of(response)
    assert Piece.objects.get().state == State.DRY
    signed.post(page_of(piece, "piece-finish"), data | {"confirm_gain": "on"})
    assert Piece.objects.get().state == State.FINISHED
    assert Posting.objects.filter(kind="count_gain").count() == 1


@pytest.mark.parametrize(
    ("amount", "says"),
    [
        ("20 mlx", "“mlx” is not a known unit"),
        ("3 each", "needs a volume"),
        ("", "required"),
        ("-2 ml", "cannot be negative"),
    ],
)
def test_an_unreadable_amount_stays_on_its_row(
    signed: Client, varnish: Material, amount: str, says: str
) -> None:
    piece = a_piece(state=State.DRY)
    response = signed.post(page_of(piece, "piece-finish"), worked((varnish, amount)))
    assert response.status_code == 422
    assert says in str(response.context["formset"].forms[0].errors["amount"])
    assert Piece.objects.get().state == State.DRY


def test_what_the_last_piece_on_such_a_surface_took_is_filled_in(
    signed: Client, owner: User, varnish: Material
) -> None:
    canvas = make_surface()
    paint = make_lot(on=POURED_ON).material
    make_lot(material=canvas, quantity=units(3), cost=money(9), on=POURED_ON)
    rings = make_lot(
        material=make_material(name="D-rings", kind=Kind.SUNDRY, measure=MeasureChoice.COUNT),
        quantity=units(20),
        on=POURED_ON,
    ).material
    pours = make_session(
        pours=[pour_of(material=paint, quantity=1000, surface=canvas) for _ in range(3)], on=POURED_ON
    ).pours.order_by("number")
    one = a_piece(pours=pours[:1], title="One", state=State.DRY)
    pair = a_piece(pours=pours[1:3], title="Pair", state=State.DRY)
    finish_piece(
        piece=one,
        facts=WorkFacts(materials=ingredients((varnish, 20_000), (rings, 1_000))),
        submission=make_submission(by=owner, on=LATER),
    )
    rows = signed.get(page_of(pair, "piece-finish")).context["formset"].forms
    assert [row.initial for row in rows[:2]] == [
        {"material": varnish.pk, "amount": "40 mL"},
        {"material": rings.pk, "amount": "2 each"},
    ]


def test_packing_is_charged_and_the_alerts_look_again(
    signed: Client, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    box = make_lot(
        material=make_material(
            name="Flat box", kind=Kind.PACKAGING, measure=MeasureChoice.COUNT, reorder_level=units(5)
        ),
        quantity=units(5) + units(1),
        cost=money(12),
        on=POURED_ON,
    ).material
    piece = a_piece(state=State.FOR_SALE)
    with django_capture_on_commit_callbacks(execute=True):
        signed.post(page_of(piece, "piece-pack"), worked((box, "1 each"), minutes="5"))
    assert held_in(["work"], [piece.parts.get().pour]) == money("7.50")
    assert Alert.objects.get().material == box


def test_minutes_sent_twice_count_once(signed: Client) -> None:
    piece = a_piece()
    data = {
        "minutes-key": KEY,
        "minutes-work": "Sanding",
        "minutes-minutes": "20",
        "minutes-on": "2025-06-09",
    }
    for _ in range(2):
        assert signed.post(page_of(piece, "piece-minutes"), data).status_code == 302
    assert Labour.objects.get().minutes == 20
    response = signed.post(page_of(piece, "piece-minutes"), data | {"minutes-minutes": "30"})
    assert response.status_code == 422
    assert "already sent with other contents" in text_of(response)


def test_minutes_above_zero_are_asked_for(signed: Client) -> None:
    piece = a_piece()
    data = {"minutes-key": KEY, "minutes-work": "Sanding", "minutes-minutes": "0", "minutes-on": "2025-06-09"}
    response = signed.post(page_of(piece, "piece-minutes"), data)
    assert "greater than or equal to 1" in text_of(response)
    assert not Labour.objects.exists()


@pytest.mark.parametrize(
    "words",
    [
        "such as nitrile",
        "goggles",
        "air the room",
        "A large batch",
        "Never sand resin",
        "Spray outdoors",
        "Work wet",
        "respirator",
        "cadmium, cobalt, chromium, lead or manganese",
        "Silicone oil",
        "Not for food or drink",
        "not for hot cups",
        "data sheet",
    ],
)
def test_the_cautions_stand_where_a_piece_is_finished(signed: Client, words: str) -> None:
    page = text_of(signed.get(page_of(a_piece(state=State.DRY), "piece-finish")))
    assert 0 < page.index(words) < page.index("Save finishing")


def test_a_finish_that_was_chosen_says_its_hazards_beside_the_choice(signed: Client) -> None:
    resin = make_material(
        name="Harbour resin", kind=Kind.FINISH, signal_word=SignalWord.WARNING, hazards="H317 An allergy."
    )
    address = page_of(a_piece(state=State.DRY), "piece-finish")
    blank = signed.get(address).content.decode()
    offered = f'<template data-hazards="{resin.pk}">'
    assert blank.count("Harbour resin: Warning") == 1
    assert offered in blank
    chosen = {"used-TOTAL_FORMS": "1", "used-INITIAL_FORMS": "0", "used-0-material": resin.pk}
    refused = signed.post(address, {"key": KEY, "on": "2025-06-20", **chosen})
    row = refused.content.decode().split("data-row-hazards", 1)[1].split("</fieldset>")[0]
    assert refused.status_code == 422
    assert "Harbour resin: Warning" in row
    assert "H317 An allergy." in row


def test_scraping_says_how_before_the_button(signed: Client) -> None:
    page = text_of(signed.get(page_of(a_piece(state=State.DRY), "piece-scrape")))
    button = page.rindex("Scrape")
    assert 0 < page.index("Work wet") < button
    assert 0 < page.index("hazardous-waste collection") < button


def test_packing_says_that_the_piece_is_decorative_before_the_button(signed: Client) -> None:
    page = text_of(signed.get(page_of(a_piece(state=State.FINISHED), "piece-pack")))
    assert 0 < page.index("Not for food or drink, and not for hot cups") < page.index("Save packing")


# Ways out


def test_a_piece_is_given_away_with_what_it_would_have_sold_for(signed: Client) -> None:
    piece = a_piece(state=State.FOR_SALE, price="45.00")
    assert 'value="45.00"' in signed.get(page_of(piece, "piece-give")).content.decode()
    data = {"key": KEY, "reason": the_reason("gift").pk, "market_value": "40", "on": "2025-06-09"}
    for _ in range(2):
        assert signed.post(page_of(piece, "piece-give"), data).status_code == 302
    words = text_of(signed.get(page_of(piece)))
    assert "Gift, 9 Jun 2025 Cost of its materials £5.50 Market value £40.00" in words
    assert Posting.objects.filter(kind="piece_write_off").count() == 1


def test_only_the_fitting_causes_are_offered(signed: Client) -> None:
    piece = a_piece(state=State.FOR_SALE)
    data = {"key": KEY, "reason": the_reason("spilled").pk, "market_value": "40", "on": "2025-06-09"}
    assert signed.post(page_of(piece, "piece-give"), data).status_code == 422
    data = {"key": KEY, "reason": the_reason("gift").pk, "on": "2025-06-09"}
    assert signed.post(page_of(piece, "piece-write-off"), data).status_code == 422
    assert Piece.objects.get().state == State.FOR_SALE


def test_a_piece_is_written_off_and_brought_back(signed: Client) -> None:
    piece = a_piece(state=State.FOR_SALE)
    signed.post(
        page_of(piece, "piece-write-off"),
        {"key": KEY, "reason": the_reason("damaged").pk, "on": "2025-06-09"},
    )
    assert Piece.objects.get().state == State.WRITTEN_OFF
    assert "Bring it back" in text_of(signed.get(page_of(piece)))
    signed.post(page_of(piece, "piece-bring-back"), {"key": "1" * 32, "on": "2025-06-10"})
    assert Piece.objects.get().state == State.FOR_SALE
    response = signed.post(page_of(piece, "piece-bring-back"), {"key": "2" * 32, "on": "2025-06-10"})
    assert response.status_code == 422


def test_a_helper_who_sees_no_money_brings_no_gift_back(signed: Client, helper: User) -> None:
    piece = a_piece(state=State.FOR_SALE, price="45.00")
    gift = {"key": KEY, "reason": the_reason("gift").pk, "market_value": "40", "on": "2025-06-09"}
    signed.post(page_of(piece, "piece-give"), gift)
    hers = Client()
    hers.force_login(helper)
    assert "Bring it back" not in text_of(hers.get(page_of(piece)))
    answer = hers.post(page_of(piece, "piece-bring-back"), {"key": "1" * 32, "on": "2025-06-10"})
    assert answer.status_code == 403
    assert Piece.objects.get().state == State.GIVEN
