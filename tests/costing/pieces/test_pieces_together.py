"""Several pieces at once: all of it or nothing, once, and shared so that nothing is lost between them."""

from datetime import datetime
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from costing.cost_sheets.queries import cost_summaries
from costing.errors import PieceError, StillDrying
from costing.pieces.actions.pieces import WorkFacts
from costing.pieces.actions.together import PieceAmong, TogetherFacts, share, work_on_pieces
from costing.pieces.calculations import State
from costing.pieces.models import Labour, Piece
from inventory.errors import KeyReused, NotEnough
from inventory.ledger.models import Entry, EntryRole, Posting
from inventory.materials.models import Kind, Material
from inventory.recipes.actions.mixes import Ingredient
from inventory.sessions.models import Pour, Session
from studio.accounts.models import User
from tests.costing.pages import as_user, make_varnish, text_of
from tests.costing.stories import LATER, POURED_ON, a_piece, pieces_of, two_ring_pours, use_rates
from tests.inventory.browsing import KEY
from tests.making import (
    make_helper,
    make_lot,
    make_material,
    make_session,
    make_submission,
    make_surface,
    money,
    pour_of,
    units,
)
from tests.pictures import encoded, left_red_right_blue

pytestmark = pytest.mark.django_db


def a_session(pours: int = 6, *, title: str = "Slack water") -> Session:
    """So many boards, poured alike; 30 × 30 cm each."""
    paint, board = make_lot(on=POURED_ON).material, make_surface(name=f"Board {title}")
    make_lot(material=board, quantity=units(pours), cost=money(pours), on=POURED_ON)
    poured = [pour_of(material=paint, quantity=20_000, surface=board) for _pour in range(pours)]
    return make_session(pours=poured, title=title, minutes=60, on=POURED_ON)


def hooks(number: int) -> Material:
    material = make_material(name="Hooks", kind=Kind.SUNDRY, measure="count")
    make_lot(material=material, quantity=units(number), cost=money(number), on=POURED_ON)
    return material


def taken_on(session: Session, **facts: Any) -> TogetherFacts:
    pours = session.pours.order_by("number")
    among = [
        PieceAmong(title=f"Ebb {n}", pour=pour, series_number=n) for n, pour in enumerate(pours, start=1)
    ]
    return TogetherFacts(among, series="Ebb", **facts)


def test_six_pours_become_six_named_finished_packed_priced_pieces_for_sale_in_one_go() -> None:
    use_rates()
    session, varnish, rings = a_session(), make_varnish(), hooks(12)
    facts = taken_on(
        session,
        up_to=State.FOR_SALE,
        finishing=WorkFacts([Ingredient(varnish, 60_000), Ingredient(rings, 12_000)], minutes=90),
    )
    made = work_on_pieces(facts=facts, submission=make_submission(on=LATER))
    assert [(piece.title, piece.place_in_series, piece.state) for piece in made] == [
        (f"Ebb {n}", f"Ebb no. {n}", State.FOR_SALE) for n in range(1, 7)
    ]
    took = Entry.objects.filter(role=EntryRole.FINISH, quantity__gt=0).values_list(
        "material", "pour", "quantity"
    )
    assert sorted(took) == sorted(
        [(varnish.pk, piece.pours[0].pk, 10_000) for piece in made]
        + [(rings.pk, piece.pours[0].pk, 2_000) for piece in made]
    )
    assert list(Labour.objects.values_list("minutes", flat=True)) == [15] * 6


def test_what_is_counted_goes_out_in_whole_things() -> None:
    session, rings = a_session(4), hooks(10)
    facts = taken_on(session, up_to=State.FINISHED, finishing=WorkFacts([Ingredient(rings, 10_000)]))
    work_on_pieces(facts=facts, submission=make_submission(on=LATER))
    took = Entry.objects.filter(role=EntryRole.FINISH, quantity__gt=0).order_by("pour")
    assert list(took.values_list("quantity", flat=True)) == [3_000, 3_000, 2_000, 2_000]


def test_finishing_before_the_drying_time_is_asked_about_and_nothing_is_saved() -> None:
    session = a_session(2)
    with pytest.raises(StillDrying):
        work_on_pieces(
            facts=taken_on(session, up_to=State.FINISHED), submission=make_submission(on=POURED_ON)
        )
    assert not Piece.objects.exists()
    done = work_on_pieces(
        facts=taken_on(session, up_to=State.FINISHED), submission=make_submission(on=POURED_ON), anyway=True
    )
    assert {piece.state for piece in done} == {State.FINISHED}


