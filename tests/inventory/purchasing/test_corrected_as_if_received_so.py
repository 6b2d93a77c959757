"""A corrected delivery leaves the books as if it had been received so in the first place: every account, every day."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db import transaction
from hypothesis import assume, event, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from inventory.errors import InventoryError
from inventory.ledger.models import CostingMethod, Entry, Lot, Posting
from inventory.ledger.verification import check
from inventory.purchasing.actions.deliveries import receive_delivery
from inventory.purchasing.actions.delivery_facts import LineFacts
from inventory.sessions.actions.sessions import Dose, PourFacts
from inventory.sessions.models import Pour
from inventory.stock.actions.lots import decant
from tests import making
from tests.days import TODAY
from tests.making import money

PENNY = 10_000
DAYS = 6
BEFORE = TODAY - timedelta(days=DAYS + 1)
days = st.integers(0, DAYS).map(lambda ago: TODAY - timedelta(days=ago))
Account = tuple[date, str, int, int, int | None, int]
Draw = tuple[int, int, int]


@dataclass(frozen=True)
class Figures:
    """A delivery's day, carriage and duty in pence; the packs, the pack in thousandths and the price of each line."""

    on: date
    carriage: int
    duty: int
    lines: Sequence[tuple[int, int, int]]

    @property
    def shared(self) -> dict[str, Any]:
        return {"carriage": self.carriage * PENNY, "duty": self.duty * PENNY}


figures = st.builds(
    Figures,
    days,
    st.integers(0, 900),
    st.integers(0, 900),
    st.lists(
        st.tuples(st.integers(1, 3), st.integers(20_000, 300_000), st.integers(0, 2_000)),
        min_size=3,
        max_size=3,
    ),
)
KINDS = ["spill", "decant", "pour", "pour", "sell", "reverse"]
Happening = tuple[str, int, int, date]
happenings = st.lists(
    st.tuples(st.sampled_from(KINDS), st.integers(0, 5), st.integers(1, 40_000), days), min_size=1, max_size=8
)


class Story:
    """A delivery of three paints of which there was some before, and what became of all of it."""

    def __init__(self, method: CostingMethod, received: Figures) -> None:
        making.use_cost_flow(method)
        self.paints = [making.make_material(name=name) for name in ("Amber", "Indigo", "Slate")]
        self.board = making.make_surface()
        stock = [(paint, 100_000, money(7)) for paint in self.paints]
        making.make_opening(lines=[*stock, (self.board, 1_000_000, 0)], on=BEFORE)
        lines = [
            LineFacts(paint, pack, price * PENNY, packs)
            for paint, (packs, pack, price) in zip(self.paints, received.lines, strict=True)
        ]
        facts = making.delivery_facts(lines=lines, received_on=received.on, **received.shared)
        self.delivery = receive_delivery(facts=facts, submission=making.make_submission())
        self.lots = list(Lot.objects.filter(material__in=self.paints).order_by("-pk"))
        self.pours: list[Pour] = []
        self.spills: list[Posting] = []

    def happen(self, what: str, which: int, quantity: int, on: date) -> None:
        lot = self.lots[which % len(self.lots)]
        if what == "spill":
            self.spills.append(making.spill(lot=lot, quantity=quantity, on=on))
        elif what == "decant":
            decant(lot=lot, quantity=quantity, submission=making.make_submission(on=on))
        elif what == "pour":
            dose = Dose(quantity, material=lot.material, lot=lot.pk)
            poured = PourFacts(technique=making.the_technique(), doses=[dose], surface=self.board)
            self.pours.append(making.make_session(pours=[poured], on=on).pours.get())
        elif what == "sell" and self.pours:
            making.sell(pours=[self.pours[which % len(self.pours)]], on=on)
        elif what == "reverse" and self.spills:
            making.take_back(self.spills.pop(which % len(self.spills)))

    def correct(self, right: Figures) -> Posting:
        lots = [line.lot_id for line in self.delivery.lines.order_by("pk")]
        lines = {
            lot: {"packs": packs, "pack": pack, "price": price * PENNY}
            for lot, (packs, pack, price) in zip(lots, right.lines, strict=True)
        }
        return making.correct_delivery(self.delivery, received_on=right.on, lines=lines, **right.shared)

    def told(self) -> tuple[Counter[Account], Counter[Account], list[Draw]]:
        """Quantity and money by day and account, rows counted from the first of their kind; and what was drawn."""
        # By their order: a refusal may have used up numbers of PostgreSQL's.
        lots = {
            pk: place for place, pk in enumerate(Lot.objects.order_by("pk").values_list("pk", flat=True), 1)
        }
        pours = {pour.pk: place for place, pour in enumerate(self.pours, 1)}
        first_material = self.paints[0].pk
        quantities, costs = Counter[Account](), Counter[Account]()
        draws = []
        for each in Entry.objects.order_by("posting", "line").select_related("posting"):
            lot = lots[each.lot_id] if each.lot_id else 0
            pour = pours.get(each.pour_id or 0, 0)
            account = (
                each.effective_on,
                each.place,
                lot,
                pour,
                each.reason_id,
                each.material_id - first_material,
            )
            quantities[account] += each.quantity
            costs[account] += each.money
            if lot and each.quantity and each.posting.corrects_id is None:
                draws.append((each.posting_id, lot, min(each.quantity, 0)))
        return without_nothing(quantities), without_nothing(costs), draws


def without_nothing(sums: Counter[Account]) -> Counter[Account]:
    return Counter({account: amount for account, amount in sums.items() if amount})


class AnyCorrection(TestCase):
    @settings(max_examples=settings.get_profile(settings.get_current_profile_name()).max_examples // 2)
    @given(method=st.sampled_from(CostingMethod), wrong=figures, right=figures, wanted=happenings)
    def test_it_ends_with_the_same_books(
        self, method: CostingMethod, wrong: Figures, right: Figures, wanted: list[Happening]
    ) -> None:
        assume(wrong != right)
        carried_out = []
        with transaction.atomic():
            story = Story(method, wrong)
            for happening in wanted:
                try:
                    story.happen(*happening)
                    carried_out.append(happening)
                except InventoryError:
                    pass
            before = story.told()
            try:
                correction = story.correct(right)
            except InventoryError:
                event("refused")
                transaction.set_rollback(True)
                return
            assert check().breaks == ()
            corrected = story.told()
            with transaction.atomic():
                making.take_back(correction)
                assert story.told()[:2] == before[:2]
                assert check().breaks == ()
                transaction.set_rollback(True)
            transaction.set_rollback(True)
        with transaction.atomic():
            story = Story(method, right)
            try:
                for happening in carried_out:
                    story.happen(*happening)
            except InventoryError:
                event("other lots would have been drawn")
                transaction.set_rollback(True)
                return
            plain = story.told()
            transaction.set_rollback(True)
        if corrected[2] != plain[2]:
            event("other lots were drawn")
            return
        event(f"compared, {method}")
        assert corrected[:2] == plain[:2]
