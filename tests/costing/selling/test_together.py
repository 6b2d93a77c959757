"""Several pieces in one sale: all or nothing, once, numbered without gaps; and what is asked first."""

import threading
from collections.abc import Sequence
from datetime import date

import pytest
from django.db import IntegrityError, connection, connections, transaction

from costing.errors import PieceError, PiecesGone, StatusConflict
from costing.locations.actions import Person, reserve_piece
from costing.pieces.actions.pieces import move_on
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.selling.actions import PieceSold, SaleFacts, return_sale, sell, sell_together
from costing.selling.models import Sale, SaleLine
from costing.selling.queries import sale_figures, with_lines
from inventory.errors import KeyReused
from inventory.ledger.models import Posting
from studio.errors import NeedsConfirmation
from studio.preferences.models import Studio
from tests.costing.stories import LATER, a_piece, make_channel, use_rates
from tests.days import june
from tests.making import make_owner, make_submission, money

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


PLAIN = SaleFacts()


def three() -> list[Piece]:
    return [a_piece(title=title, state=State.FOR_SALE) for title in ("Ebb", "Flood", "Slack")]


def lines_of(pieces: Sequence[Piece], price: str = "40.00") -> list[PieceSold]:
    return [PieceSold(piece, money(price)) for piece in pieces]


def sold(
    lines: Sequence[PieceSold],
    facts: SaleFacts = PLAIN,
    *,
    key: str = "",
    on: date = LATER,
    confirmed: Sequence[str] = (),
) -> Sale:
    submission = make_submission(on=on, key=key, confirmed=confirmed)
    channel = make_channel(card_rate=17_500, fixed_fee=money("0.20"))
    return sell_together(lines=lines, channel=channel, facts=facts, submission=submission)


def test_pieces_sold_together_are_one_sale_that_adds_up() -> None:
    use_rates(wage="0", overhead="0", tax_rate=200_000)
    ebb, flood, slack = three()
    lines = [PieceSold(ebb, money(40)), PieceSold(flood, money(25), money(5)), PieceSold(slack, money(20))]
    sale = sold(lines, SaleFacts(discount=money(8), postage=money(6), postage_paid=money("4.85")))
    [figures] = sale_figures(with_lines(Sale.objects.filter(pk=sale.pk)), "GBP")
    assert [each.line.price for each in figures.lines] == [money(36), money(18), money(18)]
    # 78.00 with postage: 13.00 of tax at 1/6, 1.75% of 78.00 is 1.365, and 0.20 once.
    assert (figures.charged, figures.total.tax, figures.total.fees) == (money(78), money(13), money("1.57"))
    assert figures.total.net_proceeds == money("58.58")
    assert figures.total.profit == money("58.58") - 3 * money("5.50")
    assert {piece.state for piece in Piece.objects.all()} == {State.SOLD}
    assert Posting.objects.filter(kind="sale").count() == 3  # one a piece, so that one can come back alone


def test_the_same_submission_gets_the_same_sale() -> None:
    lines = lines_of(three())
    first, second = sold(lines, key="stall-7"), sold(lines, key="stall-7")
    assert (first, Sale.objects.count(), SaleLine.objects.count()) == (second, 1, 3)
    with pytest.raises(KeyReused):
        sold(lines[:2], key="stall-7")


def test_a_piece_sold_meanwhile_is_named_and_nothing_is_written() -> None:
    pieces = three()
    sell(
        piece=Piece.objects.get(pk=pieces[1].pk), channel=make_channel(), price=money(9),
        submission=make_submission(on=LATER),
    )  # fmt: skip
    postings = Posting.objects.count()
    with pytest.raises(PiecesGone, match="“Flood” is now sold") as refused:
        sold(lines_of(pieces), key="late")
    assert [piece for piece, _reason in refused.value.gone] == [pieces[1].pk]
    assert (Sale.objects.count(), Posting.objects.count()) == (1, postings)
    assert sold(lines_of([pieces[0], pieces[2]]), key="late").lines.count() == 2  # the key is still free


