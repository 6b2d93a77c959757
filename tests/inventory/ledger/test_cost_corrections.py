"""A late change to what a lot cost: posted visibly, spread over everything the lot has become."""

from collections import Counter
from dataclasses import dataclass

import pytest
from django.db.models import Sum
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from inventory.errors import InventoryError
from inventory.ledger.corrections import ReceiptChange, correct_receipt, receipt_of
from inventory.ledger.effects import effects_of
from inventory.ledger.models import CostingMethod, Entry, Lot, Place, Posting, PostingKind
from inventory.ledger.posting import rehearsal
from inventory.recipes.actions.mixes import MixFacts, planned
from inventory.sessions.actions.sessions import Dose, PourFacts
from inventory.sessions.models import Pour
from inventory.stock.actions.lots import decant
from tests import making
from tests.days import TODAY
from tests.inventory.invariants import assert_books_hold, refused, unchanged
from tests.making import correct, held, money, units

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


@dataclass
class Spent:
    """A litre of paint for 10.00, of which 300 mL are left; the rest went every way there is."""

    lot: Lot
    jar: Lot
    mixed: Lot
    unsold: Pour
    sold: Pour
    from_the_mix: Pour


def make_spent() -> Spent:
    lot = making.make_lot()
    canvas = making.make_lot(material=making.make_surface(), quantity=units(9), cost=money(9)).material
    version = making.make_recipe(parts=[(lot.material, 3), (making.make_water(), 1)])
    mix = MixFacts(version, planned(version, units(400)))  # 300 mL of the paint, and water
    surfaces = [making.pour_of(material=lot.material, quantity=units(100), surface=canvas) for _ in range(2)]
    third = PourFacts(technique=making.the_technique(), doses=[Dose(units(100), mix=0)], surface=canvas)
    session = making.make_session(mixes=[mix], pours=[*surfaces, third])
    unsold, sold, from_the_mix = session.pours.order_by("number")
    making.sell(pours=[sold])
    making.spill(lot=lot, quantity=units(100))
    jar = decant(lot=lot, quantity=units(100), submission=making.make_submission())
    return Spent(lot, jar, session.mixes.get().lot, unsold, sold, from_the_mix)


def landed(posting: Posting) -> dict[tuple[str, int], int]:
    """By how much a correction changed each account, the outside apart."""
    sums: Counter[tuple[str, int]] = Counter()
    for entry in posting.entries.exclude(place__in=[Place.OUTSIDE, Place.MIX]):
        sums[entry.place, entry.lot_id or entry.pour_id or entry.reason_id or 0] += entry.money
    return {account: amount for account, amount in sums.items() if amount}


def test_a_correction_follows_the_paint_wherever_it_went() -> None:
    spent = make_spent()
    posting = correct(lot=spent.lot, difference=money("1.00"))
    # Of the litre: 300 mL left, 100 in a jar, 100 unsold, 100 sold, 100 spilled, 300 in a mix of 400 of which a
    # quarter was poured: 1.00 goes by quantity, and the mix's 0.30 by what became of the mix.
    assert landed(posting) == {
        ("lot", spent.lot.pk): money("0.30"),
        ("lot", spent.jar.pk): money("0.10"),
        ("lot", spent.mixed.pk): money("0.225"),
        ("work", spent.unsold.pk): money("0.10"),
        ("work", spent.from_the_mix.pk): money("0.075"),
        ("sold", spent.sold.pk): money("0.10"),
        ("loss", making.the_reason("spilled").pk): money("0.10"),
    }
    assert posting.kind == PostingKind.CORRECTION
    assert posting.note == "Late invoice"


def test_a_correction_downwards_mirrors_one_upwards() -> None:
    spent = make_spent()
    up = landed(correct(lot=spent.lot, difference=money("0.70") + 1))
    down = landed(correct(lot=spent.lot, difference=-money("0.70") - 1))
    assert down == {place: -amount for place, amount in up.items()}


