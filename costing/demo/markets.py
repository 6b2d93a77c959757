"""The market days of the demo's year at Lantern Quay: packed and counted."""

from collections.abc import Sequence
from dataclasses import dataclass

from costing.demo.setting_up import Loft
from costing.markets.actions.counting import count_cash
from costing.markets.actions.packing import bring_home, mark_missing, pack
from costing.markets.models import MarketDay, PackedPiece
from costing.markets.queries import result_of
from costing.pieces.models import Piece
from costing.selling.actions import write_off_piece
from studio.auditing.reference_rows import save_row

BY_CASH, BY_CARD = "Market stall, cash", "Market stall, card"
PLACE = "Lantern Quay"
BOXES = "Market box, left", "Market box, right"
PENNY, POUND = 10_000, 1_000_000
FLOAT, PAID_OUT = 60 * POUND, 3 * POUND
THERE_AND_BACK, PER_KM = 6_400, 450_000  # thousandths of a kilometre; what one costs
LOST, FOUND = (
    186,
    246,
)  # days ago of the markets after which a piece was missing, for good and until the evening
SHORT = {96: -2 * POUND, 216: 50 * PENNY}  # cash that was not there, or too much of it, by days ago
AHEAD, SPARE = 24, 8


@dataclass(frozen=True, slots=True)
class Pitch:
    """A kind of market day: what it is called, its fee, and the minutes that both sisters work."""

    name: str
    fee: int
    minutes: int


MONTHLY = Pitch("Lantern Quay, monthly pitch", 18 * POUND, 420)
SPRING = Pitch("Lantern Quay spring market", 55 * POUND, 900)
EVENING = Pitch("Lantern Quay, evening opening", 12 * POUND, 240)


def plan_market(loft: Loft, pitch: Pitch, days_ago: int) -> MarketDay:
    """Enter a market day, a few days before it or on it."""
    market = MarketDay(
        name=pitch.name,
        held_on=loft.diary.ago(days_ago),
        place=PLACE,
        cash_channel=loft.channels[BY_CASH],
        card_channel=loft.channels[BY_CARD],
        pitch_fee=pitch.fee,
        distance=THERE_AND_BACK,
        distance_rate=PER_KM,
        minutes=pitch.minutes,
        till_float=FLOAT,
    )
    entered = loft.diary.ago(max(days_ago, 0))
    return save_row(market, submission=loft.submission(loft.owner, entered))


def pack_for(loft: Loft, market: MarketDay, pieces: Sequence[Piece], days_ago: int) -> None:
    """Into two boxes, half each."""
    submission, half = loft.submission(loft.helper, loft.diary.ago(days_ago)), (len(pieces) + 1) // 2
    for box, share in zip(BOXES, (pieces[:half], pieces[half:]), strict=True):
        if share:
            pack(market=market, pieces=share, box=box, submission=submission)


def close_market(loft: Loft, market: MarketDay, days_ago: int) -> list[int]:
    """Count the cash, and look for what should have come home; the numbers of the pieces that never did."""
    submission = loft.submission(loft.owner, loft.diary.ago(days_ago))
    expected = FLOAT + result_of(market).cash_taken - PAID_OUT
    count_cash(
        market=market,
        counted=expected + SHORT.get(days_ago, 0),
        paid_out=PAID_OUT,
        note="Tea, and the parking meter",
        submission=submission,
    )
    bring_home(market=market, submission=submission)
    gone: list[int] = []
    if days_ago in (LOST, FOUND):
        left = PackedPiece.objects.filter(market_day=market, piece__state="for_sale").select_related("piece")
        packed = left.order_by("pk").first()
        if packed is not None:
            mark_missing(packed=packed, missing=True, submission=submission)
            if days_ago == FOUND:
                mark_missing(packed=packed, missing=False, submission=submission)
            else:
                write_off_piece(piece=packed.piece, reason=loft.reasons["missing"], submission=submission)
                gone.append(packed.piece_id)
    return gone
