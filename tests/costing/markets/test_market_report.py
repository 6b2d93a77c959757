"""What a market day came to, on paper."""

import pytest
from django.urls import reverse

from costing.commissions.actions import PaymentFacts, receive_payment
from costing.markets.actions.counting import count_cash
from costing.markets.actions.selling import CARD, CASH, quick_sale
from costing.selling.actions import PieceSold
from studio.accounts.models import User
from studio.papers.frame import paper_named
from tests.costing.commissions.stories import a_commission
from tests.costing.markets.stories import make_market, pack_into, pieces_for_sale
from tests.costing.pages import as_user
from tests.costing.stories import use_rates
from tests.making import make_bookkeeper, make_helper, make_submission, money
from tests.studio.papers.test_paper import assert_inside_margins, read_pages

pytestmark = pytest.mark.django_db


def printed(user: User, pk: int, paper: str = "A4") -> bytes:
    response = as_user(user).get(reverse("costing:market-report", args=[pk]), {"paper": paper})
    assert response.headers["Content-Type"] == "application/pdf"
    return bytes(response.content)


@pytest.mark.parametrize("paper", ["A4", "A5", "Letter"])
def test_the_report_says_what_was_taken_whether_it_paid_and_what_is_left(owner: User, paper: str) -> None:
    use_rates(wage="2.00", overhead="0")
    market = make_market()
    first, second, third, fourth = pieces_for_sale(4)
    rows = pack_into(market, first, second, third, fourth)
    rows[-1].is_missing = True
    rows[-1].save()
    for piece, way in ((first, CASH), (second, CARD)):
        quick_sale(
            market=market, lines=[PieceSold(piece, money(45))], paid_by=way, submission=make_submission()
        )
    assert market.cash_channel is not None
    receive_payment(
        commission=a_commission(),
        facts=PaymentFacts(money(60), market.cash_channel),
        submission=make_submission(on=market.held_on),
    )
    count_cash(market=market, counted=money("149.50"), paid_out=money(5), submission=make_submission())
    content = printed(owner, market.pk, paper)
    assert_inside_margins(content, paper_named(paper))
    words = " ".join(read_pages(content))
    for part in (
        "Lantern Quay", "In cash £105.00", "By card £45.00", "Takings £150.00",
        "Of it paid for commissions not sold yet £60.00", "Sales £90.00", "less card fees and other fees £0.90",
        # 90.00 less 0.90 and twice 5.50; then a pitch of 20.00, 10 km at 0.40 and seven hours at 2.00
        "Contribution £78.10", "less pitch fee £20.00", "less travel £4.00", "less wages £14.00", "Profit £40.10",
        "Earned per hour of work, before the wage £7.73", "Expected £150.00", "Counted £149.50", "Difference −£0.50",
        "2 pieces sold.", "4 packed, 1 left, 1 missing.",
    ):  # fmt: skip
        assert part in words


def test_a_day_that_sold_nothing_has_a_report_too(owner: User) -> None:
    words = " ".join(read_pages(printed(owner, make_market().pk)))
    assert "Takings £0.00" in words
    assert "Loss −£24.00" in words
    assert "Counted not yet" in words


def test_the_report_is_for_those_who_see_money() -> None:
    market = make_market()
    address = reverse("costing:market-report", args=[market.pk])
    assert as_user(make_helper()).get(address).status_code == 403
    assert printed(make_bookkeeper(), market.pk)


def test_an_unknown_paper_leads_back_to_the_day(owner: User) -> None:
    market = make_market()
    answer = as_user(owner).get(reverse("costing:market-report", args=[market.pk]), {"paper": "wallpaper"})
    assert answer.headers["Location"] == f"/markets/{market.pk}/"
    page = as_user(owner).get(reverse("costing:market", args=[market.pk])).content.decode()
    assert reverse("costing:market-report", args=[market.pk]) in page
