"""A sale takes the tax and the terms of its own day, whenever it is entered, and keeps them."""

from datetime import date

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from costing.pieces.calculations import State
from costing.pricing.models import ChannelTerms, SalesChannel
from costing.pricing.queries import price_advice
from costing.selling.actions import sell
from costing.selling.models import Sale
from studio.accounts.models import User
from tests.costing.stories import LATER, a_piece, line_of, make_channel
from tests.days import DAY, TODAY, june
from tests.inventory.browsing import text_of
from tests.making import make_rates, make_submission, money
from tests.programs import Program
from tests.two_tabs import form_on

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


@pytest.fixture
def gallery(db: None) -> SalesChannel:
    """40% before tax until 9 June, 42% of the whole price and 0.50 from the 10th; tax 20%, and 10% from the 10th."""
    make_rates(tax_rate=200_000)
    make_rates(june(10), tax_rate=100_000)
    channel = make_channel("Gallery", commission=400_000, commission_before_tax=True)
    ChannelTerms.objects.create(
        channel=channel,
        holds_from=june(10),
        commission=420_000,
        commission_before_tax=False,
        fixed_fee=money("0.50"),
    )
    return channel


def sold(channel: SalesChannel, owner: User, on: date) -> Sale:
    piece = a_piece(state=State.FOR_SALE, title=f"Sold on {on}")
    return sell(piece=piece, channel=channel, price=money(132), submission=make_submission(by=owner, on=on))


def taken(sale: Sale) -> tuple[int, ...]:
    line = line_of(sale)
    return line.sale.tax_rate, line.tax, line.commission, line.card_fee, line.fixed_fee


BEFORE = (200_000, money(22), money(44), 0, 0)  # 132 holds 22 of tax; 40% of 110
AFTER = (100_000, money(12), money("55.44"), 0, money("0.50"))  # 132 holds 12; 42% of 132


def test_a_sale_entered_late_takes_what_held_on_its_day(owner: User, gallery: SalesChannel) -> None:
    assert taken(sold(gallery, owner, june(9))) == BEFORE
    assert taken(sold(gallery, owner, june(10))) == AFTER


def test_terms_and_tax_entered_later_leave_a_sale_as_it_was(owner: User, gallery: SalesChannel) -> None:
    sale = sold(gallery, owner, june(9))
    make_rates(june(1), tax_rate=0)
    ChannelTerms.objects.create(channel=gallery, holds_from=june(1), commission=0)
    assert taken(sale) == BEFORE
    assert taken(sold(gallery, owner, LATER)) == (0, 0, 0, 0, 0)


def test_prices_rest_on_the_tax_and_terms_of_the_day_that_is_asked_for(gallery: SalesChannel) -> None:
    piece = a_piece(price="132.00")
    for day, since, expected in ((june(9), None, BEFORE), (june(10), june(10), AFTER)):
        rate, tax, commission, card_fee, fixed_fee = expected
        advice = price_advice(piece, on=day)
        [channel] = advice.channels
        assert advice.tax is not None
        assert channel.proceeds is not None
        assert (advice.tax.value, advice.tax.since, channel.terms.since) == (rate, since, since)
        got = channel.proceeds
        assert (got.vat, got.commission, got.card_fee, got.fixed_fee) == (
            tax,
            commission,
            card_fee,
            fixed_fee,
        )


def test_the_price_page_says_which_rates_it_rests_on_and_since_when(
    signed: Client, gallery: SalesChannel
) -> None:
    piece = a_piece(price="132.00", state=State.FOR_SALE)
    for address in ("costing:piece", "costing:sell"):
        words = text_of(signed.get(reverse(address, args=[piece.pk])))
        assert "Prices include 10% tax, the rate since 10 Jun 2025." in words
    assert "Gallery terms since 10 Jun 2025" in text_of(signed.get(reverse("costing:piece", args=[piece.pk])))


def test_a_change_of_terms_is_typed_and_only_what_is_typed_changes(signed: Client, owner: User) -> None:
    channel = make_channel("Gallery", commission=400_000, commission_before_tax=False, card_rate=10_000)
    here = f"{reverse('costing:terms-new')}?channel={channel.pk}"
    fields = form_on(signed.get(here), here, reverse("costing:terms-new"))
    signed.post(here, fields | {"holds_from": "2025-06-10", "commission": "42%"})
    change = channel.terms.get(holds_from=june(10))
    assert [getattr(change, name) for name in change.values] == [420_000, None, None, None, None]
    # 132.00: 42% of the whole price are 55.44, a card's 1% are 1.32
    assert taken(sold(channel, owner, june(10))) == (0, 0, money("55.44"), money("1.32"), 0)


def test_terms_need_a_channel_and_something_to_say(signed: Client) -> None:
    here = reverse("costing:terms-new")
    answer = signed.post(here, {"holds_from": "2025-06-10", "commission": "1", "seen": "0"})
    assert list(answer.context["form"].errors) == ["channel"]
    channel = make_channel("Gallery", commission=400_000)
    sent = {"channel": channel.pk, "holds_from": "2025-06-10", "seen": "0"}
    assert list(signed.post(here, sent).context["form"].errors) == ["__all__"]
    answer = signed.post(here, sent | {"holds_from": "", "commission": "1"})
    assert list(answer.context["form"].errors) == ["holds_from"]
    assert ChannelTerms.objects.count() == 1


@pytest.mark.parametrize("since", [None, TODAY])
def test_the_database_keeps_one_set_of_terms_for_a_day(since: date | None) -> None:
    """Going round Python."""
    first, second = make_channel("Gallery"), make_channel("Stall")
    for channel in (first, second):
        ChannelTerms.objects.bulk_create([ChannelTerms(channel=channel, holds_from=since, commission=1)])
    wrong = [
        ChannelTerms(channel=first, holds_from=since, card_rate=1),
        ChannelTerms(channel=first, holds_from=TODAY + DAY),
        ChannelTerms(channel=first, holds_from=TODAY + DAY, fixed_fee=-1),
    ]
    for row in wrong:
        with pytest.raises(IntegrityError), transaction.atomic():
            ChannelTerms.objects.bulk_create([row])


def test_programs_read_todays_terms_and_all_others(owner: User, gallery: SalesChannel) -> None:
    [channel] = Program(owner).read("sales-channels/")["results"]
    assert (channel["name"], channel["commission"], channel["commission_before_tax"]) == (
        "Gallery",
        "0.420000",
        False,
    )
    assert [terms["holds_from"] for terms in channel["terms"]] == [None, "2025-06-10"]
