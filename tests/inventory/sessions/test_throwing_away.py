"""Failed pours that are thrown away: a normal loss goes to the good pours, an abnormal one to its own reason."""

from collections.abc import Sequence
from datetime import date
from fractions import Fraction

import pytest
from django.db import transaction
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.alerts.models import Alert
from inventory.errors import CannotReverse, InventoryError
from inventory.ledger.models import CostingMethod, Entry, Posting, Reason
from inventory.ledger.verification import check
from inventory.sessions.actions.judging import JudgementFacts, judge_pours
from inventory.sessions.actions.throwing_away import ThrowAwayFacts, throw_away
from inventory.sessions.models import Pour, Stage
from inventory.sessions.queries.pours import failed_pours
from inventory.sessions.queries.session_costs import pour_account
from studio.accounts.models import User
from studio.auditing.writing import set_all
from studio.errors import InputError
from tests.days import DAY, TODAY
from tests.inventory.browsing import KEY, as_user, queries, text_of
from tests.making import (
    correct,
    make_delivery,
    make_helper,
    make_lot,
    make_material,
    make_pour,
    make_session,
    make_submission,
    make_surface,
    money,
    pour_of,
    sell,
    take_back,
    the_reason,
    units,
    use_cost_flow,
)
from tests.programs import Program

pytestmark = pytest.mark.django_db


@pytest.fixture
def program(owner: User) -> Program:
    return Program(owner)


def session_of(good: int, failed: int, *, quantity: int = 100_000, cost: str = "4.00") -> list[Pour]:
    """Alike pours on one day, each of so much paint for so much, the failed ones last."""
    paint, canvas = make_material(), make_surface()
    count = good + failed
    make_delivery(
        lines=[(paint, count * quantity, money(cost) * count), (canvas, count * 1_000, 0)], on=TODAY
    )
    poured = [
        pour_of(
            material=paint, quantity=quantity, surface=canvas, outcome="good" if number < good else "failed"
        )
        for number in range(count)
    ]
    return list(make_session(pours=poured).pours.order_by("number"))


def bin_(*pours: Pour, reason: str | None = None, on: date = TODAY, key: str = "") -> Posting:
    facts = ThrowAwayFacts(pours, None if reason is None else the_reason(reason))
    return throw_away(facts=facts, submission=make_submission(on=on, key=key))


def in_work(pours: Sequence[Pour]) -> int:
    return sum(Entry.objects.filter(pour__in=pours, place="work").values_list("money", flat=True))


def lost(code: str) -> int:
    return sum(Entry.objects.filter(reason__code=code).values_list("money", flat=True))


def test_the_textbook_batch_of_normal_and_abnormal_spoilage() -> None:
    """550 made for 2,200.00; 30 fail in the usual run, 20 out of the ordinary: 500 good at 4.24, a loss of 80.00.

    A tenth of each here. Source: an exam question on normal and abnormal spoilage (550 units, 4.00 each), worked by its
    own rule; the principle is that of IAS 2, paragraph 16.
    """
    pours = session_of(50, 5)
    bin_(*pours[50:53])
    bin_(*pours[53:], reason="ruined")
    assert (in_work(pours[:50]), in_work(pours[50:]), lost("ruined")) == (money(212), 0, money(8))
    assert {pour_account(pour).cost for pour in pours[:50]} == {money("4.24")}
    assert check().is_clean


def test_a_normal_loss_is_carried_by_area() -> None:
    paint, small, large = (
        make_material(),
        make_surface(height=10_000, width=10_000),
        make_surface(height=30_000),
    )
    make_delivery(
        lines=[(paint, units(300), money(3)), (small, units(2), money(2)), (large, units(1), money(3))],
        on=TODAY,
    )
    surfaces = [(small, "good"), (large, "good"), (small, "failed")]
    session = make_session(
        pours=[
            pour_of(material=paint, quantity=100_000, surface=surface, outcome=outcome)
            for surface, outcome in surfaces
        ]
    )
    first, second, failed = session.pours.order_by("number")
    bin_(failed)
    share = Fraction(first.area, first.area + second.area)
    # Of the canvas whole thousandths are shared, so the share is right to a thousandth of what the canvas cost.
    assert abs(in_work([first]) - (money(2) + share * money(2))) < money("0.001")
    assert in_work([first, second]) == money(8)


