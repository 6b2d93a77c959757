"""Taking a posting back: what a reversal restores, and every reason why one is refused."""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import pytest

from inventory.errors import CannotReverse, ClosedPeriod
from inventory.ledger.balances import in_work
from inventory.ledger.models import CostingMethod, Entry, EntryRole, Lot, LotBalance, Posting, PostingKind
from inventory.recipes.actions.mixes import Ingredient
from inventory.recipes.models import Mix
from inventory.sessions.actions.throwing_away import ThrowAwayFacts, throw_away
from inventory.sessions.models import Pour, Session
from inventory.stock.actions.lots import decant
from inventory.stock.actions.stocktakes import Count, post_stocktake
from tests import making
from tests.days import AT, DAY, TODAY
from tests.inventory.invariants import refused
from tests.making import correct, held, make_pour, money, take_back, units

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]

STORY_DAY = TODAY - 3 * DAY


def make_mistakes() -> dict[PostingKind, Callable[[], Posting]]:
    """One posting of every kind that a person can make by mistake, each from the same shelf."""
    owner = making.make_owner()
    paint, canvas = making.make_material(), making.make_surface()
    delivery = making.make_delivery(
        lines=[(paint, units(1_000), money(10)), (canvas, units(9), money(18))], on=STORY_DAY
    )
    lot = delivery.lines.get(lot__material=paint).lot
    version = making.make_recipe(parts=[(paint, 1)])
    pour_facts = making.pour_of(material=paint, quantity=units(100), surface=canvas)
    poured = making.make_session(
        pours=[pour_facts, replace(pour_facts, outcome=Pour.Outcome.FAILED)], on=STORY_DAY
    )
    pour = poured.pours.get(number=1)
    submission = making.make_submission(by=owner, on=STORY_DAY)

    def counted() -> Posting:
        stocktake = post_stocktake(counts=[Count(lot, units(955))], submission=submission)
        assert stocktake.posting is not None
        return stocktake.posting

    def decanted() -> Posting:
        jar = decant(lot=lot, quantity=units(5), submission=submission)
        return Posting.objects.get(entries__lot=jar)

    def finished() -> Posting:
        items = [Ingredient(paint, units(3))]
        return making.charge(pours=[pour], materials=items, role=EntryRole.FINISH, submission=submission)

    def thrown_away() -> Posting:
        (failed,) = Pour.objects.exclude(pk=pour.pk)
        return throw_away(facts=ThrowAwayFacts([failed]), submission=submission)

    return {
        PostingKind.POUR_WRITE_OFF: thrown_away,
        PostingKind.OPENING: lambda: making.make_opening(lines=[(paint, units(7), money(1))], on=STORY_DAY),
        PostingKind.DELIVERY: lambda: making.make_lot(material=paint, on=STORY_DAY).entries.get().posting,
        PostingKind.MIX: lambda: making.make_batch(version=version, quantity=units(30), on=STORY_DAY).posting,
        PostingKind.SESSION: lambda: making.make_session(pours=[pour_facts], on=STORY_DAY).posting,
        PostingKind.DECANT: decanted,
        PostingKind.WRITE_OFF: lambda: making.spill(lot=lot, quantity=units(20), on=STORY_DAY),
        PostingKind.STOCKTAKE: counted,
        PostingKind.FINISHING: finished,
        PostingKind.PIECE_WRITE_OFF: lambda: making.ruin(
            pours=[pour], reason=making.the_reason("ruined"), submission=submission
        ),
        PostingKind.SALE: lambda: making.sell(pours=[pour], on=STORY_DAY),
        PostingKind.CORRECTION: lambda: correct(lot=lot, difference=money(1), on=STORY_DAY),
    }


KINDS = [kind for kind in PostingKind if kind not in (PostingKind.REVERSAL, PostingKind.COUNT_GAIN)]