def test_a_short_shelf_refuses_all_of_it_and_names_every_shortfall() -> None:
    session, rings = a_session(2), hooks(1)
    work = WorkFacts([Ingredient(rings, 4_000), Ingredient(make_varnish(), 900_000)])
    before = Posting.objects.count()
    with pytest.raises(NotEnough) as refusal:
        work_on_pieces(
            facts=taken_on(session, up_to=State.FINISHED, finishing=work),
            submission=make_submission(on=LATER),
        )
    assert len(refusal.value.described) == 2
    assert (Piece.objects.count(), Posting.objects.count()) == (0, before)


def test_sent_twice_it_is_done_once_and_other_contents_under_its_key_are_refused(
    owner: User, at: datetime
) -> None:
    session = a_session(3)
    work = WorkFacts([Ingredient(make_varnish(), 30_000)], minutes=30)
    facts = taken_on(session, up_to=State.FINISHED, finishing=work, packing=WorkFacts(minutes=6))
    first = work_on_pieces(facts=facts, submission=make_submission(by=owner, on=LATER, at=at, key=KEY))
    after = Posting.objects.count(), Labour.objects.count()
    again = work_on_pieces(facts=facts, submission=make_submission(by=owner, on=LATER, at=at, key=KEY))
    assert [piece.pk for piece in again] == [piece.pk for piece in first]
    assert (Posting.objects.count(), Labour.objects.count()) == after
    with pytest.raises(KeyReused):
        work_on_pieces(
            facts=taken_on(session, up_to=State.FINISHED, finishing=work),
            submission=make_submission(by=owner, on=LATER, at=at, key=KEY),
        )


def test_minutes_of_packing_alone_are_written_once_too(owner: User, at: datetime) -> None:
    session = a_session(2)
    facts = taken_on(session, up_to=State.DRY, packing=WorkFacts(minutes=10))
    for _time in range(2):
        work_on_pieces(facts=facts, submission=make_submission(by=owner, on=LATER, at=at, key=KEY))
    assert list(Labour.objects.values_list("minutes", flat=True)) == [5, 5]


def test_pieces_already_made_are_renamed_priced_and_taken_on_beside_new_ones() -> None:
    first, second = two_ring_pours()
    old = a_piece(pours=[first], title="Low water", state=State.DRY)
    among = [
        PieceAmong(piece=old, title="Lower water", price=money("45.00")),
        PieceAmong(pour=second, title="High"),
    ]
    done = work_on_pieces(
        facts=TogetherFacts(among, series="Tides", up_to=State.FOR_SALE), submission=make_submission(on=LATER)
    )
    assert [(piece.title, piece.series, piece.price, piece.state) for piece in done] == [
        ("Lower water", "Tides", money("45.00"), State.FOR_SALE),
        ("High", "Tides", None, State.FOR_SALE),
    ]


def test_varnish_needs_a_piece_that_gets_finished_now() -> None:
    session = a_session(1)
    work = WorkFacts([Ingredient(make_varnish(), 10_000)])
    with pytest.raises(PieceError, match="Say that the pieces are finished"):
        work_on_pieces(facts=taken_on(session, finishing=work), submission=make_submission(on=LATER))
    done = work_on_pieces(facts=taken_on(session, up_to=State.FINISHED), submission=make_submission(on=LATER))
    with pytest.raises(PieceError, match="finished already"):
        work_on_pieces(
            facts=TogetherFacts([PieceAmong(piece=done[0])], up_to=State.FOR_SALE, finishing=work),
            submission=make_submission(on=LATER),
        )


@given(
    volume=st.integers(1, 10**7),
    things=st.integers(0, 500),
    areas=st.lists(st.integers(1, 10**6), min_size=1, max_size=9),
)
def test_shares_add_up_to_what_was_used_and_things_stay_whole(
    volume: int, things: int, areas: list[int]
) -> None:
    paint, rings = Material(measure="volume"), Material(measure="count")
    work = share(
        [Ingredient(paint, volume), Ingredient(rings, things * 1_000)], [[Pour(area=area)] for area in areas]
    )
    taken = [item for each in work for item in each.materials]
    assert sum(item.quantity for item in taken if item.material is paint) == volume
    counted = [item.quantity for item in taken if item.material is rings]
    assert sum(counted) == things * 1_000
    assert not any(quantity % 1_000 for quantity in counted)
    if len(counted) == len(areas):
        assert max(counted) - min(counted) <= 1_000


