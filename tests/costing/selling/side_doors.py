"""Ways round Python into sales, refunds and cash counts; the database refuses each."""

from collections.abc import Callable

from costing.markets.actions.counting import count_cash
from costing.markets.models import CashCount
from costing.pieces.calculations import State
from costing.selling.actions import sell
from costing.selling.models import Refund, Sale
from studio.preferences.models import Studio
from tests.costing.commissions.stories import a_commission
from tests.costing.markets.stories import make_market
from tests.costing.selling.stories import a_refund
from tests.costing.stories import LATER, a_piece, make_channel
from tests.inventory.forging import POSTGRESQL, Attempt, Scene, run
from tests.inventory.side_doors import truncate
from tests.making import make_owner, make_submission, money

NUMBERS, KEPT, GAP = "number is never changed", "is never deleted", "have no gap"


def after_selling(go: Callable[[], object]) -> Callable[[Scene], object]:
    """A numbered receipt and its credit note."""

    def sell_first(_scene: Scene) -> None:
        studio = Studio.current()
        studio.numbers_receipts = True
        studio.save()
        piece = a_piece(title="Neap", state=State.FOR_SALE)
        a_refund(
            sell(piece=piece, channel=make_channel(), price=money(45), submission=make_submission(on=LATER))
        )
        go()

    return sell_first


def after_counting(go: Callable[[], object]) -> Callable[[Scene], object]:
    def count_first(_scene: Scene) -> None:
        count_cash(market=make_market(), counted=money(50), submission=make_submission())
        go()

    return count_first


def _for_a_closed_commission() -> None:
    commission = a_commission()
    commission.state = "cancelled"
    commission.save()
    Sale.objects.bulk_create(
        [Sale(channel=make_channel(), sold_on=LATER, commission=commission, recorded_by=make_owner())]
    )


def _another_sale(number: int) -> None:
    Sale.objects.bulk_create(
        [Sale(channel=make_channel(), sold_on=LATER, number=number, recorded_by=make_owner())]
    )


def _another_refund(number: int) -> None:
    line = Refund.objects.get().line
    Refund.objects.bulk_create([Refund(line=line, on=LATER, amount=money(1), number=number)])


ATTEMPTS = {
    "sale_commission": [
        Attempt("a closed commission", lambda _scene: _for_a_closed_commission(), "its commission is closed")
    ],
    "sale_commission_update": [
        Attempt(
            "paid before", after_selling(lambda: Sale.objects.update(paid_before=1_000_000)), "never changed"
        ),
        Attempt(
            "named later",
            after_selling(lambda: Sale.objects.update(commission=a_commission())),
            "never changed",
        ),
    ],
    "sale_number_insert": [Attempt("a gap", after_selling(lambda: _another_sale(3)), GAP)],
    "sale_number_update": [
        Attempt("update()", after_selling(lambda: Sale.objects.update(number=2)), NUMBERS),
        Attempt("gone", after_selling(lambda: Sale.objects.update(number=None)), NUMBERS),
        Attempt("raw", after_selling(lambda: run("UPDATE costing_sale SET number = 7")), NUMBERS),
    ],
    "sale_number_delete": [Attempt("raw", after_selling(lambda: run("DELETE FROM costing_sale")), KEPT)],
    "sale_no_truncate": [
        Attempt("TRUNCATE", after_selling(lambda: truncate("costing_sale CASCADE")), KEPT, only=POSTGRESQL)
    ],
    "refund_number_insert": [Attempt("a gap", after_selling(lambda: _another_refund(5)), GAP)],
    "refund_number_update": [
        Attempt("update()", after_selling(lambda: Refund.objects.update(number=4)), NUMBERS),
        Attempt("raw", after_selling(lambda: run("UPDATE costing_refund SET number = NULL")), NUMBERS),
    ],
    "refund_number_delete": [
        Attempt("delete()", after_selling(lambda: Refund.objects.all().delete()), KEPT),
        Attempt("raw", after_selling(lambda: run("DELETE FROM costing_refund")), KEPT),
    ],
    "refund_no_truncate": [
        Attempt("TRUNCATE", after_selling(lambda: truncate("costing_refund CASCADE")), KEPT, only=POSTGRESQL)
    ],
    "cashcount_update": [
        Attempt("update()", after_counting(lambda: CashCount.objects.update(counted=0)), "never changed"),
        Attempt(
            "raw", after_counting(lambda: run("UPDATE costing_cashcount SET note = 'x'")), "never changed"
        ),
    ],
    "cashcount_delete": [
        Attempt("delete()", after_counting(lambda: CashCount.objects.all().delete()), KEPT),
        Attempt("raw", after_counting(lambda: run("DELETE FROM costing_cashcount")), KEPT),
    ],
    "cashcount_no_truncate": [
        Attempt(
            "TRUNCATE", after_counting(lambda: truncate("costing_cashcount CASCADE")), KEPT, only=POSTGRESQL
        )
    ],
}
