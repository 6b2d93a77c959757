"""What is proposed on the pages of pieces: a title of its own, a price to take, and that no fees were entered."""

import pytest
from django.test import Client
from django.urls import reverse

from costing.pieces.calculations import State
from costing.pricing.models import ChannelTerms, Payment
from costing.pricing.terms import terms_on
from inventory.sessions.models import Session
from studio.accounts.models import User
from tests.costing.pages import as_user, page_of
from tests.costing.stories import a_piece, make_channel
from tests.days import TODAY
from tests.making import make_pour, money

pytestmark = pytest.mark.django_db


@pytest.fixture
def signed(owner: User) -> Client:
    return as_user(owner)


@pytest.mark.parametrize(
    ("title", "own"), [("2 × {surface}, Ring pour", False), ("Low tide", True), ("", False)]
)
def test_a_piece_is_titled_by_its_session_only_where_the_session_has_a_name_of_its_own(
    signed: Client, title: str, own: bool
) -> None:
    pour = make_pour()
    Session.objects.filter(pk=pour.session_id).update(title=title.format(surface=pour.surface.name))
    page = signed.get(reverse("costing:pieces-of-session", args=[pour.session_id]))
    (row,) = page.context["among"]
    assert row["title"].value() == (f"{title} 1" if own else f"{pour.technique} 1")


def test_a_suggested_price_is_taken_with_one_touch_and_saved_with_the_next(signed: Client) -> None:
    make_channel()
    piece = a_piece(state=State.FINISHED)
    page = signed.get(page_of(piece))
    (row,) = page.context["lowest_prices"].rows
    assert f'href="?ask={row.wanted_fives}#price-form"' in page.content.decode()
    taken = signed.get(page_of(piece), {"ask": str(row.wanted_fives)}).context
    assert (taken["price_form"]["price"].value(), taken["is_price_taken"]) == (
        f"{row.wanted_fives // money(1)}.00",
        True,
    )
    piece.refresh_from_db()
    assert piece.price is None
    for nonsense in ("x", "-1", "9" * 30, "²"):
        assert signed.get(page_of(piece), {"ask": nonsense}).context["price_form"]["price"].value() in (
            None,
            "",
        )


def test_who_may_not_set_the_price_takes_none(bookkeeper: User) -> None:
    make_channel()
    page = as_user(bookkeeper).get(page_of(a_piece(state=State.FINISHED)))
    assert page.context["lowest_prices"].rows
    assert "?ask=" not in page.content.decode()


@pytest.mark.parametrize(
    ("payment", "fees", "lacks"),
    [
        (Payment.CASH, None, False),
        (Payment.CARD, None, True),
        (Payment.CARD, {"card_rate": 20_000}, False),
        (Payment.CARD, {"commission_before_tax": True}, True),
    ],
)
def test_a_channel_that_nobody_entered_fees_for_says_so(
    signed: Client, payment: Payment, fees: dict[str, int] | None, lacks: bool
) -> None:
    channel = make_channel()
    channel.payment = payment
    channel.save()
    if fees:
        ChannelTerms.objects.create(channel=channel, holds_from=None, **fees)
    assert terms_on(channel, TODAY).lacks_fees is lacks
    enter = f"{reverse('costing:terms-new')}?channel={channel.pk}"
    assert (f'href="{enter}"' in signed.get(page_of(a_piece(state=State.FINISHED))).content.decode()) is lacks
    (listed,) = signed.get("/api/sales-channels/").json()["results"]
    assert listed["lacks_fees"] is lacks
