"""Amounts far from her own history are asked about before a session is posted, by page and by program, once."""

import re
from dataclasses import replace
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.errors import NotEnough
from inventory.ledger.models import Posting, PostingKind
from inventory.sessions.actions.corrections import correct_session
from inventory.sessions.actions.sessions import Dose, PourFacts, SessionFacts, log_session
from inventory.sessions.models import Session
from studio.accounts.models import User
from studio.errors import NeedsConfirmation
from tests.days import DAY, TODAY
from tests.inventory.browsing import as_user, text_of
from tests.inventory.session_bench import Bench, log, sent
from tests.making import (
    Everything,
    make_delivery,
    make_helper,
    make_session,
    make_submission,
    make_surface,
    money,
    pour_of,
    take_back,
    the_technique,
    units,
)
from tests.programs import Program

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]

ASKED = re.compile(r'name="confirm" id="confirm" value="([0-9a-f ]+)"')
CARRIED = re.compile(r'<input type="hidden" name="confirmed"(?: value="([0-9a-f ]*)")?')


@pytest.fixture
def bench(db: None) -> Bench:
    """Twelve ring pours of 70 to 95 mL lie behind her."""
    bench = Bench(canvases=200)
    make_delivery(lines=[(bench.white, units(9_000), money(90))], on=TODAY - 5 * DAY)
    for quantity in (70, 75, 80, 82, 85, 85, 88, 90, 90, 92, 94, 95):
        poured = pour_of(material=bench.white, quantity=units(quantity), surface=bench.canvas)
        make_session(pours=[poured], minutes=60, on=TODAY - DAY)
    return bench


def poured(bench: Bench, each: str = "900 ml", **head: Any) -> dict[str, Any]:
    """A session of two canvases poured straight from the bottle."""
    cup = {"contents": f"m{bench.white.pk}"}
    return sent(cups=[cup], pours=[bench.pours(alike="2", each=each)], **({"minutes": "60"} | head))


def asked(response: Any) -> str:
    match = ASKED.search(response.content.decode())
    return match[1] if match else ""


def carried(response: Any) -> str:
    match = CARRIED.search(response.content.decode())
    return (match[1] or "") if match else ""


def sessions() -> tuple[int, int]:
    return Session.objects.count(), Posting.objects.count()


# By page


def test_an_unusual_amount_comes_back_with_what_was_typed_and_its_history(
    signed: Client, bench: Bench
) -> None:
    before = sessions()
    response = log(signed, poured(bench))
    assert (response.status_code, sessions()) == (422, before)
    words = text_of(response)
    assert "Ring pour on Canvas 30: 900 mL. Your last 12 were 70 mL to 95 mL." in words
    assert 'value="900 ml"' in response.content.decode()
    # Both canvases are poured alike, so one question is asked, with one tick, which is not ticked.
    assert len(asked(response).split()) == 1


def test_a_tick_lets_it_through_and_is_recorded_where_it_is_seen(signed: Client, bench: Bench) -> None:
    token = asked(log(signed, poured(bench)))
    assert log(signed, poured(bench, confirm=token)).status_code == 302

    made = Session.objects.latest("pk")
    [confirmed] = made.posting.confirmed
    assert (confirmed["topic"], confirmed["is_money"]) == ("pour", False)
    for name, number in (("session", made.pk), ("posting", made.posting_id)):
        words = text_of(signed.get(reverse(f"inventory:{name}", args=[number])))
        assert "900 mL. Your last 12 were 70 mL to 95 mL. Confirmed by owner on" in words


def test_a_usual_amount_is_not_asked_about_and_confirms_nothing(signed: Client, bench: Bench) -> None:
    assert log(signed, poured(bench, each="150 ml")).status_code == 302
    assert Session.objects.latest("pk").posting.confirmed == []


