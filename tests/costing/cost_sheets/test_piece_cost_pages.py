"""What a piece really cost, line by line on its page; and what may be asked for it."""

import pytest
from django.test import Client
from django.urls import reverse

from costing.pieces.actions.pieces import PieceFacts, make_piece
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.selling.actions import sell
from studio.accounts.models import User
from tests.costing.pages import as_user, page_of, text_of
from tests.costing.stories import LATER, POURED_ON, a_piece, make_channel, two_ring_pours, use_rates
from tests.days import june
from tests.making import (
    make_lot,
    make_pour,
    make_session,
    make_submission,
    make_surface,
    money,
    pour_of,
    units,
)
from tests.two_tabs import Tab

pytestmark = pytest.mark.django_db


@pytest.fixture
def signed(owner: User) -> Client:
    return as_user(owner)


# The cost


def test_the_page_tells_the_whole_cost_in_lines_that_add_up(signed: Client, owner: User) -> None:
    use_rates(wage="12.00", overhead="3.00")
    first, second = two_ring_pours(minutes=100)
    piece = make_piece(
        facts=PieceFacts(title="Two lamps", pours=[first, second]), submission=make_submission(by=owner)
    )
    response = signed.get(page_of(piece))
    sheet = response.context["sheet"]
    labels = [group.label for group in sheet.groups]
    assert labels == ["Surface", "Paint and medium", "Labour", "Overhead"]
    # By hand: canvases 3.50 + 3.51; of 300 mL mixed, 200 mL paint at 10.00 a litre and 100 mL medium of two parts glue
    # at 7.01 a litre to one of water; all of it, cup residue included, ends in the two pours.
    assert [group.text for group in sheet.groups] == ["£7.01", "£2.47", "£20.00", "£5.00"]
    assert sheet.whole == "£34.48"
    assert sum(group.percent for group in sheet.groups) == 100
    for group in sheet.groups:
        lines = group.lines
        assert sum(pence(line.money) for line in lines) == pence(group.text)
    words = text_of(response)
    assert "Total cost £34.48 , Total cost £1.54 per 100 cm²" in words


def pence(text: str) -> int:
    return int(text.replace("£", "").replace(".", "").replace(",", "").replace("−", "-"))


def test_a_mixed_colour_folds_out_to_the_bottles_it_came_from(signed: Client, owner: User) -> None:
    piece = a_piece(pours=two_ring_pours()[:1])
    sheet = signed.get(page_of(piece)).context["sheet"]
    paint = next(group for group in sheet.groups if group.label == "Paint and medium")
    line = paint.lines[0]
    (mixed,) = line.parts
    assert sum(pence(part.money) for part in mixed.parts) == pence(mixed.money) == pence(line.money)
    medium = next(part for part in mixed.parts if part.parts)
    water = next(part for part in medium.parts if part.source.lot is None)
    assert (water.money, bool(water.quantity)) == ("£0.00", True)
    page = signed.get(page_of(piece)).content.decode()
    for name, number in [("lot", mixed.source.lot.pk), ("posting", line.line.posting.pk)]:
        assert reverse(f"inventory:{name}", args=[number]) in page


def test_rework_is_told_apart_and_its_surface_counted_once(signed: Client) -> None:
    use_rates(wage="12.00")
    failed = make_pour(outcome="failed", on=POURED_ON)
    paint = make_lot(on=june(2)).material
    over = make_session(
        pours=[pour_of(material=paint, quantity=100_000, over=failed)], on=june(2), minutes=10
    ).pours.get()
    response = signed.get(page_of(a_piece(pours=[over])))
    amounts = {group.label: group.text for group in response.context["sheet"].groups}
    # Canvas 3.50 and 200 mL at 10.00 a litre beneath; 100 mL on top; ten minutes at 12.00 an hour.
    assert amounts == {
        "Surface": "£3.50",
        "Paint and medium": "£1.00",
        "Rework and failed pours": "£2.00",
        "Labour": "£2.00",
        "Overhead": "£0.50",
    }
    assert "the failed pour beneath accounts for £2.00, including its time" in text_of(response)


def test_a_sold_piece_tells_where_its_price_went(signed: Client, owner: User) -> None:
    channel = make_channel("Gallery", commission=350_000, fixed_fee=money("0.20"))
    piece = a_piece(state=State.FOR_SALE)
    sell(piece=piece, channel=channel, price=money(45), submission=make_submission(by=owner, on=LATER))
    words = text_of(signed.get(page_of(piece)))
    # 35 % of 45.00 is 15.75; 45.00 − 15.75 − 0.20 = 29.05; less 5.50 leaves 23.55.
    assert (
        "less commission £15.75 less fixed fee £0.20 Net proceeds £29.05 less cost £5.50 Profit £23.55"
        in words
    )
    assert "What should I charge?" not in words


# The price


def test_the_floor_of_each_route_and_what_is_left_at_the_asking_price(signed: Client) -> None:
    make_channel("Gallery", commission=500_000)
    piece = a_piece(state=State.FOR_SALE, price="10.00")
    words = text_of(signed.get(page_of(piece), {"profit": "100"}))
    # Half of 11.00 leaves the cost of 5.50; half of 22.00 leaves twice that.
    floors = ["£11.00", "£22.00", "£22.00", "£25.00"]
    assert f"Gallery {' '.join(f'{price} , as asking price' for price in floors)}" in words
    assert "Below cost" in words
    assert "£5.00 £5.00 −£0.50" in words
    assert "not tax or legal advice" in words


def test_a_larger_piece_that_is_cheaper_than_a_smaller_one_is_pointed_out(signed: Client) -> None:
    make_channel()
    paint = make_lot(on=POURED_ON).material
    made = {}
    for title, side, price in [("Large", 40_000, "30.00"), ("Small", 20_000, "50.00")]:
        surface = make_surface(height=side, width=side, depth=None)
        make_lot(material=surface, quantity=units(1), on=POURED_ON)
        session = make_session(pours=[pour_of(material=paint, quantity=1000, surface=surface)], on=POURED_ON)
        made[title] = a_piece(pours=session.pours.all(), title=title, state=State.FOR_SALE, price=price)
    words = text_of(signed.get(page_of(made["Large"])))
    assert (
        "The larger Large (1,600 cm²) costs £30.00, less than the smaller Small (400 cm²) at £50.00." in words
    )


def test_the_asking_price_is_set_and_taken_off(signed: Client) -> None:
    piece = a_piece()
    signed.post(page_of(piece, "piece-price"), {"price-price": "48.50"})
    assert Piece.objects.get().price == money("48.50")
    response = signed.post(page_of(piece, "piece-price"), {"price-price": "48.505"})
    assert response.status_code == 422
    assert 'value="48.505"' in response.content.decode()
    Tab(signed, page_of(piece), page_of(piece, "piece-price")).send(**{"price-price": ""})
    assert Piece.objects.get().price is None
