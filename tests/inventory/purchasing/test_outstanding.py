"""What is still due is what was ordered less what was received, whatever is delivered, corrected and reversed."""

from dataclasses import dataclass
from typing import Any

from django.db import transaction
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from inventory.purchasing.actions.corrections import CorrectionFacts, correct_delivery
from inventory.purchasing.actions.deliveries import receive_delivery
from inventory.purchasing.actions.delivery_facts import LineFacts
from inventory.purchasing.incoming import on_order, progress_of
from inventory.purchasing.models import Delivery, Order, OrderLine
from tests import making
from tests.making import make_material, make_submission, make_supplier, money, take_back, units

amounts = st.integers(1, 12).map(lambda number: units(100) * number)
ACTS = st.tuples(st.sampled_from(["receive", "by hand", "correct", "take back"]), st.integers(0, 5), amounts)


@dataclass
class Came:
    """A delivery of one line, as it stands."""

    delivery: Delivery
    material: int
    quantity: int
    was_corrected: bool = False


class Story:
    """An order of two lines of one paint and one of another, and what came of it."""

    def __init__(self) -> None:
        self.paint, self.other = make_material(), make_material()
        self.supplier = make_supplier()
        lines = [(self.paint, units(500)), (self.other, units(300)), (self.paint, units(700))]
        self.order = making.make_order(*lines, supplier=self.supplier)
        self.lines = list(self.order.lines.order_by("pk"))
        self.came: list[Came] = []

    def act(self, what: str, which: int, amount: int) -> None:
        if what in ("receive", "by hand"):
            line = self.lines[which % len(self.lines)]
            self.receive(line, amount, names_it=what == "receive")
        elif self.came:
            came = self.came[which % len(self.came)]
            if what == "correct" and not came.was_corrected and amount != came.quantity:
                facts = CorrectionFacts(
                    "GBP", lines={came.delivery.lines.get().lot_id: {"pack": amount}}, reason="Miscounted"
                )
                correct_delivery(delivery=came.delivery, facts=facts, submission=make_submission())
                came.quantity, came.was_corrected = amount, True
            elif what == "take back" and not came.was_corrected:
                take_back(came.delivery.posting)
                self.came.remove(came)

    def receive(self, line: OrderLine, amount: int, *, names_it: bool) -> None:
        lines = [LineFacts(line.material, amount, money(1), order_line=line if names_it else None)]
        facts = making.delivery_facts(lines=lines, supplier=self.supplier, order=self.order)
        delivery = receive_delivery(facts=facts, submission=make_submission())
        self.came.append(Came(delivery, line.material_id, amount))

    def due(self) -> dict[int, int]:
        ordered = {self.paint.pk: units(1200), self.other.pk: units(300)}
        for came in self.came:
            ordered[came.material] -= came.quantity
        return {material: amount for material, amount in ordered.items() if amount > 0}


class AnyDeliveries(TestCase):
    @settings(max_examples=15, deadline=None)
    @given(acts=st.lists(ACTS, max_size=7))
    def test_outstanding_is_ordered_less_received_and_never_below_zero(self, acts: list[Any]) -> None:
        with transaction.atomic():
            story = Story()
            for act in acts:
                story.act(*act)
                lines = progress_of([story.order])[0].lines
                due: dict[int, int] = {}
                for each in lines:
                    assert 0 <= each.to_come <= each.line.quantity
                    due[each.line.material_id] = due.get(each.line.material_id, 0) + each.to_come
                assert {pk: amount for pk, amount in due.items() if amount} == story.due()
                assert on_order() == story.due()
                assert Order.objects.get(pk=story.order.pk).is_closed is (not story.due())
                assert sum(each.received for each in lines) == sum(came.quantity for came in story.came)
            transaction.set_rollback(True)
