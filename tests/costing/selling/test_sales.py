"""Sales and returns: where the price goes, where the cost goes, and that nothing is sold twice."""

import threading
from datetime import date, timedelta

import pytest
from django.db import IntegrityError, connection, connections, transaction
from django.db.models import Sum

from costing.errors import PieceError, StatusConflict, StepRefused
from costing.pieces.actions.pieces import WorkFacts, finish_piece
from costing.pieces.calculations import State
from costing.pieces.models import Piece, PieceStep
from costing.pieces.queries import pours_of, work_of
from costing.pricing.models import SalesChannel
from costing.selling.actions import return_sale, sell
from costing.selling.models import Sale, SaleLine
from inventory.errors import CannotReverse, ClosedPeriod, InventoryError, KeyReused
from inventory.ledger.models import Entry, Posting
from inventory.ledger.verification import check
from inventory.materials.models import Kind
from studio.accounts.models import User
from studio.preferences.models import Studio
from tests import making
from tests.costing.stories import (
    LATER,
    POURED_ON,
    a_piece,
    held_in,
    line_of,
    make_channel,
    moved_to,
    two_ring_pours,
    use_rates,
)
from tests.days import june
from tests.making import (
    close_books,
    ingredients,
    make_lot,
    make_material,
    make_owner,
    make_pour,
    make_session,
    money,
    pour_of,
)

pytestmark = pytest.mark.django_db

THE_DAY_AFTER = june(10)


def sold(
    piece: Piece,
    *,
    channel: SalesChannel | None = None,
    price: str = "45.00",
    on: date = LATER,
    key: str = "",
    **facts: str,
) -> SaleLine:
    submission = making.make_submission(on=on, key=key)
    channel = channel or make_channel()
    return line_of(sell(piece=piece, channel=channel, price=money(price), submission=submission, **facts))


def returned(line: SaleLine, *, on: date = THE_DAY_AFTER, key: str = "", note: str = "") -> SaleLine:
    return_sale(sale=line.sale, submission=making.make_submission(on=on, key=key), note=note)
    return line_of(line.sale)


# Where the price goes


def test_tax_is_taken_out_of_the_price_and_fees_from_what_is_left() -> None:
    """The tax in 120 at 20 % is 20.00: VAT fraction 1/6 (HM Revenue & Customs, VAT Notice 700)."""
    use_rates(tax_rate=200_000)
    channel = make_channel(commission=350_000, card_rate=15_000, fixed_fee=money("0.20"))
    sale = sold(a_piece(state=State.FOR_SALE), channel=channel, price="120.00")
    assert (sale.tax, sale.commission, sale.card_fee, sale.fixed_fee) == (
        money(20), money(35), money("1.80"), money("0.20"),
    )  # fmt: skip
    assert sale.net_proceeds == money(63)


def test_a_route_may_take_its_commission_on_the_price_with_tax() -> None:
    use_rates(tax_rate=200_000)
    sale = sold(
        a_piece(state=State.FOR_SALE),
        channel=make_channel(commission=350_000, commission_before_tax=False),
        price="120.00",
    )
    assert (sale.tax, sale.commission) == (money(20), money(42))


@pytest.mark.parametrize(
    ("price", "rate", "tax"),
    [
        ("80", 50_000, "3.81"),
        ("117.50", 175_000, "17.50"),
        ("24", 175_000, "3.57"),
        ("115", 150_000, "15.00"),
    ],
)
def test_tax_is_rounded_to_whole_pence_a_half_up(price: str, rate: int, tax: str) -> None:
    """Tax in a gross price: itsrelative.co.uk and vatark.co.uk; halves up: HMRC VATREC12030 for retailers."""
    use_rates(tax_rate=rate)
    assert sold(a_piece(state=State.FOR_SALE), price=price).tax == money(tax)