def test_no_quantity_moves() -> None:
    spent = make_spent()
    posting = correct(lot=spent.lot, difference=money(1))
    assert not posting.entries.exclude(quantity=0).exists()
    assert held(spent.lot) == (units(300), money("3.30"))


def test_an_untouched_lot_takes_the_whole_difference() -> None:
    lot = making.make_lot()
    correct(lot=lot, difference=-money("2.50"))
    assert held(lot) == (units(1_000), money("7.50"))


def test_a_correction_of_one_millionth_goes_somewhere_whole() -> None:
    spent = make_spent()
    posting = correct(lot=spent.lot, difference=1)
    assert posting.entries.get(place=Place.OUTSIDE).money == -1


def test_a_reversed_draw_takes_no_part() -> None:
    lot = making.make_lot()
    making.take_back(making.spill(lot=lot, quantity=units(400)))
    correct(lot=lot, difference=money(1))
    assert held(lot) == (units(1_000), money(11))


def test_gone_paint_leaves_nothing_of_the_correction_on_the_shelf() -> None:
    lot = making.make_lot()
    making.spill(lot=lot, quantity=units(1_000))
    posting = correct(lot=lot, difference=money(1))
    assert landed(posting) == {("loss", making.the_reason("spilled").pk): money(1)}
    assert held(lot) == (0, 0)


def test_under_weighted_average_the_shelf_s_part_is_evened_over_all_lots() -> None:
    making.use_cost_flow(CostingMethod.AVERAGE)
    paint = making.make_material()
    first = making.make_lot(material=paint, quantity=units(100), cost=money(1))
    second = making.make_lot(material=paint, quantity=units(300), cost=money(3))
    correct(lot=first, difference=money("0.40"))
    assert (held(first), held(second)) == ((units(100), money("1.10")), (units(300), money("3.30")))


def test_it_refuses_a_correction_of_nothing() -> None:
    lot = making.make_lot()
    with refused(InventoryError, match="Nothing has changed"):
        correct(lot=lot, difference=0)


def test_it_refuses_a_cost_below_nothing_wherever_the_paint_is_now() -> None:
    lot = making.make_lot(cost=money(1))
    with refused(InventoryError, match="below zero|less than nothing"):
        correct(lot=lot, difference=-money(1) - 1)
    making.spill(lot=lot, quantity=units(1_000))
    with refused(InventoryError, match="below zero|less than nothing"):
        correct(lot=lot, difference=-money(1) - 1)
    correct(lot=lot, difference=-money(1))
    pour = making.make_pour()
    with refused(InventoryError, match="below zero|less than nothing"):
        correct(lot=pour.surface.lots.get(), difference=-money("3.51"))


def test_it_refuses_to_correct_a_delivery_that_was_taken_back() -> None:
    lot = making.make_lot()
    making.take_back(Posting.objects.latest("number"))
    with refused(InventoryError, match="has been reversed"):
        correct(lot=lot, difference=money(1))


def test_a_correction_can_be_taken_back_while_what_it_changed_is_still_there() -> None:
    lot = making.make_lot()
    making.take_back(correct(lot=lot, difference=money(1)))
    assert held(lot) == (units(1_000), money(10))


class AnyDifference(TestCase):
    @settings(max_examples=settings.get_profile(settings.get_current_profile_name()).max_examples // 4)
    @given(difference=st.integers(-(10**6), 10**12).filter(bool))
    def test_it_is_spread_to_the_last_millionth(self, difference: int) -> None:
        spent = make_spent()
        with unchanged():
            draft = rehearsal(TODAY)
            correct_receipt(
                draft,
                receipt_of(spent.lot.delivery_line.delivery.posting),
                [ReceiptChange(spent.lot, money=difference)],
            )
            effects = effects_of(draft)
            assert sum(each.money_after - each.money_before for each in effects) == difference
        posting = correct(lot=spent.lot, difference=difference)
        gave = Entry.objects.filter(posting=posting, place=Place.OUTSIDE).aggregate(money=Sum("money"))
        assert gave["money"] == -difference
        assert_books_hold()
