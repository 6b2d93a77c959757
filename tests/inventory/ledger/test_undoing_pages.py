"""One touch takes back what was posted within the hour, as long as nothing stands on it."""

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.errors import CannotReverse
from inventory.ledger import reversal_guards
from inventory.ledger.models import CostingMethod, Lot, Posting, PostingKind
from inventory.ledger.reversals import obstacle_to_reversal
from inventory.ledger.undo import minutes_left
from inventory.materials.models import Material
from inventory.sessions.actions.corrections import correct_session
from inventory.sessions.actions.sessions import SessionFacts, log_session
from inventory.sessions.models import Session
from inventory.stock.actions.stocktakes import Count, post_stocktake
from studio.accounts.models import User
from tests.inventory.browsing import as_user, queries, text_of
from tests.inventory.session_bench import Bench, log, sent
from tests.making import (
    close_books,
    correct,
    held,
    make_batch,
    make_delivery,
    make_lot,
    make_material,
    make_opening,
    make_pour,
    make_recipe,
    make_submission,
    make_surface,
    money,
    pour_of,
    sell,
    spill,
    take_back,
    the_technique,
    units,
    use_cost_flow,
)

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]
KEY = "a" * 32  # not that of the form before it


def just_now() -> dict[str, Any]:
    now = timezone.now()
    return {"on": timezone.localdate(), "at": now}


def undo(client: Client, posting: Posting | int, key: str = KEY, **said: Any) -> Any:
    number = posting if isinstance(posting, int) else posting.pk
    return client.post(reverse("inventory:posting-undo", args=[number]), {"key": key, **said}, follow=True)


def offers(client: Client, address: str) -> bool:
    return "You can undo this for" in text_of(client.get(address))


def page_of(name: str, key: int) -> str:
    return reverse(f"inventory:{name}", args=[key])


# The button


def test_a_session_is_taken_back_with_one_touch_and_without_a_reason(signed: Client) -> None:
    bench = Bench()
    day = timezone.localdate().isoformat()
    where = log(signed, sent(held_on=day, cups=[bench.cup(0)], pours=[bench.pours(alike="2", each="100 ml")]))
    posting = Session.objects.get().posting
    assert offers(signed, where["Location"])
    assert "You can undo this for 60 more minutes." in text_of(signed.get(where["Location"]))

    answer = undo(signed, posting)
    assert answer.redirect_chain[-1][0] == where["Location"]
    assert "has been reversed" in text_of(answer)
    mirror = Posting.objects.get(reverses=posting)
    assert (mirror.kind, mirror.note) == (PostingKind.REVERSAL, "Undone within the hour")
    assert held(Lot.objects.get(material=bench.canvas))[0] == units(10)
    assert not offers(signed, where["Location"])


def test_the_button_says_that_a_correction_goes_back_too_and_nobody_undoes_one_unseen(signed: Client) -> None:
    paint, canvas = make_lot(**just_now()).material, make_surface()
    make_opening(lines=[(canvas, units(5), money(5))], **just_now())
    facts = SessionFacts(
        held_on=timezone.localdate(), pours=[pour_of(material=paint, quantity=units(5), surface=canvas)]
    )
    session = log_session(facts=facts, submission=make_submission(**just_now()))
    page = page_of("session", session.pk)
    assert "It was corrected since" not in text_of(signed.get(page))
    truth = pour_of(material=paint, quantity=units(7), surface=canvas, pour=session.pours.get())
    correct_session(
        session=session, facts=replace(facts, pours=[truth]), submission=make_submission(**just_now())
    )
    words = text_of(signed.get(page))
    assert "It was corrected since. Undoing takes all of it back, the correction included" in words
    assert "Undo all of it" in words
    assert "all of it is reversed, corrections included" in text_of(
        signed.get(reverse("inventory:posting-reverse", args=[session.posting_id]))
    )
    assert "It has been corrected since you opened the page" in text_of(undo(signed, session.posting))
    assert not Posting.objects.filter(reverses=session.posting).exists()
    undo(signed, session.posting, corrected="1")
    assert Posting.objects.filter(reverses=session.posting).exists()
    assert offers(signed, page) is False


