"""Pieces made to order in the demo: one sold with its deposit set off, one cancelled, one that waits to be poured."""

from datetime import timedelta
from functools import partial
from typing import NamedTuple

from costing.commissions.actions import CancelFacts, PaymentFacts, cancel_commission, receive_payment
from costing.commissions.models import Commission
from costing.contacts.actions import add_contact
from costing.demo.agenda import Agenda, Hour
from costing.demo.selling import CASH, ONLINE, Selling
from costing.demo.setting_up import Loft
from costing.demo.titles import UNUSUAL
from costing.demo.works import POUND, Works
from costing.selling.actions import PieceSold, SaleFacts
from studio.auditing.reference_rows import save_row
from studio.submission import Submission


class Ordered(NamedTuple):
    """Who orders what: the price and the deposit in pounds, agreed so many days ago, wanted so many days later."""

    who: str
    wanted: str
    price: int
    deposit: int
    days_ago: int
    within: int


CHANDLER = Ordered(
    "Bollard the chandler", "A ring pour in deep blue\nFor the wall behind the counter.", 140, 40, 84, 60
)
FERRY = Ordered("Ferry crew", "Four coasters for each of three cabins\nGreys and one orange.", 96, 30, 52, 30)
HARBOUR = Ordered(
    "Harbour office", "A large board, the colours of the two pier lights\nHung by two wires.", 260, 80, 11, 45
)
SECOND_PART, SOLD, CANCELLED, KEPT = 62, 41, 33, 10


class Ordering:
    """Puts the commissions on the agenda."""

    def __init__(self, loft: Loft, agenda: Agenda, works: Works, selling: Selling) -> None:
        self.loft, self.works, self.selling = loft, works, selling
        self.agreed: dict[str, Commission] = {}
        for order in (CHANDLER, FERRY, HARBOUR):
            agenda.put(order.days_ago, Hour.LAST, partial(self._agree, order))
        agenda.put(SECOND_PART, Hour.LAST, partial(self._pay, CHANDLER, 30, ONLINE))
        agenda.put(SOLD, Hour.LAST, self._sell)
        agenda.put(CANCELLED, Hour.LAST, self._cancel)

    def _agree(self, order: Ordered, days_ago: int) -> None:
        submission = self._submission(days_ago)
        commission = Commission(
            contact=add_contact(name=order.who, submission=submission),
            wanted=order.wanted,
            price=order.price * POUND,
            agreed_on=submission.on,
            wanted_by=submission.on + timedelta(days=order.within),
        )
        self.agreed[order.who] = save_row(commission, submission=submission)
        self._pay(order, order.deposit, CASH, days_ago)

    def _pay(self, order: Ordered, pounds: int, channel: str, days_ago: int) -> None:
        facts = PaymentFacts(pounds * POUND, self.loft.channels[channel])
        receive_payment(commission=self.agreed[order.who], facts=facts, submission=self._submission(days_ago))

    def _sell(self, days_ago: int) -> None:
        """The oldest piece on the wall passes for the one that was ordered."""
        commission = self.agreed[CHANDLER.who]
        for piece in [each for each in self.works.for_sale if each.title not in UNUSUAL][:1]:
            self.works.for_sale.remove(piece)
            facts = SaleFacts(commission=commission, note="Made to order")
            self.selling.sell([PieceSold(piece, commission.price)], CASH, days_ago, facts)

    def _cancel(self, days_ago: int) -> None:
        facts = CancelFacts(
            (FERRY.deposit - KEPT) * POUND, self.loft.channels[CASH], "The wood was cut already"
        )
        cancel_commission(
            commission=self.agreed[FERRY.who], facts=facts, submission=self._submission(days_ago)
        )

    def _submission(self, days_ago: int) -> Submission:
        return self.loft.submission(self.loft.owner, self.loft.diary.ago(days_ago))