def test_a_reserved_piece_is_asked_about_before_it_is_sold() -> None:
    pieces = three()
    submission = make_submission(on=LATER)
    reserve_piece(
        piece=pieces[0], to=Person(new_name="The ferry master"), until=june(20), submission=submission
    )
    move_on(piece=pieces[2], to=State.RESERVED, submission=submission)
    with pytest.raises(NeedsConfirmation, match="“Ebb” is reserved until 20 Jun 2025") as asked:
        sold(lines_of(pieces))
    tokens = [each.token for each in asked.value.questions]
    assert (len(tokens), Sale.objects.count()) == (2, 0)
    with pytest.raises(NeedsConfirmation):
        sold(lines_of(pieces), confirmed=tokens[:1])
    sale = sold(lines_of(pieces), confirmed=tokens)
    confirmed = [line.posting.confirmed for line in sale.lines.order_by("pk")]
    assert [len(each) for each in confirmed] == [1, 0, 1]


@pytest.mark.parametrize(
    ("facts", "says"),
    [
        (SaleFacts(discount=money(120)), "whole price"),
        (SaleFacts(postage=-1), "below zero"),
        (SaleFacts(discount=money("0.005")), "decimals"),
    ],
)
def test_amounts_that_make_no_sense_are_refused(facts: SaleFacts, says: str) -> None:
    with pytest.raises(Exception, match=says):
        sold(lines_of(three()), facts)
    assert not Sale.objects.exists()


def test_a_piece_stands_once_in_a_sale_and_a_sale_has_one() -> None:
    pieces = three()
    with pytest.raises(PieceError, match="each piece once"):
        sold(lines_of([pieces[0], pieces[0]]))
    with pytest.raises(PieceError, match="at least one"):
        sold([])


def test_receipts_are_numbered_only_where_she_wants_it() -> None:
    ebb, flood, _slack = three()
    assert sold(lines_of([ebb])).number is None
    Studio.objects.update(numbers_receipts=True)
    assert sold(lines_of([flood])).number == 1


def test_receipt_numbers_have_no_gap_after_a_refusal() -> None:
    Studio.objects.update(numbers_receipts=True)
    ebb, flood, slack = three()
    assert sold(lines_of([ebb])).number == 1
    with pytest.raises(PiecesGone):
        sold(lines_of([Piece.objects.get(pk=ebb.pk), flood]))
    with pytest.raises(PieceError):
        sold([PieceSold(flood, 0)])
    flood.refresh_from_db()
    second = sold(lines_of([flood]))
    return_sale(sale=second, submission=make_submission(on=june(10)))
    third = sold(lines_of([slack]))
    assert (second.number, third.number) == (2, 3)
    assert second.lines.get().refunds.get().number == 1  # a credit note, in numbers of its own


def test_the_database_keeps_numbers_apart_and_prices_sensible() -> None:
    Studio.objects.update(numbers_receipts=True)
    sale = sold(lines_of([three()[0]]))
    again = Sale(channel=sale.channel, sold_on=LATER, number=sale.number, recorded_by=sale.recorded_by)
    with pytest.raises(IntegrityError), transaction.atomic():
        Sale.objects.bulk_create([again])
    for change in ({"price": money(41)}, {"price": 0}, {"tax": -1}, {"postage_paid": -1}):
        with pytest.raises(IntegrityError), transaction.atomic():
            sale.lines.update(**change)


@pytest.mark.django_db(transaction=True)
def test_two_tills_with_a_piece_in_common_make_one_sale_and_one_number() -> None:
    """Real threads: one sells its two pieces, the other is told which one is gone and sells nothing."""
    if connection.vendor == "sqlite":
        pytest.skip("Threads cannot share SQLite's in-memory test database.")
    Studio.objects.update(numbers_receipts=True)
    pieces, channel, owner = three(), make_channel(), make_owner()
    start = threading.Barrier(2)
    outcomes: list[str] = []

    def till(mine: list[int]) -> None:
        try:
            chosen = [Piece.objects.get(pk=pk) for pk in mine]
            start.wait(timeout=10)
            sell_together(
                lines=lines_of(chosen), channel=channel, submission=make_submission(by=owner, on=LATER)
            )
            outcomes.append("sold")
        except StatusConflict as refused:
            outcomes.append(str(refused))
        finally:
            connections.close_all()

    ebb, flood, slack = (piece.pk for piece in pieces)
    tills = [threading.Thread(target=till, args=(mine,)) for mine in ([ebb, flood], [slack, flood])]
    for each in tills:
        each.start()
    for each in tills:
        each.join(timeout=30)
    refused = [outcome for outcome in outcomes if outcome != "sold"]
    assert (len(outcomes), len(refused), "Flood" in refused[0]) == (2, 1, True)
    assert (Sale.objects.get().number, SaleLine.objects.count()) == (1, 2)