def test_nothing_is_asked_twice_when_the_form_comes_back(signed: Client, bench: Bench) -> None:
    token = asked(log(signed, poured(bench)))
    # The tick came with a slip elsewhere, so the page comes back; what was confirmed travels along.
    response = log(signed, poured(bench, confirm=token, title="x" * 121))
    assert (response.status_code, asked(response), carried(response)) == (422, "", token)
    assert log(signed, poured(bench, confirmed=token)).status_code == 302


def test_the_tick_is_not_lost_while_the_figures_are_calculated(signed: Client, bench: Bench) -> None:
    token = asked(log(signed, poured(bench)))
    response = log(signed, poured(bench, confirm=token, do="figures"))
    assert (response.status_code, carried(response)) == (200, token)


def test_an_amount_edited_after_it_was_confirmed_is_asked_about_anew(signed: Client, bench: Bench) -> None:
    token = asked(log(signed, poured(bench)))
    response = log(signed, poured(bench, each="1.2 l", confirm=token))
    assert response.status_code == 422
    assert asked(response) not in ("", token)
    assert "1.2 L" in text_of(response)


def test_a_second_question_asks_only_for_itself(signed: Client, bench: Bench) -> None:
    token = asked(log(signed, poured(bench)))
    response = log(signed, poured(bench, confirm=token, minutes="1200"))
    assert response.status_code == 422
    assert carried(response) == token
    assert "Minutes worked: 1200. Your last 12 were 60." in text_of(response)
    assert token not in asked(response)
    again = poured(bench, minutes="1200", confirmed=token, confirm=asked(response))
    assert log(signed, again).status_code == 302
    topics = {each["topic"] for each in Session.objects.latest("pk").posting.confirmed}
    assert topics == {"pour", "minutes"}


def test_a_shortfall_and_an_unusual_amount_are_asked_about_at_once(signed: Client, bench: Bench) -> None:
    before = sessions()
    response = log(signed, poured(bench, each="90 l"))
    assert "mL short" in text_of(response)
    token = asked(response)
    assert token
    # Each has its own tick: that the bottle held more does not say that the amount is right.
    half = log(signed, poured(bench, each="90 l", confirm_gain="on"))
    assert (half.status_code, asked(half), sessions()) == (422, token, before)
    assert log(signed, poured(bench, each="90 l", confirm_gain="on", confirm=token)).status_code == 302
    assert Posting.objects.filter(kind=PostingKind.COUNT_GAIN).count() == 1


def test_the_same_form_sent_again_is_answered_without_a_question(signed: Client, bench: Bench) -> None:
    token = asked(log(signed, poured(bench)))
    assert log(signed, poured(bench, confirm=token)).status_code == 302
    made = sessions()
    assert log(signed, poured(bench)).status_code == 302
    assert sessions() == made


def test_a_helper_is_asked_as_well(bench: Bench) -> None:
    assert asked(log(as_user(make_helper()), poured(bench)))


# By program


def body(bench: Bench, quantity: str = "900 ml", **change: Any) -> dict[str, Any]:
    pour = {
        "technique": bench.ring.pk,
        "surface": bench.canvas.pk,
        "doses": [{"material": bench.white.pk, "quantity": quantity}],
    }
    return {"held_on": TODAY.isoformat(), "minutes": 60, "pours": [pour]} | change


def test_a_program_is_refused_until_it_confirms_the_question_itself(owner: User, bench: Bench) -> None:
    program, before = Program(owner), sessions()
    refused = program.refusal("sessions/", body(bench), key="evening", status=409)
    [question] = refused["questions"]
    assert (refused["kind"], question["topic"], sessions()) == ("needs-confirmation", "pour", before)
    assert question["question"].replace("\xa0", " ").endswith("900 mL. Your last 12 were 70 mL to 95 mL.")

    program.refusal("sessions/", body(bench, confirmed=["0" * 16]), key="evening", status=409)
    made = program.send("sessions/", body(bench, confirmed=[question["token"]]), key="evening")
    assert [each["topic"] for each in made["confirmed"]] == ["pour"]
    posting = program.read(f"postings/{made['session']['posting']}/")["posting"]
    assert posting["confirmed"] == made["confirmed"]
    # The key was answered: the same request is answered again, whatever it confirms.
    assert program.send("sessions/", body(bench), key="evening", status=200) == made