def test_a_shop_that_keeps_a_third_leaves_two_thirds() -> None:
    """Consignment: sold for 15,000, the shop keeps one third (OpenStax Financial Accounting, m67889)."""
    sale = sold(a_piece(state=State.FOR_SALE), channel=make_channel(commission=333_333), price="15000")
    assert (sale.commission, sale.net_proceeds) == (money(5_000), money(10_000))


def test_fees_are_whole_yen_where_there_is_nothing_smaller() -> None:
    Studio.objects.update(currency="JPY")
    sale = sold(a_piece(state=State.FOR_SALE), channel=make_channel(card_rate=32_500), price="4500")
    assert sale.card_fee == money(146)  # 146.25


# Where the cost goes


def test_a_sale_moves_the_cost_of_every_layer_to_sold_work() -> None:
    failed = make_pour(outcome="failed", on=POURED_ON)
    paint = make_lot(on=june(2)).material
    over = make_session(
        pours=[pour_of(material=paint, quantity=100_000, over=failed)], on=june(2)
    ).pours.get()
    piece = a_piece(pours=[over, make_pour(on=june(2))], state=State.FOR_SALE)
    sale = sold(piece, note="Paid by card")
    pours = [failed, *pours_of(piece)]
    assert (held_in(["work"], pours), held_in(["sold"], pours)) == (0, money("12.00"))
    assert (piece.state, piece.steps.latest("pk").to_state) == (State.SOLD, State.SOLD)
    assert (sale.posting.kind, sale.posting.effective_on, sale.sale.note) == ("sale", LATER, "Paid by card")


@pytest.mark.parametrize("state", [State.FINISHED, State.FOR_SALE, State.RESERVED])
def test_a_finished_piece_can_be_sold_from_anywhere(state: State) -> None:
    assert sold(a_piece(state=state)).piece.state == State.SOLD


@pytest.mark.parametrize("state", [State.WET, State.DRY])
def test_an_unfinished_piece_is_not_sold(state: State) -> None:
    with pytest.raises(StepRefused, match="cannot be changed to sold"):
        sold(a_piece(state=state))
    assert not Sale.objects.exists()


@pytest.mark.parametrize("price", ["0", "-5", "45.005"])
def test_it_refuses_a_price_that_makes_no_sense(price: str) -> None:
    with pytest.raises(PieceError):
        sold(a_piece(state=State.FOR_SALE), price=price)


def test_it_refuses_a_day_before_the_latest_work_and_one_ahead() -> None:
    varnish = make_lot(material=make_material(kind=Kind.FINISH), on=POURED_ON).material
    piece = a_piece(state=State.DRY)
    finish_piece(
        piece=piece,
        facts=WorkFacts(materials=ingredients((varnish, 1_000))),
        submission=making.make_submission(on=june(9)),
    )
    with pytest.raises(InventoryError, match="dated 9 June 2025"):
        sold(piece, on=june(8))
    with pytest.raises(PieceError, match="future"):
        sold(piece, on=june(12))
    with pytest.raises(PieceError, match="was made on"):
        sold(piece, on=POURED_ON - timedelta(days=1))


def test_it_refuses_a_sale_in_a_closed_period() -> None:
    piece = a_piece(state=State.FOR_SALE)
    close_books(through=LATER)
    with pytest.raises(ClosedPeriod):
        sold(piece)
    assert Piece.objects.get(pk=piece.pk).state == State.FOR_SALE


# Once only


def test_the_same_sale_sent_twice_is_one_sale() -> None:
    piece = a_piece(state=State.FOR_SALE)
    channel = make_channel()
    first, second = (sold(piece, channel=channel, key="till-1") for _ in range(2))
    assert (first, Sale.objects.count()) == (second, 1)
    with pytest.raises(KeyReused):
        sold(piece, channel=channel, price="50.00", key="till-1")


