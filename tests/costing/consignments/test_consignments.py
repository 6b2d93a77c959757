"""Consignments: hers until sold, settled at the gallery's terms, returned; and sold once, whoever is faster."""

import threading

import pytest
from django.db import IntegrityError, connection, connections, transaction

from costing.consignments.actions import ConsignmentFacts, Priced
from costing.consignments.models import Consignment, ConsignmentLine
from costing.consignments.queries import Fate, open_notes, state_of
from costing.contacts.actions import erase_contact
from costing.errors import PieceError, PiecesGone, StepRefused
from costing.locations.queries import where_is
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.pricing.models import ChannelTerms, SalesChannel
from costing.selling.actions import PieceSold, SaleFacts, sell, sell_together
from costing.selling.dealings import purchases
from costing.selling.models import Sale, SaleLine
from inventory.alerts.actions.refreshing import refresh_alerts
from inventory.ledger.models import Entry, Posting
from studio.errors import InputError, NeedsConfirmation
from tests.costing.consignments.stories import fates, fetch, give, report
from tests.costing.locations.stories import lend, make_box, make_contact, make_gallery, move, reserve
from tests.costing.stories import LATER, a_piece, make_channel, pieces_of
from tests.days import AT, june
from tests.inventory.alerts.looking import standing
from tests.inventory.invariants import assert_books_hold
from tests.making import (
    make_lot,
    make_owner,
    make_session,
    make_submission,
    make_surface,
    money,
    pour_of,
    units,
)

pytestmark = pytest.mark.django_db


def for_sale(title: str = "Low water") -> Piece:
    return a_piece(title=title, state=State.FOR_SALE, price="45.00")


def test_pieces_at_a_gallery_are_still_hers() -> None:
    """IFRS 15.B77-B78: goods with a consignee stay the maker's inventory, and bring no revenue, until they are sold."""
    pieces = [for_sale(), for_sale("Ebb")]
    ledger = list(Entry.objects.values_list("pk", "money")), Posting.objects.count()
    note = give(pieces, until=june(30), note="In the window")
    assert (list(Entry.objects.values_list("pk", "money")), Posting.objects.count()) == ledger
    assert_books_hold()
    assert [where_is(piece).location for piece in pieces] == [note.gallery, note.gallery]
    assert (note.number, fates(note), Sale.objects.count()) == (1, ["there", "there"], 0)


def test_a_published_consignment_comes_to_its_commission_and_remittance() -> None:
    """12 sent, 8 sold for 100,000 in all at 12% commission: commission 12,000, remitted 82,600 after charges of 5,400.

    From the answer key of a published consignment problem (scribd, document 712396482), which takes the charges off as
    well; they are a cost of their own here, entered when they are paid.
    """
    surface = make_surface()
    make_lot(material=surface, quantity=units(12), on=june(1))
    paint = make_lot(on=june(1), quantity=units(12_000)).material
    session = make_session(
        pours=[pour_of(material=paint, quantity=units(10), surface=surface) for _number in range(12)],
        on=june(1),
    )
    pieces = pieces_of(session)
    for piece in pieces:
        Piece.objects.filter(pk=piece.pk).update(state=State.FOR_SALE)
        piece.refresh_from_db()
    gallery = make_gallery(commission=120_000)
    note = give(pieces, gallery=gallery, price="12500.00")
    sale = report(note, *pieces[:8], price="12500.00")
    lines = list(sale.lines.all())
    assert sum(line.price for line in lines) == money("100000.00")
    assert sum(line.commission for line in lines) == money("12000.00")
    assert state_of(note).net_proceeds == money("88000.00")
    assert state_of(note).net_proceeds - money("5400.00") == money("82600.00")
    assert [state_of(note).count(fate) for fate in (Fate.THERE, Fate.SOLD)] == [4, 8]


def test_a_note_is_settled_once_everything_is_sold_or_back() -> None:
    sold, back = for_sale(), for_sale("Ebb")
    note = give([sold, back])
    report(note, sold)
    assert (fates(note), state_of(note).is_settled) == (["sold", "there"], False)
    fetch(note, back)
    assert (fates(note), state_of(note).is_settled, open_notes()) == (["sold", "returned"], True, [])
    assert where_is(Piece.objects.get(pk=back.pk)).kind == "studio"


def test_commission_is_that_of_the_day_on_which_the_gallery_sold() -> None:
    piece = for_sale()
    note = give([piece])
    ChannelTerms.objects.create(
        channel=SalesChannel.objects.get(locations=note.gallery), holds_from=june(10), commission=420_000
    )
    [line] = report(note, piece, price="100.00").lines.all()
    assert line.commission == money("42.00")


def test_the_same_note_and_the_same_report_are_recorded_once() -> None:
    piece = for_sale()
    note = give([piece], key="note")
    again = give([Piece.objects.get(pk=piece.pk)], key="note")
    assert (again, Consignment.objects.count()) == (note, 1)
    assert report(note, piece, key="sold") == report(note, piece, key="sold")
    assert Sale.objects.count() == 1


def test_a_finished_piece_is_offered_at_the_price_of_the_note() -> None:
    piece = a_piece(state=State.FINISHED, price="40.00")
    give([piece], price="55.00")
    piece = Piece.objects.get(pk=piece.pk)
    assert (piece.state, piece.price) == (State.FOR_SALE, money("55.00"))


