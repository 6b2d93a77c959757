"""Cost sheets: every line to its lot, pour and minute; materials, rework, labour and overhead."""

import pytest

from costing.cost_sheets.queries import cost_sheet, cost_summaries
from costing.pieces.actions.pieces import WorkFacts, add_labour, finish_piece, pack_piece
from costing.pieces.calculations import State
from costing.pieces.queries import pours_of
from inventory.materials.models import Kind
from inventory.recipes.actions.mixes import MixFacts, planned
from inventory.sessions.actions.sessions import Dose, PourFacts
from inventory.sessions.models import Session
from inventory.sessions.queries.mixing_time import minutes_not_charged
from inventory.stock.actions.lots import decant
from studio.values.dated import Held
from tests import making
from tests.costing.reading_sheets import tree
from tests.costing.stories import (
    LATER,
    POURED_ON,
    a_piece,
    poured_over,
    reverse_session_of,
    two_ring_pours,
    use_rates,
)
from tests.days import DAY, june
from tests.making import (
    ingredients,
    make_delivery,
    make_lot,
    make_material,
    make_rates,
    make_recipe,
    make_session,
    make_surface,
    money,
    pour_of,
    the_reason,
    the_technique,
    units,
)

pytestmark = pytest.mark.django_db


# Materials


def test_each_line_names_its_lot_its_pour_and_its_posting() -> None:
    piece = a_piece()
    surface, paint = cost_sheet(piece).lines
    pour = pours_of(piece)[0]
    assert (surface.label, surface.quantity, surface.money) == ("Surface", 1_000, money("3.50"))
    assert (paint.label, paint.quantity, paint.money) == ("Poured", 200_000, money("2.00"))
    for line in (surface, paint):
        assert (line.pour, line.posting.pk) == (pour, pour.session.posting_id)
        assert line.posting.effective_on == POURED_ON
        assert len(line.lots) == 1
        assert line.lots[0].startswith("L")


def test_a_draw_across_two_lots_is_one_line_with_both_lots() -> None:
    paint, canvas = make_material(), make_surface()
    make_delivery(
        lines=[(paint, 100_000, money(1)), (paint, 100_000, money(2)), (canvas, 1_000, money("3.50"))],
        on=POURED_ON,
    )
    session = make_session(pours=[pour_of(material=paint, quantity=150_000, surface=canvas)], on=POURED_ON)
    _, poured = cost_sheet(a_piece(pours=session.pours.all())).lines
    assert (poured.quantity, poured.money) == (150_000, money(2))
    assert [(source.quantity, source.money) for source in poured.sources] == [
        (100_000, money(1)), (50_000, money(1)),
    ]  # fmt: skip


def test_a_mixed_colour_is_broken_down_to_what_was_bought() -> None:
    first, _ = two_ring_pours()
    sheet = cost_sheet(a_piece(pours=[first]))
    assert [line.label for line in sheet.lines] == ["Surface", "Poured", "Cup residue"]
    poured = sheet.lines[1]
    (mixed,) = poured.sources
    paint, medium = mixed.through
    assert (paint.quantity, medium.quantity) == (100_000, 50_000)  # two parts to one of 150 mL
    assert paint.money == money("1.00")  # 100 mL at 10.00 a litre
    glue, water = medium.through
    assert (glue.quantity, water.quantity) == (33_333, 16_667)
    assert (water.lot, water.money) == (None, 0)
    assert glue.money == medium.money


def test_every_breakdown_sums_to_its_line_to_the_last_millionth() -> None:
    for pour in two_ring_pours():
        for line in cost_sheet(a_piece(pours=[pour], title=pour.label)).lines:
            assert sum(source.money for source in line.sources) == line.money
            for source in tree(line.sources):
                assert sum(part.money for part in source.through) == source.money


def test_the_breakdown_goes_through_a_decanted_jar() -> None:
    paint, medium, canvas = make_material(), make_material(), make_surface()
    make_delivery(
        lines=[(paint, 100_000, money(3)), (medium, 100_000, money(1)), (canvas, 1_000, money(2))],
        on=POURED_ON,
    )
    colour = making.make_recipe(parts=[(paint, 1), (medium, 1)])
    mix = making.make_batch(version=colour, quantity=100_000, on=POURED_ON)
    jar = decant(lot=mix.lot, quantity=40_000, submission=making.make_submission(on=POURED_ON))
    facts = pour_of(material=colour.recipe.makes, quantity=20_000, surface=canvas)
    session = make_session(pours=[facts], on=POURED_ON)
    poured = cost_sheet(a_piece(pours=session.pours.all())).lines[1]
    assert poured.lots in [(mix.lot.label,), (jar.label,)]
    (mixed,) = poured.sources
    assert [(part.quantity, part.money) for part in mixed.through] == [
        (10_000, money("0.30")), (10_000, money("0.10")),
    ]  # fmt: skip