def test_what_those_already_sold_would_carry_is_the_periods_normal_loss() -> None:
    *good, failed = session_of(4, 1)
    sell(pours=good[:1])
    bin_(failed)
    assert in_work(good[1:]) == money(12) + money(3)
    assert lost("usual-failure") == money(1)
    assert Reason.objects.get(code="usual-failure").kind == Reason.Kind.NORMAL


def test_without_a_good_pour_the_whole_is_a_normal_loss() -> None:
    (failed,) = session_of(0, 1)
    bin_(failed)
    assert (in_work([failed]), lost("usual-failure")) == (0, money(4))


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.integers(1, 90_000), min_size=1, max_size=6),
    st.lists(st.integers(1, 90_000), min_size=1, max_size=3),
    st.integers(0, 9_999),
    st.sampled_from(list(CostingMethod)),
)
def test_every_millionth_stays_in_the_session_and_comes_back(
    good: list[int], failed: list[int], cost: int, method: CostingMethod
) -> None:
    with transaction.atomic():
        use_cost_flow(method)
        paint, canvas = make_material(), make_surface()
        count = len(good) + len(failed)
        lot = make_lot(material=paint, quantity=sum(good + failed), cost=cost * 10_000)
        make_lot(material=canvas, quantity=count * 1_000, cost=cost // 3 * 10_000)
        poured = [
            pour_of(material=paint, quantity=quantity, surface=canvas, outcome=outcome)
            for quantities, outcome in ((good, "good"), (failed, "failed"))
            for quantity in quantities
        ]
        pours = list(make_session(pours=poured).pours.order_by("number"))
        kept, binned = pours[: len(good)], pours[len(good) :]
        before = [in_work([pour]) for pour in pours]
        posting = bin_(*binned)
        assert (in_work(kept), in_work(binned)) == (sum(before), 0)
        correction = correct(lot=lot, difference=money(1))
        assert (in_work(kept), in_work(binned)) == (sum(before) + money(1), 0)
        take_back(correction)
        take_back(posting)
        assert [in_work([pour]) for pour in pours] == before
        assert check().is_clean
        transaction.set_rollback(True)


def test_a_late_cost_follows_a_failed_pour_to_those_that_carry_it() -> None:
    paint, canvas = make_material(), make_surface()
    lot = make_lot(material=paint, quantity=units(300), cost=money(3))
    make_lot(material=canvas, quantity=units(3), cost=0)
    poured = [
        pour_of(material=paint, quantity=100_000, surface=canvas, outcome=outcome)
        for outcome in ("good", "good", "failed")
    ]
    first, second, failed = make_session(pours=poured).pours.order_by("number")
    bin_(failed)
    sell(pours=[first])
    correct(lot=lot, difference=money("0.60"))
    assert in_work([second]) == money("1.80")
    assert sum(Entry.objects.filter(place="sold").values_list("money", flat=True)) == money("1.80")
    assert check().is_clean


def test_what_cannot_be_thrown_away_is_refused(owner: User) -> None:
    good, failed = session_of(1, 1)
    with pytest.raises(InventoryError, match="not marked as failed"):
        bin_(good)
    with pytest.raises(InputError) as nothing:
        ThrowAwayFacts([])
    assert nothing.value.field == "pours"
    with pytest.raises(InputError) as gift:
        ThrowAwayFacts([failed], the_reason("gift"))
    assert gift.value.field == "reason"
    with pytest.raises(InventoryError, match="dated"):
        bin_(failed, on=TODAY - DAY)
    paint = make_lot().material
    make_session(pours=[pour_of(material=paint, quantity=1_000, over=failed)])
    with pytest.raises(InventoryError, match="lies under"):
        bin_(failed)


def test_a_pour_leaves_once_and_comes_back_by_a_reversal(owner: User) -> None:
    good, failed = session_of(1, 1)
    posting = bin_(failed, key="bin-1")
    assert bin_(failed, key="bin-1") == posting
    assert failed.pk not in failed_pours()
    with pytest.raises(InventoryError, match="already sold, written off"):
        bin_(failed)
    with pytest.raises(InventoryError, match="thrown away"):
        judge_pours(
            judgements=[JudgementFacts(failed, "good", Stage.DRY)], submission=make_submission(by=owner)
        )
    sell(pours=[good])
    with pytest.raises(CannotReverse, match=good.label):
        take_back(posting)
    take_back(Posting.objects.get(kind="sale"))
    take_back(posting)
    assert (in_work([good]), in_work([failed])) == (money(4), money(4))
    assert failed.pk in failed_pours()


def test_alerts_stay_as_they_are() -> None:
    *_good, failed = session_of(1, 1)
    before = list(Alert.objects.values())
    bin_(failed)
    assert list(Alert.objects.values()) == before


def test_a_planted_break_is_found() -> None:
    _good, failed = session_of(1, 1)
    bin_(failed)
    set_all(Pour.objects.filter(pk=failed.pk), outcome="good")
    assert {each.rule for each in check().breaks} == {"outcomes"}


# Pages and API


def test_it_is_done_from_the_page_of_the_session_and_seen_on_that_of_the_pour(owner: User) -> None:
    *_good, failed = session_of(2, 1)
    client, page = as_user(owner), reverse("inventory:session-throw-away", args=[failed.session_id])
    assert page in client.get(reverse("inventory:session", args=[failed.session_id])).content.decode()
    assert page in client.get(reverse("inventory:pour", args=[failed.pk])).content.decode()
    assert client.get(page).status_code == 200
    sent = {"key": KEY, "pours": [failed.pk], "loss": "normal", "on": TODAY.isoformat(), "note": "Slid off"}
    assert client.post(page, sent).status_code == 302
    posting = Posting.objects.get(kind="pour_write_off")
    shown = client.get(reverse("inventory:pour", args=[failed.pk])).content.decode()
    assert reverse("inventory:posting", args=[posting.number]) in shown
    session = client.get(reverse("inventory:session", args=[failed.session_id])).content.decode()
    assert "thrown away" in session
    assert page not in session


def test_an_abnormal_loss_asks_what_happened(owner: User) -> None:
    *_good, failed = session_of(1, 1)
    client, page = as_user(owner), reverse("inventory:session-throw-away", args=[failed.session_id])
    sent = {"key": KEY, "pours": [failed.pk], "loss": "abnormal", "on": TODAY.isoformat()}
    refused = client.post(page, sent)
    assert refused.status_code == 422
    assert "reason" in refused.context["form"].errors
    assert client.post(page, sent | {"reason": the_reason("ruined").pk}).status_code == 302
    assert lost("ruined") == money(4)


def test_a_normal_loss_with_a_reason_is_asked_about(owner: User) -> None:
    *_good, failed = session_of(1, 1)
    page = reverse("inventory:session-throw-away", args=[failed.session_id])
    sent = {"key": KEY, "pours": [failed.pk], "loss": "normal", "on": TODAY.isoformat()}
    refused = as_user(owner).post(page, sent | {"reason": the_reason("ruined").pk})
    assert "reason" in refused.context["form"].errors


def test_a_helper_sees_no_money_on_the_way(owner: User) -> None:
    *_good, failed = session_of(1, 1)
    page = as_user(make_helper()).get(reverse("inventory:session-throw-away", args=[failed.session_id]))
    assert "£" not in text_of(page)


def test_the_page_asks_no_more_for_more_pours(owner: User) -> None:
    counts = []
    for failed in (1, 4):
        pours = session_of(2, failed)
        page = reverse("inventory:session-throw-away", args=[pours[0].session_id])
        counts.append(queries(as_user(owner), page))
    assert counts[0] == counts[1]


def test_a_program_throws_pours_away(program: Program) -> None:
    good, failed = session_of(1, 1)
    body = {"pours": [failed.pk], "on": TODAY.isoformat()}
    made = program.send("pour-write-offs/", body)
    assert made["posting"]["kind"] == "pour_write_off"
    assert program.read(f"pours/{failed.pk}/")["pour"]["thrown_away_by"] == made["posting"]["number"]
    assert program.read(f"pours/{good.pk}/")["pour"]["thrown_away_by"] is None


def test_a_pour_tells_what_was_corrected_by_whom_from_what_to_what(owner: User, program: Program) -> None:
    pour = make_pour()
    lot = pour.entries.get(role="poured").posting.entries.get(lot__isnull=False, quantity=-200_000).lot
    assert lot is not None
    posting = correct(lot=lot, difference=money(1))
    page = text_of(as_user(owner).get(reverse("inventory:pour", args=[pour.pk])))
    assert f"ledger no. {posting.number}" in page
    assert "from £5.50 to £5.70" in page
    (told,) = program.read(f"pours/{pour.pk}/")["corrections"]
    assert (told["posting"], told["corrects"]) == (posting.number, posting.corrects_id)