def test_a_shortfall_tells_a_program_what_to_confirm_besides(owner: User, bench: Bench) -> None:
    refused = Program(owner).refusal("sessions/", body(bench, "90 l"), status=409)
    assert refused["kind"] == "not-enough"
    assert len(refused["shortfalls"]) == len(refused["questions"]) == 1


# What is compared


def facts(bench: Bench, quantity: int, surface: Any = None, technique: str = "Ring pour") -> SessionFacts:
    dose = Dose(units(quantity), material=bench.white)
    pour = PourFacts(technique=the_technique(technique), doses=[dose], surface=surface or bench.canvas)
    return SessionFacts(held_on=TODAY, pours=[pour])


def questions(asking: SessionFacts) -> list[str]:
    try:
        log_session(facts=asking, submission=make_submission(confirmed=()))
    except (NeedsConfirmation, NotEnough) as refusal:
        return [each.text.replace("\xa0", " ") for each in refusal.questions]
    return []


def test_pours_are_compared_by_area_with_those_of_their_technique(bench: Bench) -> None:
    half = make_surface(name="Half", height=21_213, width=21_213, depth=None, sides_painted=False)
    # 70 to 95 mL on 1,116 cm² are 28.2 to 38.3 mL on 450 cm².
    [question] = questions(facts(bench, 450, half))
    assert question == "Ring pour on Half, by its area: 450 mL. Your last 12 were 28.2 mL to 38.3 mL."
    assert questions(facts(bench, 900, technique="Straight pour")) == []


def test_pours_of_reversed_sessions_are_no_history(bench: Bench) -> None:
    for session in Session.objects.order_by("pk")[:9]:
        take_back(session.posting)
    assert questions(facts(bench, 900)) == []


def test_logging_takes_the_same_queries_however_long_the_history_is(bench: Bench) -> None:
    def counted() -> int:
        with CaptureQueriesContext(connection) as queries:
            log_session(facts=facts(bench, 90), submission=make_submission(confirmed=()))
        return len(queries)

    few = counted()
    for _time in range(15):
        make_session(
            pours=[pour_of(material=bench.white, quantity=units(90), surface=bench.canvas)], on=TODAY
        )
    assert counted() == few


# Correcting


def corrected(session: Session, asking: SessionFacts, confirmed: Any = ()) -> list[str]:
    """The topics asked about when a session of one pour is corrected; nothing when it went through."""
    pour = replace(asking.pours[0], pour=session.pours.get())
    try:
        correct_session(
            session=session,
            facts=replace(asking, pours=[pour]),
            submission=make_submission(confirmed=confirmed),
        )
    except NeedsConfirmation as refusal:
        return [each.topic for each in refusal.questions]
    return []


def test_a_correction_asks_about_its_own_slip_and_says_who_confirmed(bench: Bench) -> None:
    session = Session.objects.earliest("pk")
    usual, slip = (
        replace(facts(bench, quantity), held_on=session.held_on, minutes=60) for quantity in (90, 900)
    )
    assert corrected(session, usual) == []
    assert corrected(session, slip) == ["pour"]
    assert corrected(session, slip, Everything()) == []
    assert [each["topic"] for each in Posting.objects.latest("number").confirmed] == ["pour"]
    # What was confirmed for this session is not asked about again, whatever else is corrected.
    assert corrected(session, replace(slip, title="Large board")) == []


def test_minutes_alone_are_asked_about_though_nothing_is_posted(bench: Bench) -> None:
    session = Session.objects.earliest("pk")
    before = replace(facts(bench, 70), held_on=session.held_on, minutes=60)
    assert corrected(session, replace(before, minutes=1200)) == ["minutes"]
    session.refresh_from_db()
    assert session.minutes == 60
    assert corrected(session, replace(before, minutes=1200), Everything()) == []