# The page


def page(session: Session) -> str:
    return reverse("costing:pieces-of-session", args=[session.pk])


def rows(session: Session, **each: Any) -> dict[str, Any]:
    """What the page would send as it came up, with these fields in every row."""
    pours = list(session.pours.order_by("number"))
    data: dict[str, Any] = {"on": LATER.isoformat(), "key": "0" * 32}
    for prefix, count in (("pieces", len(pours)), ("used", 0), ("packed", 0)):
        data |= {f"{prefix}-TOTAL_FORMS": count, f"{prefix}-INITIAL_FORMS": 0}
    for number, pour in enumerate(pours):
        row = {"subject": f"pour-{pour.pk}", "take": "on", "title": f"Neap {number + 1}", **each}
        data |= {f"pieces-{number}-{name}": value for name, value in row.items()}
    return data


def test_the_page_names_prices_and_offers_what_is_ticked_and_leaves_out_the_rest(owner: User) -> None:
    session, client = a_session(3), as_user(owner)
    words = text_of(client.get(page(session)))
    assert "Slack water 1" in client.get(page(session)).content.decode()
    assert "Save the pieces" in words
    sent = {**rows(session, price="40.00"), "series": "Neap", "up_to": "for_sale"}
    del sent["pieces-2-take"]
    assert client.post(page(session), sent).status_code == 302
    made = Piece.objects.order_by("pk")
    assert [(piece.title, piece.price, piece.state) for piece in made] == [
        ("Neap 1", money("40.00"), "for_sale"),
        ("Neap 2", money("40.00"), "for_sale"),
    ]


def test_a_refused_page_keeps_everything_and_says_what_is_wrong_where(owner: User) -> None:
    session, client = a_session(2), as_user(owner)
    sent = {**rows(session, price="forty"), "pieces-1-title": "", "up_to": "dry"}
    response = client.post(page(session), sent)
    assert response.status_code == 422
    words = text_of(response)
    assert "Piece 1, Price (GBP):" in words
    assert "Piece 2, Title: Give the piece a title" in words
    assert response.context["among"].forms[0]["title"].value() == "Neap 1"
    assert not Piece.objects.exists()


def test_new_photos_come_with_the_names_and_a_file_that_is_none_is_refused_beside_its_piece(
    owner: User,
) -> None:
    session, client = a_session(2), as_user(owner)
    sent = rows(session) | {
        "pieces-0-upload": SimpleUploadedFile("one.jpg", encoded(left_red_right_blue()).read())
    }
    refused = client.post(
        page(session), sent | {"pieces-1-upload": SimpleUploadedFile("two.jpg", b"no photo")}
    )
    assert refused.status_code == 422
    assert "Piece 2, New photo: This file cannot be read as a photo." in text_of(refused)
    assert "Choose the new photos again" in text_of(refused)
    assert not Piece.objects.exists()
    sent["pieces-0-upload"].seek(0)
    assert client.post(page(session), sent).status_code == 302
    first, second = Piece.objects.order_by("pk")
    assert first.photo
    assert not second.photo
    assert "New photo" in text_of(
        client.get(page(session))
    )  # of the second; the first one's has its own page


def test_a_title_that_somebody_else_changed_meanwhile_is_not_lost(owner: User) -> None:
    session, client = a_session(1), as_user(owner)
    piece = pieces_of(session)[0]
    shown = client.get(page(session)).context["among"].forms[0]
    seen = shown["seen"].value()
    client.post(reverse("costing:piece-edit", args=[piece.pk]), {"title": "Theirs", "seen": seen})
    sent = {
        **rows(session),
        "pieces-0-subject": f"piece-{piece.pk}",
        "pieces-0-title": "Mine",
        "pieces-0-seen": seen,
    }
    refused = client.post(page(session), sent)
    assert refused.status_code == 422
    assert "was changed while you were editing" in text_of(refused)
    piece.refresh_from_db()
    assert piece.title == "Theirs"
    sent["pieces-0-seen"] = refused.context["among"].forms[0]["seen"].value()
    assert client.post(page(session), sent).status_code == 302
    piece.refresh_from_db()
    assert piece.title == "Mine"


