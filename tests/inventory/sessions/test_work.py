"""Pours after their session: finished and packed, sold, written off."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.errors import InventoryError, NotEnough
from inventory.ledger.balances import in_work
from inventory.ledger.models import Entry, EntryRole, Place, Posting, PostingKind
from inventory.recipes.actions.mixes import Ingredient
from inventory.sessions.actions.work import with_poured_over
from inventory.sessions.models import Pour
from tests import making
from tests.days import june
from tests.inventory.invariants import refused
from tests.making import correct, held, make_pour, money, units

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


def worth(pour: Pour, place: str = Place.WORK) -> int:
    """What a pour's paint and surface come to in a place."""
    return sum(Entry.objects.filter(pour=pour, place=place).values_list("money", flat=True))


def finish(
    *pours: Pour, items: list[Ingredient], confirm_gain: bool = False, role: EntryRole = EntryRole.FINISH
) -> Posting:
    return making.charge(
        pours=pours,
        materials=items,
        role=role,
        confirm_gain=confirm_gain,
        submission=making.make_submission(),
    )


def write_off_piece(*pours: Pour, code: str = "ruined") -> Posting:
    return making.ruin(pours=pours, reason=making.the_reason(code), submission=making.make_submission())


def pour_over(failed: Pour) -> Pour:
    paint = making.make_lot(cost=money(10)).material
    facts = making.pour_of(material=paint, quantity=units(100), over=failed)
    return making.make_session(pours=[facts]).pours.get()


def test_varnish_is_shared_over_the_pours_by_area() -> None:
    varnish = making.make_lot(material=making.make_material(kind="finish"), cost=money(20)).material
    small, large = make_pour(), make_pour()
    Pour.objects.filter(pk=small.pk).update(area=300_000)
    Pour.objects.filter(pk=large.pk).update(area=900_000)
    small.refresh_from_db()
    large.refresh_from_db()
    posting = finish(small, large, items=[Ingredient(varnish, units(100))])
    taken = {e.pour: (e.quantity, e.money, e.role) for e in posting.entries.filter(place=Place.WORK)}
    assert taken == {
        small: (units(25), money("0.50"), EntryRole.FINISH),
        large: (units(75), money("1.50"), EntryRole.FINISH),
    }
    assert worth(large) == money("5.50") + money("1.50")


def test_packing_one_hook_over_three_pours_adds_up() -> None:
    hook = making.make_lot(
        material=making.make_material(kind="packaging", measure="count"), quantity=units(1), cost=money(1)
    )
    pours = [make_pour() for _ in range(3)]
    finish(*pours, items=[Ingredient(hook.material, units(1))], role=EntryRole.PACKING)
    assert held(hook) == (0, 0)
    assert sum(worth(pour) for pour in pours) == 3 * money("5.50") + money(1)


def test_finishing_lists_what_is_short_or_takes_it_as_a_confirmed_gain() -> None:
    varnish, pour = making.make_material(name="Satin", kind="finish"), make_pour()
    with refused(NotEnough, match="Satin"):
        finish(pour, items=[Ingredient(varnish, units(10))])
    finish(pour, items=[Ingredient(varnish, units(10))], confirm_gain=True)
    assert in_work([pour.pk])[pour.pk, varnish.pk] == (units(10), 0)


def test_finishing_needs_a_pour_a_material_and_an_amount() -> None:
    pour, varnish = make_pour(), making.make_lot().material
    with refused(InventoryError, match="at least one pour"):
        finish(items=[Ingredient(varnish, 1)])
    with refused(InventoryError, match="at least one pour"):
        finish(pour, items=[])
    with refused(InventoryError, match="above zero"):
        finish(pour, items=[Ingredient(varnish, 0)])


def test_sold_work_takes_all_its_cost_to_sold() -> None:
    pour = make_pour()
    posting = making.sell(pours=[pour])
    assert posting.kind == PostingKind.SALE
    assert (worth(pour), worth(pour, Place.SOLD)) == (0, money("5.50"))
    assert not any(any(amounts) for amounts in in_work([pour.pk]).values())


def test_work_is_sold_once() -> None:
    pour = make_pour()
    making.sell(pours=[pour])
    with refused(InventoryError, match=f"{pour.label}: already sold"):
        making.sell(pours=[pour])
    with refused(InventoryError, match="already sold"):
        write_off_piece(pour)
    varnish = making.make_lot().material
    with refused(InventoryError, match="already sold"):
        finish(pour, items=[Ingredient(varnish, 1)])


def test_the_same_pour_named_twice_is_sold_once() -> None:
    pour = make_pour()
    making.sell(pours=[pour, pour])
    assert worth(pour, Place.SOLD) == money("5.50")


def test_a_ruined_pour_is_a_loss_of_its_own() -> None:
    pour = make_pour()
    posting = write_off_piece(pour)
    assert posting.kind == PostingKind.PIECE_WRITE_OFF
    lost = posting.entries.filter(place=Place.LOSS, reason__code="ruined")
    assert sum(entry.money for entry in lost) == money("5.50")
    assert worth(pour) == 0


def test_a_pour_of_a_reversed_session_cannot_be_sold() -> None:
    pour = make_pour()
    making.take_back(pour.session.posting)
    with refused(InventoryError, match="its session was reversed"):
        making.sell(pours=[pour])


def test_a_reworked_piece_brings_the_cost_of_every_layer_beneath() -> None:
    bottom = make_pour(outcome=Pour.Outcome.FAILED)
    middle = pour_over(bottom)
    Pour.objects.filter(pk=middle.pk).update(outcome=Pour.Outcome.FAILED)
    middle.refresh_from_db()
    top = pour_over(middle)
    layers = with_poured_over([top])
    assert layers == [top, middle, bottom]
    assert with_poured_over([top, bottom]) == [top, bottom, middle]
    making.sell(pours=layers)
    assert sum(worth(pour, Place.SOLD) for pour in layers) == money("5.50") + 2 * money(1)


def test_a_returned_piece_brings_later_corrections_of_its_cost_back() -> None:
    pour = make_pour()
    canvas = pour.surface.lots.get()
    sale = making.sell(pours=[pour])
    correct(lot=canvas, difference=money("0.25"))
    assert worth(pour, Place.SOLD) == money("5.75")
    making.take_back(sale)
    assert (worth(pour), worth(pour, Place.SOLD)) == (money("5.75"), 0)


def test_finishing_asks_as_many_queries_for_many_pours_as_for_few() -> None:
    varnish = making.make_lot(material=making.make_material(kind="finish"), cost=money(20)).material
    pours = [make_pour() for _ in range(6)]
    counts = []
    for some in (pours[:2], pours):
        fresh = [Pour.objects.get(pk=pour.pk) for pour in some]
        with CaptureQueriesContext(connection) as queries:
            finish(*fresh, items=[Ingredient(varnish, units(12))])
        counts.append(len(queries))
    assert counts[0] == counts[1]


def test_nothing_is_added_to_a_pour_before_it_was_poured() -> None:
    varnish = making.make_lot(
        material=making.make_material(kind="finish"), cost=money(20), on=june(1)
    ).material
    pour = make_pour(on=june(9))
    with refused(InventoryError, match="poured on 9 June 2025"):
        making.charge(
            pours=[pour],
            materials=[Ingredient(varnish, units(1))],
            role=EntryRole.FINISH,
            submission=making.make_submission(on=june(8)),
        )