def where_everything_is() -> dict[tuple[object, ...], tuple[int, int]]:
    """What each place holds of each material, from the entries."""
    found: dict[tuple[object, ...], tuple[int, int]] = {}
    for entry in Entry.objects.exclude(place="mix"):
        spot = entry.place, entry.lot_id, entry.pour_id, entry.reason_id, entry.material_id
        quantity, cost = found.get(spot, (0, 0))
        found[spot] = quantity + entry.quantity, cost + entry.money
    return {spot: amounts for spot, amounts in found.items() if any(amounts)}


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("flow", CostingMethod)
def test_taking_back_puts_everything_where_it_was(flow: CostingMethod, kind: PostingKind) -> None:
    making.use_cost_flow(flow)
    mistakes = make_mistakes()
    before = where_everything_is()
    posting = mistakes[kind]()
    assert posting.kind == kind
    assert where_everything_is() != before
    back = take_back(posting)
    assert (back.kind, back.reverses, back.effective_on) == (PostingKind.REVERSAL, posting, STORY_DAY)
    assert where_everything_is() == before


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_is_taken_back_twice(kind: PostingKind) -> None:
    posting = make_mistakes()[kind]()
    back = take_back(posting)
    with refused(CannotReverse, match="has already been reversed"):
        take_back(posting)
    with refused(CannotReverse, match="is itself a reversal"):
        take_back(back)


def test_a_count_gain_is_taken_back_after_what_used_it() -> None:
    mystery = making.make_material()
    mix = making.make_batch(
        version=making.make_recipe(parts=[(mystery, 1)]), quantity=units(5), confirm_gain=True
    )
    gain = Posting.objects.get(kind=PostingKind.COUNT_GAIN)
    with refused(CannotReverse, match=f"posting {mix.posting_id}"):
        take_back(gain)
    take_back(mix.posting)
    take_back(gain)
    assert set(LotBalance.objects.values_list("quantity", "money")) == {(0, 0)}


def test_reversed_mixes_pours_and_sessions_no_longer_stand() -> None:
    pour = make_pour()
    version = making.make_recipe(parts=[(making.make_lot().material, 1)])
    mix = making.make_batch(version=version, quantity=units(5))
    take_back(pour.session.posting)
    take_back(mix.posting)
    for rows in (Pour.objects, Session.objects, Mix.objects):
        assert not rows.standing().exists()
        assert rows.count() == 1


def test_it_refuses_a_delivery_whose_paint_has_been_used_and_names_what_used_it() -> None:
    lot = making.make_lot()
    used = making.spill(lot=lot, quantity=1)
    delivery = Posting.objects.get(kind=PostingKind.DELIVERY)
    with refused(
        CannotReverse, match=rf"{lot.label} .* has been used or changed since \(posting {used.number}\)"
    ):
        take_back(delivery)
    take_back(used)
    take_back(delivery)
    assert held(lot) == (0, 0)


def test_it_refuses_a_mix_that_has_been_poured() -> None:
    paint = making.make_lot().material
    canvas = making.make_lot(material=making.make_surface(), quantity=units(1)).material
    mix = making.make_batch(version=making.make_recipe(parts=[(paint, 1)]), quantity=units(50))
    making.make_session(pours=[making.pour_of(material=mix.lot.material, quantity=1, surface=canvas)])
    with refused(CannotReverse, match="has been used"):
        take_back(mix.posting)


@pytest.mark.parametrize("gone", ["sold", "spoilt"])
def test_it_refuses_a_session_whose_pour_has_left_work(gone: str) -> None:
    pour = make_pour()
    if gone == "sold":
        left = making.sell(pours=[pour])
    else:
        reason = making.the_reason("ruined")
        left = making.ruin(pours=[pour], reason=reason, submission=making.make_submission())
    with refused(CannotReverse, match=f"{pour.label} has been sold, written off"):
        take_back(pour.session.posting)
    take_back(left)
    take_back(pour.session.posting)
    assert not any(any(amounts) for amounts in in_work([pour.pk]).values())


def test_a_session_whose_cost_was_corrected_since_gives_the_corrected_cost_back() -> None:
    pour = make_pour()
    surface = pour.surface.lots.get()
    before = Entry.objects.filter(lot=surface, quantity__gt=0).get().money
    correct(lot=surface, difference=money(1))
    take_back(pour.session.posting)
    assert held(surface)[1] == before + money(1)
    assert not any(any(amounts) for amounts in in_work([pour.pk]).values())


def test_it_refuses_a_session_whose_failed_pour_has_been_poured_over() -> None:
    failed = make_pour(outcome=Pour.Outcome.FAILED)
    paint = making.make_lot().material
    over = making.make_session(pours=[making.pour_of(material=paint, quantity=units(10), over=failed)])
    with refused(CannotReverse, match=f"{failed.label} has since been poured over"):
        take_back(failed.session.posting)
    take_back(over.posting)
    take_back(failed.session.posting)


