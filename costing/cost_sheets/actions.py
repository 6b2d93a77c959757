"""What is written when a piece leaves, and when it comes back."""

from costing.cost_sheets.models import KeptRates
from costing.cost_sheets.queries import times_of
from costing.pieces.calculations import ENDS
from costing.pieces.models import Piece
from studio.auditing.writing import create_all


def keep_rates(piece: Piece) -> None:
    """Keep the hourly rates that a piece leaves with, so that rates entered later leave its cost as it was.

    One that is back follows the studio's rates again.
    """
    KeptRates.objects.filter(piece=piece).delete()
    if piece.state not in ENDS:
        return
    by_day = {time.on: time.rates for time in times_of([piece])[piece.pk] if time.rates is not None}
    create_all(
        KeptRates(
            piece=piece,
            on=day,
            wage_per_hour=rates.wage and rates.wage.value,
            wage_since=rates.wage and rates.wage.since,
            overhead_per_hour=rates.overhead and rates.overhead.value,
            overhead_since=rates.overhead and rates.overhead.since,
        )
        for day, rates in by_day.items()
    )