def test_what_cannot_be_given_leaves_nothing_behind() -> None:
    ready, reserved, there = for_sale(), for_sale("Ebb"), for_sale("Neap")
    reserve(reserved, make_contact())
    give([there])
    for pieces, refusal in (
        ([ready, a_piece(title="Wet")], StepRefused),
        ([ready, reserved], PieceError),
        ([ready, there], PieceError),
    ):
        with pytest.raises(refusal):
            give(pieces)
    with pytest.raises(InputError):
        give([ready], price="0.00")
    with pytest.raises(InputError):
        ConsignmentFacts(make_box(), [Priced(ready, money(45))])
    assert (Consignment.objects.count(), where_is(ready).kind) == (1, "studio")


def test_pieces_reach_a_gallery_by_a_note_alone() -> None:
    with pytest.raises(InputError):
        move([for_sale()], make_gallery())


def test_only_what_is_there_is_reported_or_fetched() -> None:
    piece, other = for_sale(), for_sale("Ebb")
    note = give([piece])
    with pytest.raises(PieceError):
        report(note, other)
    fetch(note, piece)
    with pytest.raises(PieceError):
        report(note, piece)
    assert Sale.objects.count() == 0


def test_selling_a_piece_elsewhere_that_is_at_a_gallery_asks_first_and_says_where_it_is() -> None:
    piece = for_sale()
    note = give([piece])
    online = make_channel("Online")
    unsure = make_submission(on=june(10), confirmed=frozenset())
    with pytest.raises(NeedsConfirmation, match="Slipway Gallery") as asked:
        sell(piece=piece, channel=online, price=money(45), submission=unsure)
    assert Sale.objects.count() == 0
    tokens = frozenset(each.token for each in asked.value.questions)
    sure = make_submission(on=june(10), confirmed=tokens)
    sell(piece=piece, channel=online, price=money(45), submission=sure)
    [line] = state_of(note).lines
    assert (line.fate, line.sale and line.sale.sale.channel) == (Fate.SOLD, online)
    with pytest.raises(PiecesGone):
        report(note, piece)


def test_selling_a_lent_piece_asks_without_naming_anybody_and_one_in_a_box_does_not_ask() -> None:
    lent, boxed, contact = for_sale(), for_sale("Ebb"), make_contact()
    lend(lent, contact)
    move([boxed], make_box())
    unsure = make_submission(on=june(10), confirmed=frozenset())
    with pytest.raises(NeedsConfirmation) as asked:
        sell(piece=lent, channel=make_channel(), price=money(45), submission=unsure)
    assert contact.name not in str(asked.value)
    sell(piece=boxed, channel=make_channel(), price=money(45), submission=unsure)


def test_what_a_contact_bought_stays_sold_when_the_contact_is_erased() -> None:
    piece, contact = for_sale(), make_contact()
    facts = SaleFacts(buyer=contact)
    sale = sell_together(
        lines=[PieceSold(piece, money(45))],
        channel=make_channel(),
        facts=facts,
        submission=make_submission(on=LATER),
    )
    assert [(each.piece, each.price) for each in purchases(contact)] == [(piece, money(45))]
    hashes = list(Posting.objects.values_list("hash"))
    erase_contact(contact=contact, submission=make_submission())
    sale.refresh_from_db()
    assert (sale.buyer, sale.lines.get().price) == (None, money(45))
    assert list(Posting.objects.values_list("hash")) == hashes
    assert_books_hold()


def test_an_agreed_time_that_is_over_is_flagged_until_nothing_is_there() -> None:
    piece = for_sale()
    note = give([piece], until=june(20))
    refresh_alerts(on=june(20), at=AT)
    assert standing("consignment_over") == []
    refresh_alerts(on=june(21), at=AT)
    assert [alert.figures["pieces"] for alert in standing("consignment_over")] == [1]
    fetch(note, piece)
    refresh_alerts(on=june(21), at=AT)
    assert standing("consignment_over") == []


def test_the_database_keeps_one_note_for_a_placement_with_a_price() -> None:
    note = give([for_sale()])
    [line] = note.lines.all()
    for price, placement in ((money(1), line.placement), (0, line.placement)):
        with pytest.raises(IntegrityError), transaction.atomic():
            ConsignmentLine.objects.bulk_create(
                [ConsignmentLine(consignment=note, placement=placement, price=price)]
            )


@pytest.mark.django_db(transaction=True)
def test_a_gallery_and_the_web_shop_at_the_same_moment_sell_a_piece_once() -> None:
    if connection.vendor == "sqlite":
        pytest.skip("Threads cannot share SQLite's in-memory test database.")
    piece, owner, online = for_sale(), make_owner(), make_channel("Online")
    note, start = give([piece]), threading.Barrier(2)
    outcomes: list[str] = []

    def sells(channel: SalesChannel | None, mine: Piece) -> None:
        try:
            start.wait(timeout=10)
            if channel is None:
                report(note, mine)
            else:
                submission = make_submission(by=owner, on=june(10))
                sell(piece=mine, channel=channel, price=money(45), submission=submission)
            outcomes.append("sold")
        except (PiecesGone, PieceError):
            outcomes.append("refused")
        finally:
            connections.close_all()

    tills = [
        threading.Thread(target=sells, args=(channel, Piece.objects.get(pk=piece.pk)))
        for channel in (None, online)
    ]
    for till in tills:
        till.start()
    for till in tills:
        till.join(timeout=30)
    assert sorted(outcomes) == ["refused", "sold"]
    assert SaleLine.objects.count() == 1