def test_it_refuses_to_take_back_finishing_of_sold_work() -> None:
    pour, varnish = make_pour(), making.make_lot().material
    finishing = making.charge(
        pours=[pour],
        materials=[Ingredient(varnish, units(1))],
        role=EntryRole.FINISH,
        submission=making.make_submission(),
    )
    making.sell(pours=[pour])
    with refused(CannotReverse, match="has been sold"):
        take_back(finishing)


def test_a_reversed_correction_is_taken_out_of_where_its_paint_went_since() -> None:
    lot = making.make_lot()
    correction = correct(lot=lot, difference=money(1))
    spilled = making.spill(lot=lot, quantity=units(1_000))
    take_back(correction)
    lost = Entry.objects.filter(reason=making.the_reason("spilled"))
    assert sum(entry.money for entry in lost) == money(10)
    assert held(lot) == (0, 0)
    take_back(spilled)
    assert held(lot) == (units(1_000), money(10))


def test_a_reversal_stands_on_its_posting_s_day_unless_that_day_is_closed() -> None:
    lot = making.make_lot(on=TODAY - 9 * DAY)
    first, second = (making.spill(lot=lot, quantity=1, on=TODAY - days * DAY) for days in (8, 2))
    making.close_books(through=TODAY - 5 * DAY)
    assert take_back(first).effective_on == TODAY
    assert take_back(second).effective_on == TODAY - 2 * DAY


def test_a_reversal_may_be_given_a_later_day_but_not_an_earlier_or_closed_one() -> None:
    lot = making.make_lot(on=TODAY - 9 * DAY)
    mistake = making.spill(lot=lot, quantity=1, on=TODAY - 5 * DAY)
    making.close_books(through=TODAY - 4 * DAY)
    with refused(CannotReverse, match="cannot be reversed before that"):
        take_back(mistake, on=TODAY - 6 * DAY)
    with refused(ClosedPeriod):
        take_back(mistake, on=TODAY - 4 * DAY)
    assert take_back(mistake, on=TODAY - DAY).effective_on == TODAY - DAY


def test_the_note_says_what_was_taken_back() -> None:
    posting = making.spill(lot=making.make_lot(), quantity=1)
    assert take_back(posting, at=AT + timedelta(hours=1)).note == f"Reversal of posting {posting.number}"


class TestUnderWeightedAverage:
    @pytest.fixture(autouse=True)
    def averages(self, db: None) -> None:
        making.use_cost_flow(CostingMethod.AVERAGE)

    def lots(self) -> tuple[Lot, Lot]:
        """100 for 1.00 and 300 for 9.00: 0.025 each once evened."""
        paint = making.make_material()
        cheap = making.make_lot(material=paint, quantity=units(100), cost=money(1))
        dear = making.make_lot(material=paint, quantity=units(300), cost=money(9))
        assert (held(cheap)[1], held(dear)[1]) == (money("2.50"), money("7.50"))
        return cheap, dear

    def test_a_delivery_taken_back_takes_exactly_its_own_cost_along(self) -> None:
        cheap, dear = self.lots()
        take_back(Posting.objects.get(entries__lot=dear, entries__quantity__gt=0, kind=PostingKind.DELIVERY))
        assert (held(cheap), held(dear)) == ((units(100), money(1)), (0, 0))

    @pytest.mark.parametrize("used", [40, 60, 100])
    def test_what_is_left_and_what_was_used_cost_as_if_the_delivery_had_never_come(self, used: int) -> None:
        cheap, dear = self.lots()
        making.spill(lot=cheap, quantity=units(used))
        take_back(Posting.objects.get(entries__lot=dear, entries__quantity__gt=0, kind=PostingKind.DELIVERY))
        assert held(cheap) == (units(100 - used), money("0.01") * (100 - used))
        assert held(dear) == (0, 0)
        lost = Entry.objects.filter(reason=making.the_reason("spilled"))
        assert sum(entry.money for entry in lost) == money("0.01") * used

    def test_paint_put_back_is_evened_again(self) -> None:
        cheap, dear = self.lots()
        spilled = making.spill(lot=dear, quantity=units(300))
        making.make_lot(material=cheap.material, quantity=units(100), cost=money("4.50"))
        take_back(spilled)
        # 2.50 + 4.50 + 7.50 over 500
        assert held(dear) == (units(300), money("8.70"))
        assert held(cheap) == (units(100), money("2.90"))