def test_finishing_and_packing_stand_on_the_sheet_and_what_was_taken_back_does_not() -> None:
    varnish = make_lot(
        material=make_material(kind=Kind.FINISH), quantity=100_000, cost=money(5), on=POURED_ON
    ).material
    piece = a_piece(state=State.DRY)
    submission = making.make_submission(on=LATER)
    finish_piece(piece=piece, facts=WorkFacts(ingredients((varnish, 20_000))), submission=submission)
    pack_piece(piece=piece, facts=WorkFacts(ingredients((varnish, 10_000))), submission=submission)
    sheet = cost_sheet(piece)
    assert [(line.label, line.money) for line in sheet.lines[2:]] == [
        ("Finishing", money(1)), ("Packing", money("0.50")),
    ]  # fmt: skip
    making.take_back(sheet.lines[-1].posting)
    assert [line.label for line in cost_sheet(piece).lines] == ["Surface", "Poured", "Finishing"]


def test_a_reversed_session_leaves_an_empty_sheet() -> None:
    use_rates()
    first, _ = two_ring_pours()
    piece = a_piece(pours=[first])
    reverse_session_of(piece)
    sheet = cost_sheet(piece)
    assert (sheet.lines, sheet.labour, sheet.overhead, sheet.summary.whole) == ((), (), (), 0)


# Rework


def test_the_pour_beneath_is_rework_once_and_its_surface_is_charged_once() -> None:
    failed, over = poured_over()
    sheet = cost_sheet(a_piece(pours=[over]))
    assert [(line.pour.label, line.label, line.money) for line in sheet.lines] == [
        (over.label, "Poured", money(1)), (failed.label, "Surface", money("3.50")),
    ]  # fmt: skip
    assert [(line.pour.label, line.label, line.money) for line in sheet.rework] == [
        (failed.label, "Poured", money(2))
    ]
    assert (sheet.rework_cost, sheet.summary.materials) == (money(2), money("6.50"))
    assert sheet.area == over.area  # the same surface is not counted twice


def test_a_correction_of_the_surface_beneath_is_no_rework() -> None:
    failed, over = poured_over()
    canvas = failed.surface.lots.get()
    making.correct(lot=canvas, difference=money("0.40"))
    sheet = cost_sheet(a_piece(pours=[over]))
    assert [(line.label, line.money) for line in sheet.lines if line.is_correction] == [
        ("Cost corrected", money("0.40"))
    ]
    assert sheet.rework_cost == money(2)


def test_a_pour_beneath_that_was_written_off_by_itself_is_a_loss_and_no_rework() -> None:
    """Abnormal waste is no cost of the piece: IAS 2 paragraph 16(a)."""
    failed, over = poured_over()
    piece = a_piece(pours=[over])
    making.ruin(pours=[failed], reason=the_reason("ruined"), submission=making.make_submission(on=june(3)))
    sheet = cost_sheet(piece)
    assert (sheet.rework, sheet.summary.materials) == ((), money(1))
    assert cost_summaries([piece])[piece.pk] == sheet.summary


# Labour and overhead


def test_a_piece_costs_materials_labour_and_overhead() -> None:
    """Job 454: materials 10,750.00, labour 384.00, overhead at 446,546 per 250,000 of labour 685.89, whole 11,819.89.

    Figures from memory of a job-costing exercise; a job cost sheet totals the three (OpenStax, Principles of
    Accounting, Volume 2: Managerial Accounting, section 4.5).
    """
    use_rates(wage="384.00", overhead="685.894656")
    paint, canvas = make_material(), make_surface()
    make_delivery(lines=[(paint, 1_000_000, money(10_000)), (canvas, 1_000, money(750))], on=POURED_ON)
    session = make_session(
        pours=[pour_of(material=paint, quantity=1_000_000, surface=canvas)], minutes=60, on=POURED_ON
    )
    sheet = cost_sheet(a_piece(pours=session.pours.all()))
    summary = sheet.summary
    assert (summary.materials, summary.labour) == (money(10_750), money(384))
    assert summary.whole == money("11819.894656")
    assert sum(sheet.printed("GBP")) == money("11819.89")
    assert summary.per_cm2 == 10_591_303  # 11,819.894656 over 1,116 cm² (CALC)