def test_what_the_folds_suggest_counts_only_when_it_is_said_to_have_happened(owner: User) -> None:
    session, varnish, client = a_session(2), make_varnish(), as_user(owner)
    used = {"used-TOTAL_FORMS": 1, "used-0-material": varnish.pk, "used-0-amount": "20 ml", "minutes": 10}
    client.post(page(session), {**rows(session), **used})
    assert set(Piece.objects.values_list("state", flat=True)) == {"wet"}
    assert not Labour.objects.exists()
    assert not Entry.objects.filter(role=EntryRole.FINISH).exists()


def test_no_fold_hides_what_would_be_used(owner: User) -> None:
    def fold() -> str:
        text = client.get(page(session)).content.decode()
        return text[: text.index("Varnish, hardware and minutes")].rpartition("<details")[2]

    use_rates()
    session, varnish, client = a_session(4), make_varnish(), as_user(owner)
    assert " open" not in fold()
    first = [PieceAmong(title="Ebb", pour=session.pours.order_by("number")[0])]
    facts = TogetherFacts(first, up_to=State.FINISHED, finishing=WorkFacts([Ingredient(varnish, 10_000)]))
    work_on_pieces(facts=facts, submission=make_submission(on=LATER))
    assert " open" in fold()


def test_a_helper_without_money_sees_no_price(stranger: User) -> None:
    session = a_session(2)
    client = as_user(make_helper())
    assert "Price" not in text_of(client.get(page(session)))
    assert client.post(page(session), rows(session, price="40.00")).status_code == 302
    assert set(Piece.objects.values_list("price", flat=True)) == {None}


def test_the_page_asks_the_database_as_often_for_twelve_pours_as_for_two(owner: User) -> None:
    client = as_user(owner)
    counts = []
    for number in (2, 12):
        session = a_session(number, title=f"Session of {number}")
        client.get(page(session))
        with CaptureQueriesContext(connection) as asked:
            client.get(page(session))
        counts.append(len(asked))
    assert counts[0] == counts[1]


# The API


def test_a_program_takes_several_pieces_on_once(owner: User) -> None:
    session, varnish, client = a_session(2), make_varnish(), as_user(owner)
    use_rates()
    body = {
        "on": LATER.isoformat(),
        "series": "Ebb",
        "up_to": "for_sale",
        "pieces": [
            {"pour": pour.pk, "title": f"Ebb {n}", "series_number": n, "price": "40.00"}
            for n, pour in enumerate(session.pours.order_by("number"), start=1)
        ],
        "finishing": {"materials": [{"material": varnish.pk, "quantity": "20 ml"}], "minutes": 20},
    }
    answers = [
        client.post(
            "/api/pieces/together/",
            body,
            content_type="application/json",
            headers={"Idempotency-Key": '"ebb-1"'},
        )
        for _time in range(2)
    ]
    assert [answer.status_code for answer in answers] == [200, 200]
    assert answers[0].json() == answers[1].json()
    said = [
        (each["title"], each["state"], each["price"], each["series_number"])
        for each in answers[0].json()["pieces"]
    ]
    assert said == [("Ebb 1", "for_sale", "40.000000", 1), ("Ebb 2", "for_sale", "40.000000", 2)]
    assert {summary.labour for summary in cost_summaries(list(Piece.objects.all())).values()} == {
        money("8.00")
    }


def test_what_is_said_of_a_sold_piece_can_still_be_changed_and_stale_changes_are_refused(owner: User) -> None:
    piece, client = a_piece(state=State.FOR_SALE), as_user(owner)
    address = f"/api/pieces/{piece.pk}/description/"
    tag = client.get(address).headers["ETag"]
    series = {"series": "Harbour wall", "series_number": 3, "edition": "edition of four"}
    body = {"title": "Leeward", **series, "year": 2024}
    changed = client.post(address, body, content_type="application/json", headers={"If-Match": tag})
    assert changed.json() == {**body, "description": "", "size_note": ""}
    refused = client.post(address, body, content_type="application/json", headers={"If-Match": tag})
    assert refused.status_code == 412
    wrong = client.post(
        address,
        {"title": "Leeward", "series_number": 3},
        content_type="application/json",
        headers={"If-Match": changed.headers["ETag"]},
    )
    assert wrong.status_code == 400
    assert "Name the series" in wrong.content.decode()


def test_a_client_without_an_account_is_sent_to_the_door() -> None:
    assert Client().get(page(a_session(1))).status_code == 302
