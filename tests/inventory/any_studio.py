"""A studio driven beside a second set of books: the machinery of test_books_hold, without its events."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from fractions import Fraction
from typing import Any, TypeVar

from django.db import transaction
from hypothesis.stateful import RuleBasedStateMachine

from inventory.errors import InventoryError
from inventory.ledger.models import CostingMethod, Entry, Lot, Posting, PostingKind
from inventory.ledger.restatement import Account, with_corrections
from inventory.ledger.restating import posted_facts
from inventory.materials.models import Material
from inventory.recipes.actions.mixes import Ingredient, MixFacts, planned
from inventory.recipes.models import Mix, RecipeVersion
from inventory.sessions.actions.sessions import Dose, PourFacts, SessionFacts
from inventory.sessions.models import Pour, Session
from studio.errors import InputError
from tests import making
from tests.days import AT
from tests.inventory.invariants import everything
from tests.inventory.oracle import GAIN, OUTSIDE, Move, PlainBooks, PlainLot, Spot, half_up, shares_of

Made = TypeVar("Made")


def pick(items: Sequence[Made], which: int) -> Made:
    return items[which % len(items)]


def plain_lot(lot: Lot) -> PlainLot:
    return PlainLot(lot.pk, lot.material_id, lot.received_on, lot.best_before)


def spot(entry: Entry) -> Spot:
    if entry.place == "gain":
        return GAIN
    return entry.place, entry.lot_id or entry.mix_id or entry.pour_id or entry.reason_id or 0


def end_of(account: Account) -> Spot:
    """One end of a fact."""
    place, *numbers = account
    return place, next((number for number in numbers if number), 0)


def grams(material: Material, quantity: int) -> int:
    """The weight of a quantity, half up, at a density in µg/mL."""
    if material.measure == "mass":
        return quantity
    assert material.density is not None
    return half_up(Fraction(quantity * material.density, 1_000_000))


def sum_of(facts: MixFacts) -> int:
    """The volume of everything in a batch."""
    volume = 0
    for item in facts.ingredients:
        if item.material.measure == "volume":
            volume += item.quantity
        else:
            volume += half_up(Fraction(item.quantity * 1_000_000, item.material.density or 0))
    return volume


class StudioBesidePlainBooks(RuleBasedStateMachine):
    """One studio, its books, and the plain ones that are told the same story after each success."""

    costing_method = CostingMethod.FIFO

    def __init__(self) -> None:
        super().__init__()
        self.savepoint = transaction.atomic()
        self.savepoint.__enter__()
        self.open_up()

    def open_up(self) -> None:
        """A fresh studio, and fresh plain books beside its own."""
        making.use_cost_flow(self.costing_method)
        self.owner = making.make_owner()
        self.plain = PlainBooks(
            average=self.costing_method == CostingMethod.AVERAGE,
            by_expiry=self.costing_method == CostingMethod.FEFO,
        )
        self.at = AT
        self.lots: list[Lot] = []
        self.pours: list[Pour] = []
        self.sessions: list[tuple[Session, SessionFacts]] = []
        self.stock_the_cupboard()

    def teardown(self) -> None:
        transaction.set_rollback(True)
        self.savepoint.__exit__(None, None, None)

    def stock_the_cupboard(self) -> None:
        self.glue = making.make_material(name="Glue", density=1_090_000)
        self.red = making.make_material(name="Red")
        self.paste = making.make_material(name="Paste", measure="mass", density=1_370_000)
        self.water = making.make_water(name="Water", free_rate=2_500)
        self.canvas = making.make_surface(name="Canvas")
        self.tile = making.make_surface(name="Tile", height=10_000, width=15_000, depth=None)
        self.gloves = making.make_material(name="Gloves", kind="sundry", measure="count")
        self.bought = [self.red, self.canvas, self.glue, self.tile, self.gloves, self.paste]
        medium = making.make_recipe(parts=[(self.glue, 2), (self.water, 1)])
        rose = making.make_recipe(parts=[(self.red, 1), (medium.recipe.makes, 2)])
        heavy = making.make_recipe(parts=[(self.paste, 3), (self.red, 2)])
        self.recipes = [medium, rose, heavy]
        self.paints = [self.red, self.glue, self.paste, *(version.recipe.makes for version in self.recipes)]

    def attempt(self, write: Callable[[], Made]) -> Made | None:
        """Run a writer. A refusal in words is an answer; the database refusing instead would be an error."""
        before = everything()
        try:
            return write()
        except (InventoryError, InputError):
            assert everything() == before
            return None

    def tell_received(self, posting: Posting, lot: Lot, quantity: int, money: int) -> None:
        self.lots.append(lot)
        self.plain.receive(posting.number, plain_lot(lot), quantity, money, on=posting.effective_on)

    def pour_facts(
        self,
        which: int,
        over: bool,
        fails: bool,
        quantity: int,
        source: int,
        *,
        mixed: list[MixFacts],
        share_of: int,
    ) -> PourFacts:
        failed = [pour for pour in self.pours if pour.outcome == Pour.Outcome.FAILED]
        beneath = pick(failed, which) if over and failed else None
        if mixed and source % 2:
            position = source // 2 % len(mixed)
            made = sum_of(mixed[position])
            dose = Dose(max(1, made // share_of * (source % 5 + 1) // 5), mix=position)
        else:
            dose = Dose(quantity, material=pick(self.paints, source))
        return PourFacts(
            technique=making.the_technique(),
            doses=[dose],
            surface=None if beneath else pick([self.canvas, self.tile], which),
            over=beneath,
            outcome=Pour.Outcome.FAILED if fails else Pour.Outcome.OPEN,
        )

    def batch(self, which: int, quantity: int, **facts: Any) -> MixFacts:
        version: RecipeVersion = pick(self.recipes, which)
        return MixFacts(version, planned(version, quantity), **facts)

    def put_right(
        self, session: Session, facts: SessionFacts, tenths: int, paint: int | None, count: int
    ) -> SessionFacts:
        """What a session is corrected to: its facts with other amounts, paint or pours."""

        def some(quantity: int) -> int:
            return max(1, quantity * tenths // 10)

        def other(item: Ingredient) -> Ingredient:
            swapped = paint is not None and item.material in (self.red, self.glue)
            return Ingredient(self.glue if swapped else item.material, some(item.quantity))

        batches = [
            replace(item, mix=mix, ingredients=[other(each) for each in item.ingredients], measured=None)
            for item, mix in zip(facts.mixes, session.mixes.order_by("pk"), strict=True)
        ]
        pours = [
            replace(
                item,
                pour=pour,
                outcome=pour.outcome,
                doses=[
                    replace(
                        dose,
                        quantity=some(dose.quantity),
                        material=dose.material and (pick(self.paints, paint) if paint else dose.material),
                    )
                    for dose in item.doses
                ],
            )
            for item, pour in zip(facts.pours, session.pours.order_by("number"), strict=True)
        ]
        if count > 0 and pours and pours[0].over is None:
            pours.append(replace(pours[0], pour=None))
        return replace(facts, mixes=batches, pours=pours[1:] if count < 0 else pours)

    def tell_stirred(self, mix: Mix, facts: MixFacts, on: date) -> None:
        """Tell the plain books of a batch."""
        cup = ("mix", mix.pk)
        for item in facts.ingredients:
            self.tell_drawn(mix.posting_id, item.material, item.quantity, cup, on=on)
        made = facts.measured or sum_of(facts)
        self.plain.receive(mix.posting_id, plain_lot(mix.lot), made, None, on=on, giver=cup)
        self.lots.append(mix.lot)

    def tell_drawn(self, number: int, material: Material, quantity: int, taker: Spot, *, on: date) -> None:
        if not material.is_free:
            self.plain.draw(number, material.pk, quantity, taker, on=on)
            return
        money = half_up(Fraction(material.free_rate * quantity, 1_000_000))
        self.plain.move(number, OUTSIDE, taker, material.pk, quantity, money, on=on)

    def tell_poured(
        self, number: int, facts: SessionFacts, made: Sequence[Mix], poured: Sequence[Pour]
    ) -> None:
        on, left = facts.held_on, [facts_of.measured or sum_of(facts_of) for facts_of in facts.mixes]
        doses = [[0] * len(poured) for _ in made]
        for place, (pour, said) in enumerate(zip(poured, facts.pours, strict=True)):
            if said.surface is not None:
                self.plain.draw(number, said.surface.pk, 1_000, ("work", pour.pk), on=on)
            for dose in said.doses:
                if dose.mix is None:
                    assert dose.material is not None
                    self.tell_drawn(number, dose.material, dose.quantity, ("work", pour.pk), on=on)
                else:
                    self.tell_from_cup(number, made[dose.mix], dose.quantity, ("work", pour.pk), on=on)
                    doses[dose.mix][place] += dose.quantity
                    left[dose.mix] -= dose.quantity
        for mix, rest, taken in zip(made, left, doses, strict=True):
            if mix.leftover == Mix.Leftover.RESIDUE and any(taken):
                for pour, part in zip(poured, shares_of(rest, taken), strict=True):
                    self.tell_from_cup(number, mix, part, ("work", pour.pk), on=on)
            elif mix.leftover != Mix.Leftover.KEPT:
                self.tell_from_cup(number, mix, rest, ("loss", making.the_reason("leftover").pk), on=on)
        for item in facts.sundries:
            for pour, part in zip(poured, shares_of(item.quantity, [1] * len(poured)), strict=True):
                self.plain.draw(number, item.material.pk, part, ("work", pour.pk), on=on)

    def tell_from_cup(self, number: int, mix: Mix, quantity: int, taker: Spot, *, on: date) -> None:
        lot = mix.lot
        self.plain.draw(number, lot.material_id, quantity, taker, on=on, chosen=lot.pk, only=True)

    def tell_left_work(self, posting: Posting | None, takers: dict[int, Spot]) -> None:
        if posting is None:
            return
        for (spot, material), (quantity, _money) in self.plain.balances().items():
            if spot[0] == "work" and spot[1] in takers:
                taker = takers[spot[1]]
                self.plain.move(
                    posting.number, spot, taker, material, quantity, None, on=posting.effective_on
                )

    def tell_put_right(self, posting: int) -> None:
        """Tell what a session really moved, as the lots were drawn; what it cost is worked out anew."""
        corrections = Posting.objects.filter(corrects=posting, reversed_by=None)
        own, *others = posted_facts(only=[posting, *corrections.values_list("number", flat=True)])
        facts = [each for each in own.movements if not each.is_derived]
        facts = with_corrections(facts, [each for other in others for each in other.corrections])
        self.plain.put_right(
            posting,
            [
                Move(giver, taker, fact.material, fact.quantity, fact.money if giver == OUTSIDE else None)
                for fact in facts
                for giver, taker in [(end_of(fact.source), end_of(fact.destination))]
                if giver != OUTSIDE or taker[0] != "lot"  # what a lot was corrected by has been told
            ],
        )

    def tell_thrown_away(self, posting: Posting, pour: Pour, abnormal: Spot | None) -> None:
        """A normal loss goes to the good pours of its session by area, and for those that are gone to the period."""
        held = {spot[1] for spot, _material in self.plain.balances() if spot[0] == "work"}
        usual: Spot = ("loss", making.the_reason("usual-failure").pk)
        takers: dict[Spot, int] = {}
        if abnormal is None:
            good = [
                each for each in self.pours if each.session_id == pour.session_id and each.outcome != "failed"
            ]
            takers = {("work", each.pk): each.area for each in good if each.pk in held}
            gone = sum(each.area for each in good if each.pk not in held)
            takers |= {usual: gone} if gone or not takers else {}
        takers = takers if any(takers.values()) else {abnormal or usual: 1}
        for (spot, material), (quantity, _money) in self.plain.balances().items():
            if spot == ("work", pour.pk):
                parts = shares_of(quantity, list(takers.values()))
                for taker, part in zip(takers, parts, strict=True):
                    if part:
                        on = posting.effective_on
                        self.plain.move(posting.number, spot, taker, material, part, None, on=on)

    def adopt_gain(self, last: int) -> None:
        first = Posting.objects.filter(number=last + 1).first()
        if first is not None and first.kind == PostingKind.COUNT_GAIN:
            self.adopt(first)

    def adopt(self, posting: Posting) -> None:
        """Take a posting's moves over as they stand, where telling them twice would only copy the code."""
        lines = list(posting.entries.order_by("line"))
        for gave, took in zip(lines[::2], lines[1::2], strict=True):
            for lot in Lot.objects.filter(pk__in=[pk for pk in (gave.lot_id, took.lot_id) if pk]):
                self.plain.lots[lot.pk] = plain_lot(lot)
                self.lots += [] if lot in self.lots else [lot]
            if not took.quantity:
                continue
            is_known = gave.place in ("outside", "gain")
            self.plain.move(
                posting.number, spot(gave), spot(took), took.material_id, took.quantity,
                took.money if is_known else None, on=posting.effective_on,
            )  # fmt: skip
