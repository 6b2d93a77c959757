"""A session: mixes, pours, residue, leftovers and sundries in one posting, all of it or nothing."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import pytest

from inventory.errors import NotEnough
from inventory.ledger.models import Entry, EntryRole, Lot, Place, Posting, PostingKind
from inventory.materials.models import Material
from inventory.recipes.actions.mixes import Ingredient, MixFacts, planned
from inventory.recipes.models import Mix, RecipeVersion
from inventory.sessions.actions.sessions import Dose, PourFacts, area_of
from inventory.sessions.models import Pour, Session
from studio.accounts.models import User
from tests import making
from tests.days import DAY, TODAY
from tests.inventory.invariants import refused, unchanged, wrong_places
from tests.making import held, money, units

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


@dataclass
class Bench:
    """White at 0.01 a mL, canvases at 3.50, gloves at 0.20; a colour that is half white, half a clear at 0.03."""

    white: Material
    canvas: Material
    gloves: Material
    colour: RecipeVersion


@pytest.fixture
def bench(owner: User) -> Bench:
    white, clear = making.make_material(name="White"), making.make_material(name="Clear")
    canvas = making.make_surface()
    gloves = making.make_material(kind="sundry", measure="count")
    making.make_delivery(
        lines=[
            (white, units(2_000), money(20)),
            (clear, units(1_000), money(30)),
            (canvas, units(10), money(35)),
            (gloves, units(50), money(10)),
        ],
        on=TODAY - 5 * DAY,
    )
    return Bench(white, canvas, gloves, making.make_recipe(parts=[(white, 1), (clear, 1)]))


def batch(bench: Bench, quantity: int, **facts: object) -> MixFacts:
    return MixFacts(bench.colour, planned(bench.colour, quantity), **facts)  # type: ignore[arg-type]


def onto(bench: Bench, *doses: Dose, **facts: object) -> PourFacts:
    usual: dict[str, object] = {"technique": making.the_technique(), "doses": doses, "surface": bench.canvas}
    return PourFacts(**(usual | facts))  # type: ignore[arg-type]


def costs(pour: Pour) -> dict[str, int]:
    """What a pour holds in work, by why it came there."""
    found: dict[str, int] = {}
    for entry in Entry.objects.filter(pour=pour, place=Place.WORK):
        found[entry.role] = found.get(entry.role, 0) + entry.money
    return found


def test_a_pour_takes_its_surface_and_its_paint(bench: Bench) -> None:
    session = making.make_session(pours=[onto(bench, Dose(units(200), material=bench.white))])
    pour = session.pours.get()
    assert costs(pour) == {EntryRole.SURFACE: money("3.50"), EntryRole.POURED: money(2)}
    assert (pour.number, pour.poured, pour.area) == (1, units(200), 1_116_000)  # 30 × 30 + 4 × 30 × 1.8 cm²
    assert session.posting.kind == PostingKind.SESSION
    assert session.posting.effective_on == TODAY


def test_poured_paint_includes_its_run_off(bench: Bench) -> None:
    pour = onto(bench, Dose(units(200), material=bench.white), run_off=units(60))
    made = making.make_session(pours=[pour]).pours.get()
    assert (made.poured, made.run_off) == (units(200), units(60))
    assert costs(made)[EntryRole.POURED] == money(2)  # 200 mL, not 260


@pytest.mark.parametrize("run_off", [-1, 200_001])
def test_run_off_is_never_more_than_what_was_poured(run_off: int, bench: Bench) -> None:
    pour = onto(bench, Dose(units(200), material=bench.white), run_off=run_off)
    assert wrong_places(lambda: making.make_session(pours=[pour])) == [("pours", 1, "run_off")]


def test_kept_leftovers_stay_on_the_shelf_with_their_cost(bench: Bench) -> None:
    facts = batch(bench, units(400), leftover=Mix.Leftover.KEPT)  # 400 mL cost 2.00 + 6.00
    session = making.make_session(mixes=[facts], pours=[onto(bench, Dose(units(300), mix=0))])
    assert costs(session.pours.get())[EntryRole.POURED] == money(6)
    assert held(session.mixes.get().lot) == (units(100), money(2))


def test_cup_residue_stays_in_the_cost_of_the_pours_by_what_each_took(bench: Bench) -> None:
    facts = batch(bench, units(400), leftover=Mix.Leftover.RESIDUE)
    pours = [onto(bench, Dose(units(100), mix=0)), onto(bench, Dose(units(200), mix=0))]
    session = making.make_session(mixes=[facts], pours=pours)
    small, large = session.pours.order_by("number")
    # 100 mL of residue worth 2.00 over 1 : 2, in thousandths of a mL 33,333 and 66,667
    assert costs(small) == {"surface": money("3.50"), "poured": money(2), "residue": 666_660}
    assert costs(large) == {"surface": money("3.50"), "poured": money(4), "residue": 1_333_340}
    assert held(session.mixes.get().lot) == (0, 0)


def test_a_discarded_rest_is_a_loss_of_its_own(bench: Bench) -> None:
    facts = batch(bench, units(400), leftover=Mix.Leftover.DISCARDED)
    session = making.make_session(mixes=[facts], pours=[onto(bench, Dose(units(300), mix=0))])
    lost = Entry.objects.get(place=Place.LOSS)
    assert (lost.reason, lost.quantity, lost.money) == (making.the_reason("leftover"), units(100), money(2))
    assert costs(session.pours.get()) == {"surface": money("3.50"), "poured": money(6)}


def test_residue_of_a_mix_that_nothing_was_poured_from_is_a_loss(bench: Bench) -> None:
    facts = batch(bench, units(40), leftover=Mix.Leftover.RESIDUE)
    making.make_session(mixes=[facts], pours=[onto(bench, Dose(units(5), material=bench.white))])
    assert Entry.objects.get(place=Place.LOSS).money == money("0.80")


def test_it_refuses_to_pour_more_of_a_mix_than_was_mixed(bench: Bench) -> None:
    pours = [onto(bench, Dose(units(250), mix=0)), onto(bench, Dose(units(151), mix=0))]
    mixes = [batch(bench, units(10)), batch(bench, units(400))]
    pours = [replace(pour, doses=[replace(pour.doses[0], mix=1)]) for pour in pours]
    wrong = wrong_places(lambda: making.make_session(mixes=mixes, pours=pours))
    assert wrong == [("mixes", 2, "ingredients")]


def test_a_mix_measured_short_can_be_poured_only_as_far_as_measured(bench: Bench) -> None:
    facts = batch(bench, units(400), measured=units(390))
    over = [onto(bench, Dose(units(400), mix=0))]
    wrong = wrong_places(lambda: making.make_session(mixes=[facts], pours=over))
    assert wrong == [("mixes", 1, "ingredients")]
    session = making.make_session(mixes=[facts], pours=[onto(bench, Dose(units(390), mix=0))])
    assert costs(session.pours.get())["poured"] == money(8)


def test_each_pour_draws_its_own_mix_even_when_an_older_one_stands_on_the_shelf(bench: Bench) -> None:
    leftover = making.make_batch(version=bench.colour, quantity=units(50), on=TODAY - DAY).lot
    session = making.make_session(
        mixes=[batch(bench, units(100))], pours=[onto(bench, Dose(units(60), mix=0))]
    )
    assert held(leftover) == (units(50), money(1))
    assert held(session.mixes.get().lot) == (units(40), money("0.80"))


def test_a_kept_leftover_can_be_poured_another_day(bench: Bench) -> None:
    leftover = making.make_batch(version=bench.colour, quantity=units(50), on=TODAY - DAY).lot
    pour = onto(bench, Dose(units(50), material=bench.colour.recipe.makes, lot=leftover.pk))
    session = making.make_session(pours=[pour])
    assert costs(session.pours.get())["poured"] == money(1)
    assert held(leftover) == (0, 0)


def test_sundries_are_shared_over_the_pours_exactly(bench: Bench) -> None:
    pours = [onto(bench, Dose(units(10), material=bench.white)) for _ in range(3)]
    session = making.make_session(pours=pours, sundries=[Ingredient(bench.gloves, units(2))])
    shares = [
        Entry.objects.get(pour=pour, role=EntryRole.SUNDRY) for pour in session.pours.order_by("number")
    ]
    assert [entry.quantity for entry in shares] == [667, 667, 666]
    assert sum(entry.money for entry in shares) == money("0.40")


def test_two_mixes_and_paint_from_the_bottle_meet_on_one_surface(bench: Bench) -> None:
    doses = [Dose(units(50), mix=0), Dose(units(25), mix=1), Dose(units(10), material=bench.white)]
    session = making.make_session(
        mixes=[batch(bench, units(100)), batch(bench, units(25))], pours=[onto(bench, *doses)]
    )
    pour = session.pours.get()
    assert pour.poured == units(85)
    assert costs(pour)["poured"] == money(1) + money("0.50") + money("0.10")


def fail(bench: Bench) -> Pour:
    facts = onto(bench, Dose(units(100), material=bench.white), outcome=Pour.Outcome.FAILED)
    return making.make_session(pours=[facts], on=TODAY - DAY).pours.get()


def rework(bench: Bench, failed: Pour) -> PourFacts:
    return onto(bench, Dose(units(50), material=bench.white), surface=None, over=failed)


def test_pouring_over_a_failed_pour_charges_the_surface_once(bench: Bench) -> None:
    failed = fail(bench)
    canvases = Lot.objects.get(material=bench.canvas)
    before = held(canvases)
    second = making.make_session(pours=[rework(bench, failed)]).pours.get()
    assert held(canvases) == before
    assert costs(second) == {EntryRole.POURED: money("0.50")}
    assert (second.over, second.surface, second.area) == (failed, bench.canvas, failed.area)


def test_a_failed_pour_is_poured_over_once(bench: Bench) -> None:
    failed = fail(bench)
    twice = [rework(bench, failed), rework(bench, failed)]
    wrong = wrong_places(lambda: making.make_session(pours=twice))
    assert wrong == [("pours", 1, "over"), ("pours", 2, "over")]
    making.make_session(pours=[rework(bench, failed)])
    assert wrong_places(lambda: making.make_session(pours=twice[:1])) == [("pours", 1, "over")]


def test_a_good_pour_is_not_poured_over(bench: Bench) -> None:
    good = making.make_session(pours=[onto(bench, Dose(1_000, material=bench.white))]).pours.get()
    assert wrong_places(lambda: rework(bench, good)) == ["over"]


def _sold(failed: Pour) -> None:
    making.sell(pours=[failed])


def _reversed(failed: Pour) -> None:
    making.take_back(failed.session.posting)


@pytest.mark.parametrize("gone", [_sold, _reversed])
def test_a_surface_that_left_the_studio_s_work_is_not_poured_over(
    gone: Callable[[Pour], None], bench: Bench
) -> None:
    failed = fail(bench)
    gone(failed)
    pours = [onto(bench, Dose(1_000, material=bench.white)), rework(bench, failed)]
    assert wrong_places(lambda: making.make_session(pours=pours)) == [("pours", 2, "over")]


def test_confirming_posts_one_gain_for_every_shortfall_and_then_the_session(bench: Bench) -> None:
    pours = [onto(bench, Dose(units(500), material=bench.white)) for _ in range(12)]
    with refused(NotEnough):
        making.make_session(pours=pours)
    session = making.make_session(pours=pours, confirm_gain=True)
    gain = Posting.objects.get(kind=PostingKind.COUNT_GAIN)
    gained = {e.material: (-e.quantity, -e.money) for e in gain.entries.filter(place=Place.GAIN)}
    assert gained == {bench.white: (units(4_000), money(40)), bench.canvas: (units(2), money(7))}
    assert [sum(costs(pour).values()) for pour in session.pours.all()] == [money("8.50")] * 12


def test_a_retried_confirmation_posts_no_second_gain(bench: Bench) -> None:
    pours = [onto(bench, Dose(units(2_100), material=bench.white))]
    first = making.make_session(pours=pours, confirm_gain=True, key="evening")
    with unchanged():
        assert making.make_session(pours=pours, confirm_gain=True, key="evening") == first
    assert Posting.objects.filter(kind=PostingKind.COUNT_GAIN).count() == 1


def test_a_surface_without_a_size_asks_for_one() -> None:
    slate = Material(name="Slate", kind="surface", measure="count")
    assert wrong_places(lambda: area_of(slate)) == ["surface"]


def test_a_round_board_is_poured_over_its_round_face(bench: Bench) -> None:
    board = making.make_surface(height=20_000, width=20_000, depth=None, is_round=True)
    assert area_of(board) == 314_159  # π × 10² = 314.159265… cm²


Change = Callable[[Bench, PourFacts], dict[str, Any]]
NONSENSE: dict[str, tuple[object, Change]] = {
    "nothing": (None, lambda bench, pour: {}),
    "sundries without a pour": (
        "sundries",
        lambda bench, pour: {"mixes": [batch(bench, 1_000)], "sundries": [Ingredient(bench.gloves, 1)]},
    ),
    "no sundry": (
        ("sundries", 2, "quantity"),
        lambda bench, pour: {
            "pours": [pour],
            "sundries": making.ingredients((bench.gloves, 1), (bench.gloves, 0)),
        },
    ),
    "no surface": ("surface", lambda bench, pour: {"pours": [replace(pour, surface=None)]}),
    "no paint": ("doses", lambda bench, pour: {"pours": [pour, replace(pour, doses=[])]}),
    "less than none": ("quantity", lambda bench, pour: {"pours": [replace(pour, doses=[Dose(0, mix=0)])]}),
    "another mix": (
        ("pours", 2, "doses"),
        lambda bench, pour: {
            "mixes": [batch(bench, 1_000)],
            "pours": [pour, replace(pour, doses=[Dose(1, mix=1)])],
        },
    ),
    "paint from nowhere": ("mix", lambda bench, pour: {"pours": [replace(pour, doses=[Dose(5)])]}),
    "a bottle for a mix": (
        "lot",
        lambda bench, pour: {"pours": [replace(pour, doses=[Dose(5, mix=0, lot=1)])]},
    ),
}


@pytest.mark.parametrize(("place", "change"), NONSENSE.values(), ids=NONSENSE.keys())
def test_it_refuses_what_makes_no_sense_and_says_where(place: object, change: Change, bench: Bench) -> None:
    pour = onto(bench, Dose(1_000, material=bench.white))
    assert wrong_places(lambda: making.make_session(**change(bench, pour))) == [place]


def test_a_retried_session_gives_the_same_session(bench: Bench) -> None:
    facts = [onto(bench, Dose(1_000, material=bench.white))]
    first = making.make_session(pours=facts, key="evening")
    assert making.make_session(pours=facts, key="evening") == first
    assert Session.objects.count() == 1
