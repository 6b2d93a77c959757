"""The ledger itself: its lock, its numbers, its chain, its days, its keys, and that nothing is half-posted."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import pytest

from inventory.errors import ClosedPeriod, InventoryError, KeyReused, LedgerError, NotEnough
from inventory.ledger.accounts import GAIN, OUTSIDE, lot_account
from inventory.ledger.costing_methods import transfers
from inventory.ledger.models import Books, CostingMethod, Entry, EntryRole, Lot, Place, Posting, PostingKind
from inventory.ledger.posting import lock, open_ledger
from inventory.ledger.reversals import reverse
from inventory.materials.models import Material, Supplier
from inventory.purchasing.actions.corrections import CorrectionFacts, correct_delivery
from inventory.purchasing.actions.deliveries import OpeningLine, open_stock
from inventory.recipes.actions.batches import make_mix
from inventory.recipes.actions.mixes import Ingredient, MixFacts
from inventory.recipes.models import RecipeVersion
from inventory.sessions.models import Pour
from inventory.stock.actions.lots import decant, write_off
from inventory.stock.actions.stocktakes import Count, post_stocktake
from studio.accounts.models import User
from tests import making
from tests.days import AT, DAY, TODAY
from tests.inventory.invariants import everything, refused, unchanged
from tests.inventory.posting_seals import posting_hash
from tests.making import held, money, units

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


@dataclass
class Bench:
    """A studio with something of everything, so that every writer has something to do."""

    owner: User
    paint: Material
    lot: Lot
    canvas: Material
    recipe: RecipeVersion
    pour: Pour
    mistake: Posting


@pytest.fixture
def bench(owner: User) -> Bench:
    yesterday = TODAY - DAY
    paint, canvas = making.make_material(name="Harbour blue"), making.make_surface()
    glue = making.make_material()
    delivery = making.make_delivery(
        lines=[
            (paint, units(1_000), money(10)),
            (canvas, units(10), money(35)),
            (glue, units(500), money(4)),
        ],
        on=yesterday,
    )
    pour = making.make_session(
        pours=[making.pour_of(material=paint, quantity=units(100), surface=canvas)], on=yesterday
    ).pours.get()
    lot = delivery.lines.get(lot__material=paint).lot
    return Bench(
        owner=owner,
        paint=paint,
        lot=lot,
        canvas=canvas,
        recipe=making.make_recipe(parts=[(glue, 2), (paint, 1)]),
        pour=pour,
        mistake=making.spill(lot=lot, quantity=units(7), on=yesterday),
    )


# Each writer, told the same way: on a day, under a key, about so much.
Writer = Callable[[Bench, date, str, int], object]


def _deliver(bench: Bench, on: date, key: str, much: int) -> object:
    supplier, _ = Supplier.objects.get_or_create(name="Ropewalk Supplies")
    return making.make_delivery(
        lines=[(bench.paint, much, money(1))], on=on, key=key, supplier=supplier, by=bench.owner
    )


def _open(bench: Bench, on: date, key: str, much: int) -> object:
    return open_stock(
        lines=[OpeningLine(bench.paint, much, money(1))],
        submission=making.make_submission(by=bench.owner, on=on, key=key),
    )


def _mix(bench: Bench, on: date, key: str, much: int) -> object:
    facts = MixFacts(bench.recipe, [Ingredient(bench.paint, much)])
    return make_mix(facts=facts, submission=making.make_submission(by=bench.owner, on=on, key=key))


def _pour(bench: Bench, on: date, key: str, much: int) -> object:
    poured = making.pour_of(material=bench.paint, quantity=much, surface=bench.canvas)
    return making.make_session(pours=[poured], on=on, key=key, by=bench.owner)


def _write_off(bench: Bench, on: date, key: str, much: int) -> object:
    return write_off(
        lot=bench.lot,
        quantity=much,
        reason=making.the_reason(),
        submission=making.make_submission(by=bench.owner, on=on, key=key),
    )


def _decant(bench: Bench, on: date, key: str, much: int) -> object:
    return decant(
        lot=bench.lot, quantity=much, submission=making.make_submission(by=bench.owner, on=on, key=key)
    )


def _count(bench: Bench, on: date, key: str, much: int) -> object:
    return post_stocktake(
        counts=[Count(bench.lot, much)], submission=making.make_submission(by=bench.owner, on=on, key=key)
    )


def _finish(bench: Bench, on: date, key: str, much: int) -> object:
    return making.charge(
        pours=[bench.pour],
        materials=[Ingredient(bench.paint, much)],
        role=EntryRole.FINISH,
        submission=making.make_submission(by=bench.owner, on=on, key=key),
    )


def _spoil(bench: Bench, on: date, key: str, much: int) -> object:
    return making.ruin(
        pours=[bench.pour],
        reason=making.the_reason("ruined"),
        note=f"{much}",
        submission=making.make_submission(by=bench.owner, on=on, key=key),
    )


def _correct(bench: Bench, on: date, key: str, much: int) -> object:
    return correct_delivery(
        delivery=bench.lot.delivery_line.delivery,
        facts=CorrectionFacts("GBP", {"carriage": money(much)}, reason="Late"),
        submission=making.make_submission(by=bench.owner, on=on, key=key),
    )


def _reverse(bench: Bench, on: date, key: str, much: int) -> object:
    return reverse(
        posting=bench.mistake,
        note=f"{much}",
        on=on,
        submission=making.make_submission(by=bench.owner, key=key),
    )


WRITERS: dict[str, Writer] = {
    "delivery": _deliver,
    "opening stock": _open,
    "mix": _mix,
    "session": _pour,
    "write-off": _write_off,
    "decanting": _decant,
    "stocktake": _count,
    "finishing": _finish,
    "work written off": _spoil,
    "cost correction": _correct,
    "reversal": _reverse,
}
every_writer = pytest.mark.parametrize("write", WRITERS.values(), ids=WRITERS.keys())


@every_writer
def test_the_same_key_posts_once_and_gives_the_first_answer_again(write: Writer, bench: Bench) -> None:
    first = write(bench, TODAY, "form-1", units(20))
    with unchanged():
        assert write(bench, TODAY, "form-1", units(20)) == first


@every_writer
def test_a_key_that_comes_back_with_other_contents_is_refused(write: Writer, bench: Bench) -> None:
    write(bench, TODAY, "form-1", units(20))
    last = Posting.objects.count()
    with pytest.raises(KeyReused, match="other contents"):
        write(bench, TODAY, "form-1", units(21))
    assert Posting.objects.count() == last


@every_writer
def test_a_closed_period_takes_no_posting(write: Writer, bench: Bench) -> None:
    making.close_books(through=TODAY - DAY)
    last = everything()["Posting"]
    with pytest.raises(ClosedPeriod, match="9 June 2025"):
        write(bench, TODAY - DAY, "", units(20))
    assert everything()["Posting"] == last
    write(bench, TODAY, "", units(20))


SLIPS = [(TODAY.replace(year=year), f"year {year} |[Uu]se|dated") for year in (26, 1926, 1969)]


@every_writer
@pytest.mark.parametrize(("on", "reason"), [(TODAY + 2 * DAY, "future"), *SLIPS])
def test_no_day_ahead_or_that_can_only_be_a_slip(write: Writer, on: date, reason: str, bench: Bench) -> None:
    last = everything()["Posting"]
    with pytest.raises(InventoryError, match=reason):
        write(bench, on, "", units(20))
    assert everything()["Posting"] == last


def test_a_day_ahead_is_allowed_because_clocks_differ_round_the_world(owner: User) -> None:
    assert (
        making.make_delivery(lines=[(making.make_material(), 1, 0)], on=TODAY + DAY).received_on
        == TODAY + DAY
    )


def test_two_people_may_use_the_same_key(bench: Bench, helper: User) -> None:
    write_off(
        lot=bench.lot,
        quantity=1,
        reason=making.the_reason(),
        submission=making.make_submission(by=bench.owner, key="a"),
    )
    write_off(
        lot=bench.lot,
        quantity=1,
        reason=making.the_reason(),
        submission=making.make_submission(by=helper, key="a"),
    )
    assert Posting.objects.filter(key="a").count() == 2


@pytest.mark.parametrize("changed", ["outcome", "arm", "notes"])
def test_a_retried_session_that_differs_in_any_fact_is_refused(changed: str, bench: Bench) -> None:
    poured = making.pour_of(material=bench.paint, quantity=units(5), surface=bench.canvas)
    making.make_session(pours=[poured], key="evening")
    other: dict[str, Any] = {changed: "failed"}
    with pytest.raises(KeyReused):
        making.make_session(pours=[replace(poured, **other)], key="evening")


def test_postings_are_numbered_without_gaps_and_chained(bench: Bench) -> None:
    numbers = list(Posting.objects.order_by("number").values_list("number", flat=True))
    assert numbers == [1, 2, 3]
    first, second, third = Posting.objects.order_by("number")
    assert first.previous_hash == "0" * 64
    assert (second.previous_hash, third.previous_hash) == (first.hash, second.hash)
    assert Books.objects.get().last_hash == third.hash


def test_a_clock_put_back_never_takes_recorded_time_back(bench: Bench) -> None:
    earlier = making.spill(lot=bench.lot, quantity=1, at=AT)
    later = making.spill(lot=bench.lot, quantity=1, at=AT - timedelta(hours=2))
    assert later.recorded_at == earlier.recorded_at == AT


def test_the_hash_covers_every_fact_of_a_posting_and_its_entries(bench: Bench) -> None:
    posting = Posting.objects.get(number=2)
    entries = list(posting.entries.order_by("line"))
    assert posting_hash(posting, entries) == posting.hash
    for field, other in [
        ("note", "x"),
        ("effective_on", TODAY - 9 * DAY),
        ("kind", "sale"),
        ("reverses_id", 1),
    ]:
        original = getattr(posting, field)
        setattr(posting, field, other)
        assert posting_hash(posting, entries) != posting.hash, field
        setattr(posting, field, original)
    for field in ("line", "material_id", "quantity", "money"):
        original = getattr(entries[0], field)
        setattr(entries[0], field, original + 1)
        assert posting_hash(posting, entries) != posting.hash, field
        setattr(entries[0], field, original)


def test_every_shortfall_is_listed_and_nothing_is_half_posted(bench: Bench) -> None:
    scarlet = making.make_material(name="Scarlet")
    pours = [
        making.pour_of(material=bench.paint, quantity=units(1_000), surface=bench.canvas),
        making.pour_of(material=scarlet, quantity=units("2.5"), surface=bench.canvas),
    ]
    with refused(NotEnough) as refusal:
        making.make_session(pours=pours)
    short = {item.name: (item.needed, item.held, item.short) for item in refusal.value.shortfalls}
    assert short == {
        "Harbour blue": (units(1_000), units(893), units(107)),
        "Scarlet": (units("2.5"), 0, units("2.5")),
    }
    assert "Harbour blue" in str(refusal.value)
    assert "Scarlet" in str(refusal.value)
    assert "confirm" in str(refusal.value)


def test_an_empty_posting_is_refused(owner: User) -> None:
    with open_ledger(making.make_submission(by=owner)) as ledger:
        draft = ledger.draft(PostingKind.WRITE_OFF)
        with pytest.raises(LedgerError, match="nothing to post"):
            draft.seal()


def test_a_move_of_nothing_leaves_no_line(owner: User) -> None:
    lot = making.make_lot()
    with open_ledger(making.make_submission(by=owner)) as ledger:
        draft = ledger.draft(PostingKind.WRITE_OFF)
        draft.move(lot_account(lot.pk), OUTSIDE, lot.material_id, quantity=0, money=0)
        assert draft.movements == []


def test_every_move_has_a_giver_on_the_odd_line_and_a_taker_on_the_next(bench: Bench) -> None:
    for entry in Entry.objects.filter(line__in=[1, 3, 5]):
        taker = Entry.objects.get(posting=entry.posting_id, line=entry.line + 1)
        assert (entry.quantity + taker.quantity, entry.money + taker.money) == (0, 0)
        assert entry.quantity < 0


def test_a_free_material_comes_from_outside_at_its_set_rate(owner: User) -> None:
    water = making.make_water(free_rate=money("2.50"))
    version = making.make_recipe(parts=[(water, 1)])
    mix = making.make_batch(version=version, quantity=units(300))
    assert held(mix.lot) == (units(300), money("0.75"))
    assert Entry.objects.get(posting=mix.posting, place=Place.OUTSIDE).money == -money("0.75")


def test_a_chosen_lot_is_drawn_first_and_then_the_usual_order(owner: User) -> None:
    paint = making.make_material()
    first, second = (making.make_lot(material=paint, quantity=units(10), cost=money(n)) for n in (1, 2))
    version = making.make_recipe(parts=[(paint, 1)])
    facts = MixFacts(version, [Ingredient(paint, units(12), lot=second.pk)])
    mix = make_mix(facts=facts, submission=making.make_submission(by=owner))
    assert (held(second), held(first)) == ((0, 0), (units(8), money("0.80")))
    assert held(mix.lot) == (units(12), money("2.20"))


def test_a_draw_reaches_no_lot_that_came_in_after_its_day(owner: User) -> None:
    paint, canvas = making.make_material(), making.make_surface()
    making.make_delivery(lines=[(canvas, units(2), money(2))], on=TODAY - 3 * DAY)
    making.make_lot(material=paint, on=TODAY)
    early = making.pour_of(material=paint, quantity=units(10), surface=canvas)
    with refused(NotEnough):
        making.make_session(pours=[early], on=TODAY - DAY)
    assert making.make_session(pours=[early], on=TODAY).pours.count() == 1


def test_transfers_are_at_most_one_fewer_than_there_are_lots() -> None:
    changes = {1: -5, 2: 3, 3: 4, 4: -2}
    moves = transfers(changes)
    assert len(moves) == 3
    for lot, change in changes.items():
        assert sum(m for _, to, m in moves if to == lot) - sum(m for of, _, m in moves if of == lot) == change


def test_weighted_average_gives_all_lots_of_a_material_one_unit_cost_after_a_receipt(owner: User) -> None:
    making.use_cost_flow(CostingMethod.AVERAGE)
    paint = making.make_material()
    first = making.make_lot(material=paint, quantity=units(30), cost=money(630))
    second = making.make_lot(material=paint, quantity=units(225), cost=money(6_075))
    # 6,705.00 over 255 units: 788.823529… and 5,916.176470…
    assert held(first) == (units(30), 788_823_529)
    assert held(second) == (units(225), 5_916_176_471)
    evened = Entry.objects.get(posting=2, lot=first)
    assert (evened.quantity, evened.money) == (0, 158_823_529)


def test_first_in_first_out_leaves_every_lot_its_own_cost(owner: User) -> None:
    paint = making.make_material()
    first = making.make_lot(material=paint, quantity=units(30), cost=money(630))
    making.make_lot(material=paint, quantity=units(225), cost=money(6_075))
    assert held(first) == (units(30), money(630))
    assert not Entry.objects.filter(quantity=0).exists()


@pytest.mark.django_db(transaction=True)
def test_the_ledger_is_locked_only_inside_a_transaction() -> None:
    with pytest.raises(LedgerError, match="inside a transaction"):
        lock()


@pytest.mark.django_db(transaction=True)
def test_a_posting_outlives_its_transaction_and_a_refused_one_does_not() -> None:
    lot = making.make_lot(quantity=units(10))
    with refused(NotEnough):
        making.spill(lot=lot, quantity=units(11))
    making.spill(lot=lot, quantity=units(10))
    assert held(lot) == (0, 0)
    assert Posting.objects.count() == 2


def test_a_gain_place_gives_what_a_count_finds(owner: User) -> None:
    lot = making.make_lot(quantity=units(10), cost=money(5))
    post_stocktake(counts=[Count(lot, units(12))], submission=making.make_submission(by=owner))
    entry = Entry.objects.get(place=GAIN.place)
    assert (entry.quantity, entry.money) == (-units(2), -money(1))
