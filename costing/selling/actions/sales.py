"""Selling one piece, or several together: all of it or nothing.

A piece is sold once: refused here, and by the database in any case. Money is millionths of the currency unit; prices
include tax. Not tax or legal advice.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import chain

from django.db.models import Max

from costing.commissions.actions import hold_open, set_off
from costing.commissions.models import Commission
from costing.commissions.queries import held_for
from costing.contacts.models import Contact
from costing.errors import PieceError, PiecesGone
from costing.locations.models import Reservation
from costing.locations.queries import reservations_of
from costing.locations.questions import questions_about_places
from costing.pieces.actions.steps import refuse_day, refuse_price, take_step
from costing.pieces.calculations import ENDS, State, Way, check_step
from costing.pieces.models import Piece
from costing.pieces.queries import work_of
from costing.pricing.models import SalesChannel
from costing.pricing.terms import terms_on
from costing.selling.calculations import NOTHING_BEFORE, LineShares, PaidBefore, SaleTotals, share_sale
from costing.selling.models import Refund, Sale, SaleLine
from inventory.ledger.posting import LockedLedger, open_ledger
from inventory.sessions.actions.work import sell_work
from studio.errors import NeedsConfirmation, Question
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.preferences.rates import DatedRates
from studio.submission import Submission
from studio.translation import _
from studio.values.money import minor_unit

MOST_TOGETHER = 100  # own choice: more than a stall sells to one buyer


@dataclass(frozen=True, slots=True)
class PieceSold:
    """A piece to be sold: its price before discount, and what it is sold for less."""

    piece: Piece
    price: int
    discount: int = 0


@dataclass(frozen=True, slots=True)
class SaleFacts(SaleTotals):
    """What is said of a sale as a whole. One that finishes a commission is to whoever ordered it."""

    buyer: Contact | None = None
    note: str = ""
    commission: Commission | None = None


def sell(*, piece: Piece, channel: SalesChannel, price: int, submission: Submission, note: str = "") -> Sale:
    """Sell one piece: see `sell_together`."""
    lines = [PieceSold(piece, price)]
    return sell_together(lines=lines, channel=channel, facts=SaleFacts(note=note), submission=submission)


def sell_together(
    *,
    lines: Sequence[PieceSold],
    channel: SalesChannel,
    submission: Submission,
    facts: SaleFacts = SaleFacts(),
) -> Sale:
    """Record a sale: tax and the channel's fees of its day, and all cost of the pieces from work to cost of sales.

    The same submission sent again gets the sale that it made. Raises PiecesGone, naming every piece that somebody else
    was faster with; NeedsConfirmation for reserved pieces; StepRefused for one that is not finished, for sale or
    reserved; CommissionClosed; PieceError or CostingError for prices or a day that make no sense.
    """
    with open_ledger(submission, facts=["sale", lines, channel.pk, facts, submission.on]) as ledger:
        if ledger.earlier is not None:
            return ledger.earlier.sale_line.sale
        return sell_under(ledger, lines=lines, channel=channel, facts=facts)


def sell_under(
    ledger: LockedLedger,
    *,
    lines: Sequence[PieceSold],
    channel: SalesChannel,
    facts: SaleFacts,
    corrects: Sale | None = None,
) -> Sale:
    """The same, as a part of what a submission does; `corrects` is the sale in whose place it stands."""
    submission, pieces = ledger.submission, [line.piece for line in lines]
    _refuse_choice(pieces)
    hold_sellable(pieces)
    _refuse_amounts(lines, facts)
    for piece in pieces:
        refuse_day(piece, submission)
    questions = questions_about(pieces, channel)
    _confirm(chain.from_iterable(questions.values()), submission)
    tax_rate = DatedRates.read().on(submission.on).tax_rate
    charges = terms_on(channel, submission.on).charges(tax_rate)
    prices = [line.price - line.discount for line in lines]
    commission, before = _paid_before(facts.commission)
    coin = minor_unit(Studio.current().currency)
    shares = share_sale(prices, facts, charges, minor_unit=coin, before=before)
    sale = Sale.objects.create(
        channel=channel,
        sold_on=submission.on,
        number=next_number(Sale) if Studio.current().numbers_receipts else None,
        buyer=facts.buyer or (commission.contact if commission else None),
        commission=commission,
        paid_before=before.amount,
        tax_rate=tax_rate,
        corrects=corrects,
        note=facts.note,
        recorded_by=submission.by,
    )
    for line, share in zip(lines, shares, strict=True):
        sell_line(ledger, sale, line, share, questions)
    if commission is not None:
        set_off(commission, channel=channel, ledger=ledger)
    return sale


def _paid_before(commission: Commission | None) -> tuple[Commission | None, PaidBefore]:
    """The commission that a sale finishes, locked, and what is held of it. Raises CommissionClosed."""
    if commission is None:
        return None, NOTHING_BEFORE
    now = hold_open(commission)
    held = held_for(now)
    return now, PaidBefore(held.amount, held.fees)


def next_number(model: type[Sale] | type[Refund]) -> int:
    """The next receipt or credit note number. The locked ledger lets one transaction at a time ask for it."""
    last: int | None = model._default_manager.aggregate(last=Max("number"))["last"]
    return (last or 0) + 1


def hold_sellable(pieces: Sequence[Piece]) -> None:
    """Lock the pieces, in one order for everybody, and refuse those that cannot be sold now."""
    held = Piece.objects.select_for_update().filter(pk__in=[piece.pk for piece in pieces]).order_by("pk")
    states = dict(held.values_list("pk", "state"))
    gone = []
    for piece in pieces:
        was, piece.state = piece.state, states[piece.pk]
        if piece.state in ENDS:
            gone.append((piece.pk, _gone_in_words(piece, was)))
    if gone:
        raise PiecesGone(gone)
    for piece in pieces:
        check_step(piece.title, piece.state, State.SOLD, Way.SALE)


def questions_about(pieces: Sequence[Piece], channel: SalesChannel) -> dict[int, list[Question]]:
    """What is asked before these are sold, by piece: whether a reserved one is for this buyer, and where one is."""
    reserved = [piece for piece in pieces if piece.state == State.RESERVED]
    reservations = reservations_of(reserved)
    questions: dict[int, list[Question]] = defaultdict(list)
    for piece in reserved:
        words = _reserved_in_words(piece, reservations.get(piece.pk))
        questions[piece.pk].append(Question("reserved", words, ("piece", piece.pk)))
    for pk, elsewhere in questions_about_places(pieces, channel).items():
        questions[pk].append(elsewhere)
    return questions


def sell_line(
    ledger: LockedLedger, sale: Sale, line: PieceSold, share: LineShares, questions: dict[int, list[Question]]
) -> None:
    """Move a piece's cost to cost of sales, and write its line of a sale."""
    piece, is_first = line.piece, not sale.lines.exists()
    posting = sell_work(
        ledger,
        pours=work_of(piece),
        note=f"{piece.title}: {sale.channel.name}",  # the sale's own may name a buyer, whom nothing erases here
        answers=is_first,
        questions=questions.get(piece.pk, []),
    )
    SaleLine.objects.create(
        sale=sale,
        piece=piece,
        full_price=line.price,
        price=share.price,
        postage=share.postage,
        postage_paid=share.postage_paid,
        tax=share.tax,
        commission=share.commission,
        card_fee=share.card_fee,
        fixed_fee=share.fixed_fee,
        posting=posting,
    )
    take_step(piece, State.SOLD, Way.SALE, submission=ledger.submission, note=sale.note)


