"""A sales channel that is added where a piece is sold."""

import pytest
from django.urls import reverse

from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.pricing.models import ChannelTerms, SalesChannel
from costing.selling.models import Sale
from studio.accounts.models import User
from tests.costing.pages import as_user
from tests.costing.selling.test_sale_pages import till
from tests.costing.selling.test_selling_pages import several
from tests.costing.stories import a_piece, make_channel
from tests.making import money

pytestmark = pytest.mark.django_db
NEW = {"channel": "", "new_channel": "Pier gallery", "new_payment": "gallery", "new_commission": "40%"}


@pytest.fixture
def piece() -> Piece:
    return a_piece(title="Low water", state=State.FOR_SALE, price="45.00")


def address_of(piece: Piece) -> str:
    return reverse("costing:sell", args=[piece.pk])


def test_a_channel_is_added_with_the_sale_and_keeps_its_commission_of_it(owner: User, piece: Piece) -> None:
    body = till(make_channel()) | NEW
    for _time in range(2):  # sent twice it is one sale
        assert as_user(owner).post(address_of(piece), body).status_code == 302
    line = Sale.objects.get().lines.get()
    assert (line.sale.channel.name, line.sale.channel.payment) == ("Pier gallery", "gallery")
    assert line.commission == money(18)  # 40% of 45.00, no tax
    assert ChannelTerms.objects.get(channel=line.sale.channel).commission == 400_000


def test_several_pieces_are_sold_through_a_new_channel(owner: User, piece: Piece) -> None:
    address, body = several([piece], make_channel())
    assert as_user(owner).post(address, body | NEW).status_code == 302
    assert Sale.objects.get().channel.name == "Pier gallery"


@pytest.mark.parametrize(
    "refused",
    [
        {"price": ""},
        {"price": "forty"},
        {"new_commission": "140%"},
        {"new_payment": "barter"},
        {"new_channel": ""},
        {"on": "2025-05-01"},  # before it was poured
        {"channel": "chosen"},
    ],
)
def test_a_refused_sale_keeps_the_new_channel_and_adds_nothing(
    owner: User, piece: Piece, refused: dict[str, str]
) -> None:
    known = make_channel()
    body = till(known) | NEW | refused
    body["channel"] = known.pk if body["channel"] == "chosen" else body["channel"]
    response = as_user(owner).post(address_of(piece), body)
    assert response.status_code == 422
    form = response.context["form"]
    assert [form[name].value() for name in ("new_channel", "new_payment", "new_commission")] == [
        body["new_channel"],
        body["new_payment"],
        body["new_commission"],
    ]
    assert form.shows_new
    assert SalesChannel.objects.filter(name="Pier gallery").count() == 0
    assert not Sale.objects.exists()


def test_the_name_of_a_channel_that_is_there_means_that_one(owner: User, piece: Piece) -> None:
    known = make_channel(name="Pier gallery")
    as_user(owner).post(address_of(piece), till(known) | NEW | {"new_channel": " pier  GALLERY"})
    assert Sale.objects.get().channel == known
    assert ChannelTerms.objects.filter(channel=known).count() <= 1


def test_a_channel_that_is_switched_off_is_not_used_again_unseen(owner: User, piece: Piece) -> None:
    known = make_channel()
    SalesChannel.objects.create(name="Pier gallery", is_active=False)
    assert as_user(owner).post(address_of(piece), till(known) | NEW).status_code == 422
    assert not Sale.objects.exists()


def test_a_helper_adds_no_channel(helper: User, piece: Piece) -> None:
    known = make_channel()
    assert as_user(helper).post(address_of(piece), till(known) | NEW).status_code == 422
    assert SalesChannel.objects.filter(name="Pier gallery").count() == 0