def test_touching_twice_takes_back_once(signed: Client) -> None:
    lot = make_lot(**just_now())
    posting = lot.delivery_line.delivery.posting
    for key in (KEY, KEY, "1" * 32):
        assert "has been reversed" in text_of(undo(signed, posting, key))
    assert Posting.objects.filter(kind=PostingKind.REVERSAL).count() == 1


def test_every_kind_that_is_entered_at_the_shelf_offers_it_on_its_own_page(signed: Client) -> None:
    now = just_now()
    delivery = make_delivery(lines=[(make_material(), units(100), money(1))], **now)
    pages = [page_of("delivery", delivery.pk), page_of("posting", delivery.posting_id)]
    paint = make_lot(**now)
    spilt = spill(lot=paint, quantity=units(5), **now)
    pages += [page_of("lot", paint.pk), page_of("posting", spilt.pk)]
    batch = make_batch(version=make_recipe(parts=[(paint.material, 1)]), quantity=units(10), **now)
    pages += [page_of("lot", batch.lot_id)]
    counted = make_lot(**now)
    stocktake = post_stocktake(counts=[Count(counted, units(5))], submission=make_submission(**now))
    pages += [page_of("stocktake", stocktake.pk)]
    opening = make_opening(lines=[(make_material(), units(5), money(1))], **now)
    pages += [page_of("posting", opening.pk)]
    pages += [page_of("session", make_pour(**now).session_id)]
    assert [page for page in pages if not offers(signed, page)] == []


@pytest.mark.parametrize(("minutes", "left"), [(0, 60), (1, 59), (59, 1), (60, 0), (61, 0), (10_000, 0)])
def test_the_hour_is_counted_in_begun_minutes(minutes: int, left: int) -> None:
    now = timezone.now()
    assert minutes_left(now - timedelta(minutes=minutes), at=now) == left
    assert minutes_left(now - timedelta(minutes=minutes, seconds=-1), at=now) == (
        left + 1 if minutes <= 60 else 0
    )


def test_after_an_hour_the_page_that_asks_for_a_reason_does_it(signed: Client) -> None:
    pour = make_pour(at=timezone.now() - timedelta(minutes=61), on=timezone.localdate() - timedelta(days=1))
    assert not offers(signed, page_of("session", pour.session_id))
    answer = undo(signed, pour.session.posting)
    assert answer.redirect_chain[-1][0] == page_of("posting-reverse", pour.session.posting_id)
    assert "Enter a reason and reverse it here." in text_of(answer)
    assert not Posting.objects.filter(kind=PostingKind.REVERSAL).exists()


def test_a_helper_may_and_a_reader_may_not(helper: User, bookkeeper: User, client: Client) -> None:
    posting = spill(lot=make_lot(), quantity=units(1), **just_now())
    page = page_of("posting", posting.pk)
    assert not offers(as_user(bookkeeper), page)
    assert as_user(bookkeeper).post(page_of("posting-undo", posting.pk), {"key": KEY}).status_code == 403
    assert client.post(page_of("posting-undo", posting.pk), {"key": KEY})["Location"].startswith("/login/")
    assert "has been reversed" in text_of(undo(as_user(helper), posting))


@pytest.mark.parametrize("key", ["", "x", "0" * 31, "\x00", "G" * 32])
def test_without_a_whole_key_nothing_happens(signed: Client, key: str) -> None:
    posting = make_lot(**just_now()).delivery_line.delivery.posting
    assert "Reload the page" in text_of(undo(signed, posting, key))
    assert not Posting.objects.filter(kind=PostingKind.REVERSAL).exists()


def test_it_is_sent_by_post_only_and_with_its_token(owner: User) -> None:
    posting = make_lot(**just_now()).delivery_line.delivery.posting
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(owner)
    assert strict.get(page_of("posting-undo", posting.pk)).status_code == 405
    assert strict.post(page_of("posting-undo", posting.pk), {"key": KEY}).status_code == 403
    assert 'name="csrfmiddlewaretoken"' in strict.get(page_of("posting", posting.pk)).content.decode()


# What stands on it