def _confirm(questions: Iterable[Question], submission: Submission) -> None:
    asked = [each for each in questions if each.token not in submission.confirmed]
    if asked:
        advice = _("Choose another piece, or confirm the sale.")
        raise NeedsConfirmation(asked, " ".join([*(each.text for each in asked), advice]))


def _refuse_choice(pieces: Sequence[Piece]) -> None:
    if not pieces:
        raise PieceError(_("Choose at least one piece to sell."))
    if len({piece.pk for piece in pieces}) != len(pieces):
        raise PieceError(_("Choose each piece once."))
    if len(pieces) > MOST_TOGETHER:
        raise PieceError(_("Sell at most {most} pieces together.", most=MOST_TOGETHER))


def _refuse_amounts(lines: Sequence[PieceSold], facts: SaleFacts) -> None:
    for line in lines:
        if line.price <= 0:
            raise PieceError(_("A sale needs a price above zero. If you get nothing for it, record a gift."))
        refuse_price(line.price)
        refuse_price(line.discount)
        if line.discount >= line.price:
            raise PieceError(
                _(
                    "The discount on “{title}” takes its whole price. Give less, or record a gift instead.",
                    title=line.piece.title,
                )
            )
    for amount in (facts.discount, facts.postage, facts.postage_paid):
        refuse_price(amount)


def _gone_in_words(piece: Piece, was: str) -> str:
    state = State(piece.state).words
    if piece.state == was:
        return _("“{title}” is {state}, so it cannot be sold.", title=piece.title, state=state)
    return _("“{title}” is now {state}: someone changed it.", title=piece.title, state=state)


def _reserved_in_words(piece: Piece, reservation: Reservation | None) -> str:
    """Without a name: what was confirmed is kept in the ledger for good, where nobody could be erased from it."""
    if reservation and reservation.until:
        until = Formatter.of(Studio.current()).day(reservation.until)
        return _("“{title}” is reserved until {day}.", title=piece.title, day=until)
    return _("“{title}” is reserved.", title=piece.title)