def test_session_minutes_are_shared_alike_and_sum_to_the_sessions_whole() -> None:
    """100 minutes at 12.00 and 3.01 over three pours: neither money nor seconds divide evenly by three."""
    use_rates(wage="12.00", overhead="3.01")
    paint, canvas = make_material(), make_surface()
    make_delivery(lines=[(paint, 1_000_000, money(10)), (canvas, 3_000, money(10))], on=POURED_ON)
    session = make_session(
        pours=[pour_of(material=paint, quantity=1_000, surface=canvas)] * 3, minutes=100, on=POURED_ON
    )
    sheets = [cost_sheet(a_piece(pours=[pour], title=pour.label)) for pour in session.pours.all()]
    assert [sheet.labour[0].money for sheet in sheets] == [6_666_667, 6_666_667, 6_666_666]
    assert sum(sheet.summary.labour for sheet in sheets) == money(20)
    assert sum(sheet.summary.overhead for sheet in sheets) == 5_016_667
    assert sum(sheet.labour[0].seconds for sheet in sheets) == 6_000


def test_the_time_of_a_session_that_only_mixed_follows_its_colour_by_volume() -> None:
    """40 minutes mixed 400 mL: 100 mL poured straight, 100 mL through another mix of which half was poured."""
    use_rates(wage="12.00", overhead="3.00")
    paint, canvas, white = make_material(), make_surface(), make_material()
    lines = [(paint, units(1_000), money(10)), (canvas, units(3), money(3)), (white, units(1_000), money(1))]
    make_delivery(lines=lines, on=POURED_ON)
    version = make_recipe(parts=[(paint, 1)])
    mixed = make_session(mixes=[MixFacts(version, planned(version, units(400)))], minutes=40, on=POURED_ON)
    colour = version.recipe.makes
    tint = make_recipe(parts=[(colour, 1), (white, 1)])
    second = MixFacts(tint, planned(tint, units(200)))  # 100 mL of the colour
    poured = make_session(
        mixes=[second],
        pours=[
            pour_of(material=colour, quantity=units(100), surface=canvas),
            PourFacts(technique=the_technique(), doses=[Dose(units(100), mix=0)], surface=canvas),
        ],
        on=POURED_ON,
    )
    straight, through = (
        cost_sheet(a_piece(pours=[pour], title=pour.label)) for pour in poured.pours.order_by("number")
    )
    assert [line.seconds for line in straight.labour] == [600]  # a quarter of 40 minutes
    assert [line.seconds for line in through.labour] == [300]  # an eighth
    assert (straight.summary.labour, through.summary.labour) == (money(2), money(1))
    assert (straight.summary.overhead, through.summary.overhead) == (money("0.50"), money("0.25"))
    assert minutes_not_charged(mixed) == 25
    assert minutes_not_charged(poured) is None


def test_the_time_of_the_pour_beneath_is_rework_too() -> None:
    use_rates()
    failed, over = poured_over(minutes=30)
    Session.objects.filter(pk=failed.session_id).update(minutes=20)
    sheet = cost_sheet(a_piece(pours=[over]))
    assert [(line.pour, line.money, line.is_rework) for line in sheet.labour] == [
        (over.label, money(6), False), (failed.label, money(4), True),
    ]  # fmt: skip
    assert sheet.rework_cost == money(7)  # 2.00 of paint, 4.00 of labour, 1.00 of overhead


def test_minutes_worked_since_stand_with_their_own_rates() -> None:
    use_rates(wage="12.00", overhead="3.00")
    piece = a_piece(state=State.DRY)
    add_labour(piece=piece, work="Sanding", minutes=25, submission=making.make_submission(on=LATER))
    make_rates(LATER + DAY, wage_per_hour=money(99), overhead_per_hour=money(99))
    sheet = cost_sheet(piece)
    assert [(line.work, line.seconds, line.rate, line.money) for line in sheet.labour] == [
        ("Sanding", 1_500, Held(money(12), None), money(5)),
    ]  # fmt: skip
    assert [line.money for line in sheet.overhead] == [money("1.25")]