def used(lot: Lot) -> None:
    spill(lot=lot, quantity=units(1), **just_now())


def test_what_was_used_since_is_not_offered_and_not_taken_back(signed: Client) -> None:
    lot = make_lot(**just_now())
    posting = lot.delivery_line.delivery.posting
    used(lot)
    assert not offers(signed, page_of("delivery", lot.delivery_line.delivery_id))
    assert "has been used or changed since" in text_of(undo(signed, posting))
    assert "has been used or changed since" in obstacle_to_reversal(posting)


def test_a_pour_that_was_sold_since_holds_its_session(signed: Client) -> None:
    pour = make_pour(**just_now())
    sale = sell(pours=[pour], **just_now())
    assert not offers(signed, page_of("session", pour.session_id))
    assert "has been sold" in text_of(undo(signed, pour.session.posting))
    assert not offers(signed, page_of("posting", sale.pk))
    assert "It belongs to a sale." in text_of(undo(signed, sale))


def test_a_reversal_and_a_correction_of_cost_are_not_offered(signed: Client) -> None:
    lot = make_lot(**just_now())
    corrected = correct(lot=lot, difference=money(1), **just_now())
    assert not offers(signed, page_of("posting", corrected.pk))
    mirror = take_back(corrected, at=timezone.now())
    assert not offers(signed, page_of("posting", mirror.pk))
    assert "Enter the original again instead." in text_of(undo(signed, mirror))


def test_an_objection_from_another_room_is_heard(signed: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    posting = make_lot(**just_now()).delivery_line.delivery.posting
    monkeypatch.setattr(
        reversal_guards, "_guards", [lambda found: "" if found.pk > 1 else "The lamp is lit."]
    )
    assert posting.pk == 1
    assert not offers(signed, page_of("posting", posting.pk))
    assert "The lamp is lit." in text_of(undo(signed, posting))
    with pytest.raises(CannotReverse, match=r"The lamp is lit\."):
        take_back(posting)


def test_an_objection_is_asked_once_however_often_it_is_announced(monkeypatch: pytest.MonkeyPatch) -> None:
    def guard(posting: Posting) -> str:
        return ""

    monkeypatch.setattr(reversal_guards, "_guards", [])
    for _time in range(2):
        reversal_guards.register(guard)
    assert reversal_guards._guards == [guard]


def test_under_weighted_average_what_can_be_taken_back_is_offered(signed: Client) -> None:
    use_cost_flow(CostingMethod.AVERAGE)
    paint = make_material()
    make_lot(material=paint, quantity=units(100), cost=money(1), **just_now())
    dearer = make_lot(material=paint, quantity=units(100), cost=money(9), **just_now())
    posting = dearer.delivery_line.delivery.posting
    assert offers(signed, page_of("delivery", dearer.delivery_line.delivery_id))
    assert "has been reversed" in text_of(undo(signed, posting))


def test_a_closed_period_is_no_hindrance_to_taking_back_today(signed: Client) -> None:
    today = timezone.localdate()
    lot = make_lot(on=today - timedelta(days=3), at=timezone.now())
    close_books(through=today - timedelta(days=2))
    posting = lot.delivery_line.delivery.posting
    undo(signed, posting)
    assert Posting.objects.get(reverses=posting).effective_on == timezone.now().date()


def test_the_pages_ask_no_more_queries_for_much_than_for_little(signed: Client) -> None:
    def session_of(count: int) -> str:
        paint, canvas = make_material(), make_surface()
        lines: list[tuple[Material, int, int]] = [
            (paint, units(1000), money(1)),
            (canvas, units(50), money(5)),
        ]
        make_delivery(lines=lines, **just_now())
        data = sent(
            key=f"{count:032x}",
            held_on=timezone.localdate().isoformat(),
            cups=[{"contents": f"m{paint.pk}", "wanted": "500 ml"}],
            pours=[
                {"alike": str(count), "surface": canvas.pk, "technique": the_technique().pk, "each": "5 ml"}
            ],
        )
        return str(log(signed, data)["Location"])

    few, many = session_of(1), session_of(40)
    assert offers(signed, few)
    assert queries(signed, few) == queries(signed, many)