def test_a_sold_piece_is_not_sold_again() -> None:
    piece = a_piece(state=State.FOR_SALE)
    sold(piece)
    with pytest.raises(StatusConflict, match="is sold, so it cannot be sold"):
        sold(piece, channel=make_channel("Online"))


def test_of_two_people_selling_the_same_piece_the_second_is_refused() -> None:
    """Both have read it as for sale; the stall is a moment faster than the gallery."""
    piece = a_piece(state=State.FOR_SALE)
    at_the_stall, at_the_gallery = Piece.objects.get(pk=piece.pk), Piece.objects.get(pk=piece.pk)
    sold(at_the_stall)
    with pytest.raises(StatusConflict, match="is now sold"):
        sold(at_the_gallery, channel=make_channel("Gallery"))
    assert (Sale.objects.count(), Posting.objects.filter(kind="sale").count()) == (1, 1)


def test_the_database_itself_refuses_a_second_sale() -> None:
    """Going round Python: another posting, and a row written straight into the table."""
    sale = sold(a_piece(state=State.FOR_SALE))
    other = making.sell(pours=[make_pour(on=POURED_ON)])
    twice = SaleLine(sale=sale.sale, piece=sale.piece, full_price=money(1), price=money(1), posting=other)
    with pytest.raises(IntegrityError), transaction.atomic():
        SaleLine.objects.bulk_create([twice])


def test_work_that_was_sold_without_its_piece_is_refused_in_plain_words() -> None:
    piece = a_piece(state=State.FOR_SALE)
    making.sell(pours=pours_of(piece))
    with pytest.raises(InventoryError, match="already sold"):
        sold(piece, on=june(10))
    assert (Piece.objects.get(pk=piece.pk).state, Sale.objects.count()) == (State.FOR_SALE, 0)


@pytest.mark.django_db(transaction=True)
def test_two_tills_at_the_same_moment_sell_a_piece_once() -> None:
    """Real threads with connections of their own: one sale, one refusal, whichever is faster."""
    if connection.vendor == "sqlite":
        pytest.skip("Threads cannot share SQLite's in-memory test database.")
    piece = a_piece(state=State.FOR_SALE)
    channels = [make_channel("Stall"), make_channel("Online")]
    owner, start = make_owner(), threading.Barrier(2)
    outcomes: list[str] = []

    def till(mine: Piece, channel: SalesChannel) -> None:
        try:
            start.wait(timeout=10)
            sell(
                piece=mine,
                channel=channel,
                price=money(45),
                submission=making.make_submission(by=owner, on=LATER),
            )
            outcomes.append("sold")
        except (StatusConflict, StepRefused):
            outcomes.append("refused")
        finally:
            connections.close_all()

    tills = [
        threading.Thread(target=till, args=(Piece.objects.get(pk=piece.pk), channel)) for channel in channels
    ]
    for thread in tills:
        thread.start()
    for thread in tills:
        thread.join(timeout=30)
    assert sorted(outcomes) == ["refused", "sold"]
    assert Sale.objects.count() == 1
    assert PieceStep.objects.filter(piece=piece, to_state="sold").count() == 1


# Returns


def test_a_return_brings_the_piece_back_at_its_original_cost() -> None:
    piece = a_piece(state=State.FOR_SALE)
    sale = returned(sold(piece), note="Wrong colour for the room")
    assert (sale.returned_on, Piece.objects.get(pk=piece.pk).state) == (june(10), State.FOR_SALE)
    assert (held_in(["work"], work_of(piece)), held_in(["sold"], work_of(piece))) == (money("5.50"), 0)
    assert sale.posting.reversed_by.effective_on == june(10)


def test_a_returned_piece_can_be_sold_again_from_the_day_it_came_back() -> None:
    piece = a_piece(state=State.FOR_SALE)
    sale = returned(sold(piece))
    with pytest.raises(InventoryError, match="dated 10 June 2025"):
        sold(sale.piece, channel=make_channel("Online"), on=LATER)
    sold(sale.piece, channel=make_channel("Gallery"), price="60.00", on=june(10))
    assert held_in(["sold"], pours_of(piece)) == money("5.50")
    assert Sale.objects.filter(lines__piece=piece).count() == 2


