"""An allowance for failed pours: off until she wants it, her own rate or one she sets, and nothing charged twice."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from hypothesis import given
from hypothesis import strategies as st

from costing.pieces.calculations import State
from costing.pricing.failures import counted_failures
from costing.pricing.methods import FailureAllowance, FailureRate, Method, Rules, Subject, suggestions
from costing.pricing.models import PriceRules
from costing.pricing.price_sheet import Market, price_sheet, usual_method
from costing.pricing.queries import price_advice
from costing.selling.actions import disposals
from inventory.ledger.models import Reason
from inventory.sessions.actions.throwing_away import ThrowAwayFacts, throw_away
from inventory.sessions.models import Pour
from studio.accounts.models import User
from tests.costing.pages import as_user, page_of, text_of
from tests.costing.stories import LATER, POURED_ON, a_piece, make_channel
from tests.days import DAY
from tests.making import (
    make_delivery,
    make_lot,
    make_material,
    make_pour,
    make_session,
    make_submission,
    make_surface,
    money,
    pour_of,
    take_back,
)

pytestmark = pytest.mark.django_db
PENNY = 10_000
RULES_PAGE = "/settings/prices/"


def use_failures(allowance: FailureAllowance, share: int = 0) -> None:
    PriceRules.objects.update_or_create(pk=1, defaults={"failures": allowance, "failure_share": share})


def judged(*outcomes: str) -> list[Pour]:
    """One session with a pour of each outcome, on canvases at 3.50 under 2.00 of paint."""
    paint, canvas = make_material(), make_surface()
    lines = [(paint, 1_000_000, money(10)), (canvas, 1_000 * len(outcomes), money("3.50") * len(outcomes))]
    make_delivery(lines=lines, on=POURED_ON)
    pours = [
        pour_of(material=paint, quantity=200_000, surface=canvas, outcome=outcome) for outcome in outcomes
    ]
    return list(make_session(pours=pours, on=POURED_ON).pours.order_by("number"))


def counted() -> tuple[int, int]:
    rate = counted_failures(LATER)
    return rate.failed, rate.judged


def test_it_is_off_until_she_wants_it() -> None:
    make_channel()
    first, *_rest = judged("good", "failed")
    advice = price_advice(a_piece(pours=[first]), on=LATER)
    assert (advice.failures, advice.failures_money) == (None, 0)
    assert advice.channels[0].wanted == money("7.15")


def test_her_own_rate_raises_what_prices_by_cost_start_from_and_no_floor() -> None:
    """1 failed and 3 did not: a third of 5.50 is 1.83, and 7.33 with 30 % is 9.53 (9.529 up)."""
    channel = make_channel()
    first, *_rest = judged("good", "good", "second", "failed", "open")
    use_failures(FailureAllowance.COUNTED)
    piece = a_piece(pours=[first], state=State.FOR_SALE)
    advice = price_advice(piece, on=LATER)
    assert advice.failures == FailureRate(1, 4, is_counted=True)
    assert (advice.cost, advice.failures_money) == (money("5.50"), money("1.83"))
    assert (advice.channels[0].floor, advice.channels[0].wanted) == (money("5.50"), money("9.53"))
    rules, method = usual_method(LATER)
    (row,) = price_sheet([piece], channel, Market.on(LATER), rules=rules, method=method)
    left = {way.method: way.left for way in row.ways}
    assert (row.floor, row.failures) == (money("5.50"), money("1.83"))
    assert left[Method.MARKUP] == money("9.529")
    assert left[Method.MARGIN] == 12_216_667  # 7.33 ÷ 0.6
    assert left[Method.WAGE] == money("7.33")


def test_a_rate_that_she_sets_needs_no_history() -> None:
    """At 5 %, 95 good pours carry 5: 5/95 of 5.50 are 0.289, rounded to 0.29."""
    make_channel()
    use_failures(FailureAllowance.TYPED, 50_000)
    advice = price_advice(a_piece(), on=LATER)
    assert (advice.failures_money, advice.channels[0].floor) == (money("0.29"), money("5.50"))


def test_a_failed_pour_counts_until_its_cost_goes_on_to_another() -> None:
    _good, failed = judged("good", "failed")
    assert counted() == (1, 2)
    paint = make_lot(on=LATER).material
    make_session(pours=[pour_of(material=paint, quantity=1_000, over=failed, outcome="good")], on=LATER)
    assert counted() == (0, 3)


def test_a_usual_failure_that_good_pours_carry_is_not_counted_again_and_an_abnormal_one_is() -> None:
    _good, first, second = judged("good", "failed", "failed")
    usual = throw_away(facts=ThrowAwayFacts([first]), submission=make_submission(on=LATER))
    assert counted() == (1, 3)
    reason = Reason.objects.filter(kind=Reason.Kind.LOSS)[0]
    throw_away(facts=ThrowAwayFacts([second], reason), submission=make_submission(on=LATER))
    assert counted() == (1, 3)
    take_back(usual)
    assert counted() == (2, 3)


def test_a_usual_failure_that_nobody_could_carry_counts() -> None:
    (failed,) = judged("failed")
    throw_away(facts=ThrowAwayFacts([failed]), submission=make_submission(on=LATER))
    assert counted() == (1, 1)


def test_a_piece_that_was_written_off_counts_with_its_pours() -> None:
    first, second = judged("good", "good")
    piece = a_piece(pours=[first, second], state=State.DRY)
    reason = Reason.objects.filter(kind=Reason.Kind.LOSS)[0]
    disposals.write_off_piece(piece=piece, reason=reason, submission=make_submission(on=LATER))
    assert counted() == (2, 2)


def test_only_sessions_that_stand_of_the_last_twelve_months_count() -> None:
    _good, failed = judged("good", "failed")
    last = POURED_ON + timedelta(days=364)
    assert counted_failures(last) == FailureRate(1, 2, is_counted=True)
    assert counted_failures(last + DAY) == FailureRate(0, 0, is_counted=True)
    assert counted_failures(POURED_ON - DAY) == FailureRate(0, 0, is_counted=True)
    take_back(failed.session.posting)
    assert counted() == (0, 0)


def test_without_a_judged_pour_nothing_is_allowed_for() -> None:
    make_channel()
    use_failures(FailureAllowance.COUNTED)
    advice = price_advice(a_piece(), on=LATER)
    assert advice.failures_money == 0
    assert advice.channels[0].wanted == money("7.15")


def test_the_pages_show_its_arithmetic_and_say_which_failures_it_covers(owner: User) -> None:
    make_channel()
    use_failures(FailureAllowance.TYPED, 50_000)
    piece, client = a_piece(state=State.FOR_SALE), as_user(owner)
    page = text_of(client.get(page_of(piece)))
    assert "Allowance for failed pours £0.29 5.3% of £5.50: at the rate of 5% that you set" in page
    assert "Allowance for failed pours £0.29" in text_of(client.get("/prices/"))
    (row,) = client.get("/api/prices/").json()["results"]
    assert (row["failure_allowance"], row["floor"]) == ("0.290000", "5.500000")
    assert "so nothing is charged twice" in text_of(client.get(RULES_PAGE))


def sent(**changed: str) -> dict[str, str]:
    return {
        "seen": "0", "method": "markup", "ending": "whole", "markup": "30%", "margin": "40%", "wage": "15",
        "per_area": "8", "per_side": "1", "retail_factor": "2", "failures": "none", "failure_share": "",
    } | changed  # fmt: skip


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"failures": "typed"}, "failure_share"),
        ({"failures": "typed", "failure_share": "0%"}, "failure_share"),
        ({"failures": "typed", "failure_share": "101%"}, "failure_share"),
        ({"failures": "typed", "failure_share": "-5%"}, "failure_share"),
        ({"failures": "typed", "failure_share": "now and then"}, "failure_share"),
        ({"failures": "mostly"}, "failures"),
    ],
)
def test_a_senseless_allowance_is_refused_at_its_field(
    owner: User, typed: dict[str, str], field: str
) -> None:
    response = as_user(owner).post(RULES_PAGE, sent(**typed))
    assert response.status_code == 422
    assert field in response.context["form"].errors
    assert not PriceRules.objects.exists()


def test_the_owner_sets_it_on_the_page_of_ways_to_a_price(owner: User) -> None:
    client = as_user(owner)
    assert client.post(RULES_PAGE, sent(failures="typed", failure_share="5%")).status_code == 302
    rules = PriceRules.current()
    assert (rules.failures, rules.failure_share) == ("typed", 50_000)
    assert client.post(RULES_PAGE, sent(seen="999999", failures="counted")).status_code == 302
    assert PriceRules.current().failures == "counted"


@pytest.mark.parametrize(
    "wrong", [{"failures": "mostly"}, {"failure_share": -1}, {"failure_share": 1_000_001}]
)
def test_the_database_refuses_it_too(wrong: dict[str, object]) -> None:
    PriceRules.objects.create(pk=1)
    with pytest.raises(IntegrityError), transaction.atomic():
        PriceRules.objects.update(**wrong)


def test_the_count_takes_as_many_queries_for_many_failures_as_for_one() -> None:
    counts = []
    for number in (1, 4):
        for pour in judged(*["failed"] * number, "good")[:-1]:
            throw_away(facts=ThrowAwayFacts([pour]), submission=make_submission(on=LATER))
        make_pour(outcome="failed", on=POURED_ON)
        with CaptureQueriesContext(connection) as asked:
            counted_failures(LATER)
        counts.append(len(asked))
    assert counts[0] == counts[1]


amounts = st.integers(min_value=0, max_value=10**9)
pours = st.integers(min_value=0, max_value=500)


@given(cost=amounts, failed=pours, good=pours)
def test_an_allowance_pays_for_the_failed_pours_and_grows_with_them(
    cost: int, failed: int, good: int
) -> None:
    rate = FailureRate(failed, failed + good, is_counted=True)
    allowance = rate.allowance(cost, minor_unit=PENNY)
    assert allowance % PENNY == 0
    assert abs(allowance * good - cost * failed) <= good * PENNY // 2 or not good
    assert allowance <= FailureRate(failed + 1, failed + 1 + good, is_counted=True).allowance(
        cost, minor_unit=PENNY
    )
    plain = suggestions(Subject(cost, 0, 0, 0, 0), Rules())
    for less, more in zip(
        plain, suggestions(Subject(cost, 0, 0, 0, 0, failures=allowance), Rules()), strict=True
    ):
        assert (less.left or less.asked or 0) <= (more.left or more.asked or 0)