def test_a_return_is_recorded_once() -> None:
    sale = sold(a_piece(state=State.FOR_SALE))
    for _ in range(2):
        returned(sale, key="return-1")
    assert Posting.objects.filter(kind="reversal").count() == 1
    with pytest.raises(PieceError, match="already returned on 10 June 2025"):
        returned(sale)


def test_nothing_comes_back_before_it_was_sold() -> None:
    with pytest.raises(PieceError, match="sold on 9 June 2025"):
        returned(sold(a_piece(state=State.FOR_SALE)), on=june(8))


def test_a_cost_correction_since_the_sale_comes_back_with_the_piece() -> None:
    paint = make_lot(on=POURED_ON)
    canvas = make_lot(material=making.make_surface(), quantity=1_000, cost=money("3.50"), on=POURED_ON)
    pour = make_session(
        pours=[pour_of(material=paint.material, quantity=200_000, surface=canvas.material)], on=POURED_ON
    ).pours.get()
    piece = a_piece(pours=[pour], state=State.FOR_SALE)
    sale = sold(piece)
    making.correct(lot=canvas, difference=money("0.40"))
    assert held_in(["sold"], [pour]) == money("5.90")
    sale = returned(sale)
    assert (held_in(["work"], [pour]), held_in(["sold"], [pour])) == (money("5.90"), 0)
    sold(sale.piece, channel=make_channel("Online"), on=june(10))
    assert (held_in(["work"], [pour]), held_in(["sold"], [pour])) == (0, money("5.90"))


def test_the_session_of_a_sold_piece_cannot_be_reversed_until_it_comes_back() -> None:
    first, _second = two_ring_pours()
    piece = a_piece(pours=[first], state=State.FOR_SALE)
    sale = sold(piece)
    with pytest.raises(CannotReverse, match=f"{first.label} has been sold"):
        making.take_back(first.session.posting)
    returned(sale)
    with pytest.raises(CannotReverse, match="Split that piece first"):
        making.take_back(first.session.posting)


def test_a_piece_is_not_sold_while_its_sale_is_being_undone(owner: User) -> None:
    """A return read before another return was recorded changes nothing."""
    sale = sold(moved_to(a_piece(), State.FOR_SALE))
    stale = SaleLine.objects.get(pk=sale.pk)
    returned(sale)
    with pytest.raises(PieceError):
        returned(stale)
    assert connection.in_atomic_block  # the refusal left the surrounding transaction usable
    assert Posting.objects.filter(kind="reversal").count() == 1


def test_the_book_check_finds_nothing_wrong_with_a_correction_that_comes_back() -> None:
    piece = a_piece(state=State.FOR_SALE)
    canvas = pours_of(piece)[0].surface.lots.get()
    sale = sold(piece)
    making.correct(lot=canvas, difference=money("0.40"))
    returned(sale)
    assert check().is_clean


def test_a_reversed_sale_brings_later_corrections_of_the_cost_back_by_itself() -> None:
    piece = a_piece(state=State.FOR_SALE)
    pour = pours_of(piece)[0]
    sale = sold(piece)
    making.correct(lot=pour.surface.lots.get(), difference=money("0.40"))
    making.take_back(sale.posting)  # the ledger alone, as no page does
    assert {found.rule for found in check().breaks} == {
        "cost_sheets"
    }  # the piece itself still says that it is sold
    held = Entry.objects.filter(pour=pour).values_list("place").annotate(Sum("money"))
    corrected = Entry.objects.filter(pour=pour, place="work", quantity=0).aggregate(Sum("money"))[
        "money__sum"
    ]
    assert (dict(held)["sold"], corrected) == (0, money("0.40"))
