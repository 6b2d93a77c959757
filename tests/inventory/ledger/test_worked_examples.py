"""A week at an invented studio, from a real-shaped delivery to the cost of every pour, checked by hand arithmetic.

Nothing here calls the project's own sums: each figure is written out step by step in whole millionths or exact
fractions, and the ledger has to agree to the last millionth.
"""

from dataclasses import dataclass
from fractions import Fraction

import pytest

from inventory.ledger.models import Entry, LotBalance, Place
from inventory.materials.models import Material
from inventory.purchasing.actions.deliveries import receive_delivery
from inventory.purchasing.actions.delivery_facts import LineFacts
from inventory.purchasing.models import Delivery
from inventory.recipes.actions.mixes import Ingredient, MixFacts, planned
from inventory.recipes.models import Mix, RecipeVersion
from inventory.sessions.actions.sessions import Dose, PourFacts
from inventory.sessions.models import Pour, Session
from inventory.stock.actions.lots import write_off
from studio.accounts.models import User
from studio.values.quantities import read_quantity
from studio.values.units import FluidSystem, Measure
from tests import making
from tests.days import june
from tests.making import money, units

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]

# name, kind, measure, quantity as the invoice writes it, line price: every unit a real list mixes.
INVOICE = [
    ("Tern white", "paint", "volume", "1 l", "14.80"),
    ("Deep harbour", "paint", "volume", "500 ml", "9.95"),
    ("Kelp green", "paint", "volume", "500 ml", "9.95"),
    ("Buoy red", "paint", "volume", "16 US fl oz", "11.40"),
    ("Lamp black", "paint", "volume", "8 US fl oz", "6.25"),
    ("Sandbar ochre", "paint", "volume", "250 ml", "5.60"),
    ("Gannet yellow", "paint", "volume", "250 ml", "5.60"),
    ("Dusk violet", "paint", "volume", "4 US fl oz", "4.10"),
    ("Pewter", "paint", "volume", "120 ml", "7.20"),
    ("Copper leaf tint", "paint", "volume", "59 ml", "6.75"),
    ("Pearl mist", "paint", "volume", "118 ml", "8.30"),
    ("School glue", "medium", "volume", "5 l", "18.50"),
    ("Pouring medium", "medium", "volume", "1 US gal", "46.00"),
    ("Flow improver", "medium", "volume", "237 ml", "8.90"),
    ("Gloss gel", "medium", "mass", "2 lb", "17.35"),
    ("Chalk filler", "additive", "mass", "1.5 kg", "4.20"),
    ("Silicone oil", "additive", "volume", "100 ml", "5.15"),
    ("Mica flakes", "additive", "mass", "1 oz", "3.85"),
    ("Round board 30", "surface", "count", "6 each", "21.60"),
    ("Canvas 20 × 20", "surface", "count", "10 each", "24.50"),
    ("Canvas 40 × 50", "surface", "count", "3 each", "22.35"),
    ("Slate coaster", "surface", "count", "24 each", "19.20"),
    ("Gloss varnish", "finish", "volume", "1 UK pt", "13.70"),
    ("Casting resin", "finish", "mass", "750 g", "24.90"),
    ("Gloves", "sundry", "count", "100 each", "7.80"),
    ("Paper towel", "sundry", "count", "12 each", "9.60"),
    ("Stir sticks", "sundry", "count", "50 each", "2.40"),
    ("Cups", "sundry", "count", "50 each", "5.50"),
    ("Hanging wire", "packaging", "length", "25 m", "3.95"),
    ("Board boxes", "packaging", "count", "20 each", "16.40"),
    ("Tissue", "packaging", "area", "4 m2", "2.25"),
]
# Thousandths of mL, g, each, cm or cm², by hand from the exact definitions: US fl oz 29.573 529 562 5 mL, US gallon
# 3,785.411 784 mL, UK pint 568.261 25 mL, avoirdupois pound 453.592 37 g and its sixteenth (NIST SP 811 Appendix
# B.8; Weights and Measures Act 1985, Schedule 1).
IN_THOUSANDTHS = {
    "1 l": 1_000_000,
    "500 ml": 500_000,
    "16 US fl oz": 473_176,
    "8 US fl oz": 236_588,
    "4 US fl oz": 118_294,
    "5 l": 5_000_000,
    "1 US gal": 3_785_412,
    "2 lb": 907_185,
    "1.5 kg": 1_500_000,
    "1 oz": 28_350,
    "6 each": 6_000,
    "1 UK pt": 568_261,
    "25 m": 2_500_000,
    "4 m2": 40_000_000,
}
CARRIAGE = 12_950_000


@dataclass
class Week:
    """The studio after its delivery."""

    delivery: Delivery
    materials: dict[str, Material]

    def landed(self, name: str) -> int:
        landed: int = self.delivery.lines.get(lot__material=self.materials[name]).landed
        return landed

    def left(self, name: str) -> tuple[int, int]:
        balance = LotBalance.objects.get(lot__material=self.materials[name])
        return balance.quantity, balance.money


@pytest.fixture
def week(owner: User) -> Week:
    materials, lines = {}, []
    for name, kind, measure, typed, price in INVOICE:
        surface = {"surface": True} if kind == "surface" else {"kind": kind, "measure": measure}
        material = making.make_material(name=name, **surface)
        reading = read_quantity(typed, fluid_system=FluidSystem.US, expected=Measure(measure))
        materials[name] = material
        lines.append(LineFacts(material, reading.quantity.amount, money(price), typed=typed))
    supplier = making.make_supplier(name="Ropewalk Supplies")
    facts = making.delivery_facts(lines=lines, supplier=supplier, received_on=june(1), carriage=CARRIAGE)
    return Week(receive_delivery(facts=facts, submission=making.make_submission(by=owner)), materials)


def half_up(amount: Fraction) -> int:
    whole, rest = divmod(amount.numerator, amount.denominator)
    return whole + (2 * rest >= amount.denominator)


def test_a_list_of_thirty_one_lines_in_mixed_units_lands_to_the_last_millionth(week: Week) -> None:
    lines = list(week.delivery.lines.order_by("pk"))
    for line, (_, _, _, typed, price) in zip(lines, INVOICE, strict=True):
        assert line.price == money(price)
        if typed in IN_THOUSANDTHS:
            assert line.quantity == IN_THOUSANDTHS[typed], typed
    # The prices come to 368.00, carriage to 12.95: each line bears price × 12.95/368.00, cut down to whole
    # millionths, and the millionths left over go to the lines with the largest fractions cut off.
    goods = 368_000_000
    assert sum(line.price for line in lines) == goods
    quotas = [Fraction(CARRIAGE * line.price, goods) for line in lines]
    cut = [quota.numerator // quota.denominator for quota in quotas]
    over = CARRIAGE - sum(cut)
    assert 0 < over < len(lines)
    largest = sorted(range(len(lines)), key=lambda place: quotas[place] - cut[place], reverse=True)[:over]
    for place, line in enumerate(lines):
        assert line.landed == line.price + cut[place] + (place in largest)
    assert sum(line.landed for line in lines) == 380_950_000


def test_the_first_line_by_hand(week: Week) -> None:
    # 14.80 × 12.95 ÷ 368.00 = 0.520815217…
    assert week.landed("Tern white") == 14_800_000 + 520_815


def make_medium(week: Week, owner: User) -> Mix:
    """300 mL of home-made medium: 2 parts glue to 1 of water (common practice, no source)."""
    water = making.make_water(name="Water")
    makes = making.make_material(name="House medium", kind="medium", water_share=333_333)
    version = making.make_recipe(parts=[(week.materials["School glue"], 2), (water, 1)], makes=makes)
    return making.make_batch(version=version, quantity=units(300), on=june(2))


def test_three_hundred_of_home_made_medium_takes_two_hundred_and_one_hundred(week: Week, owner: User) -> None:
    medium = make_medium(week, owner)
    glue = week.landed("School glue")  # 5 litres; 200 mL of them are one twenty-fifth
    cost = half_up(Fraction(glue, 25))
    assert making.held(medium.lot) == (300_000, cost)
    assert week.left("School glue") == (4_800_000, glue - cost)
    water = Entry.objects.get(material__name="Water", place=Place.OUTSIDE)
    assert (water.quantity, water.money) == (-100_000, 0)


def make_colour(week: Week, medium: Mix, paint: str) -> RecipeVersion:
    """One part of paint to two of house medium."""
    makes = making.make_material(name=f"{paint}, ready to pour", kind="mix", has_density=False)
    return making.make_recipe(parts=[(week.materials[paint], 1), (medium.lot.material, 2)], makes=makes)


def ready(version: RecipeVersion, quantity: int, leftover: str) -> MixFacts:
    return MixFacts(version, planned(version, quantity), leftover=leftover)


def hold_the_session(week: Week, owner: User) -> Session:
    """Three colours on two boards that differ in nothing but the order of the colours, gloves for both."""
    medium = make_medium(week, owner)
    white, blue, red = (make_colour(week, medium, p) for p in ("Tern white", "Deep harbour", "Buoy red"))
    board = week.materials["Round board 30"]
    white_first = [Dose(100_000, mix=0), Dose(50_000, mix=1), Dose(20_000, mix=2)]
    white_last = [Dose(80_000, mix=0), Dose(60_000, mix=1), Dose(30_000, mix=2)]
    ring = making.the_technique("Ring pour")
    return making.make_session(
        mixes=[
            ready(white, units(210), Mix.Leftover.RESIDUE),  # 70 white + 140 medium; 30 stay in the cup
            ready(blue, units(120), Mix.Leftover.KEPT),  # 40 blue + 80 medium; 10 are kept
            ready(red, units(60), Mix.Leftover.DISCARDED),  # 20 red + 40 medium; 10 are thrown away
        ],
        pours=[
            PourFacts(technique=ring, doses=white_first, surface=board, arm="white first", run_off=units(40)),
            PourFacts(technique=ring, doses=white_last, surface=board, arm="white last", run_off=units(35)),
        ],
        sundries=[Ingredient(week.materials["Gloves"], units(3))],
        on=june(3),
        minutes=90,
        title="Rings, white first or last",
    )


def cost_of(pour: Pour, place: str = Place.WORK) -> dict[str, int]:
    found: dict[str, int] = {}
    for entry in Entry.objects.filter(pour=pour, place=place).select_related("material"):
        name = f"{entry.material.name}/{entry.role}"
        found[name] = found.get(name, 0) + entry.money
    return found


def test_a_session_of_three_colours_and_two_arms_costs_what_the_arithmetic_says(
    week: Week, owner: User
) -> None:
    session = hold_the_session(week, owner)
    first, last = session.pours.order_by("number")

    # What goes into the cups, in the order of mixing. A draw of x out of q costing c takes c·x/q, half up; the
    # draw that empties a lot takes the rest. The medium: 300 mL, of which 140, 80 and 40 are drawn.
    medium = half_up(Fraction(week.landed("School glue"), 25))
    medium_white = half_up(Fraction(medium * 140, 300))
    medium_blue = half_up(Fraction((medium - medium_white) * 80, 160))
    medium_red = half_up(Fraction((medium - medium_white - medium_blue) * 40, 80))
    white = half_up(Fraction(week.landed("Tern white") * 70_000, 1_000_000)) + medium_white
    blue = half_up(Fraction(week.landed("Deep harbour") * 40_000, 500_000)) + medium_blue
    red = half_up(Fraction(week.landed("Buoy red") * 20_000, 473_176)) + medium_red

    # Each pour takes its board (of six) and then its colours, the first pour before the second.
    board = week.landed("Round board 30")
    board_first = half_up(Fraction(board, 6))
    board_last = half_up(Fraction(board - board_first, 5))
    white_first = half_up(Fraction(white * 100, 210))
    blue_first = half_up(Fraction(blue * 50, 120))
    red_first = half_up(Fraction(red * 20, 60))
    white_last = half_up(Fraction((white - white_first) * 80, 110))
    blue_last = half_up(Fraction((blue - blue_first) * 60, 70))
    red_last = half_up(Fraction((red - red_first) * 30, 40))

    # 30 mL of white cling to the cup: 100 : 80 is 16.667 and 13.333 mL, the second of which empties it.
    residue = white - white_first - white_last
    residue_first = half_up(Fraction(residue * 16_667, 30_000))
    # 10 mL of red are thrown away: what is left of it goes with them. 10 mL of blue are kept with theirs.
    red_lost = red - red_first - red_last
    blue_kept = blue - blue_first - blue_last

    # Three gloves of a hundred over two pours: one and a half each.
    gloves = week.landed("Gloves")
    gloves_first = half_up(Fraction(gloves * 1_500, 100_000))
    gloves_last = half_up(Fraction((gloves - gloves_first) * 1_500, 98_500))

    assert cost_of(first) == {
        "Round board 30/surface": board_first,
        "Tern white, ready to pour/poured": white_first,
        "Deep harbour, ready to pour/poured": blue_first,
        "Buoy red, ready to pour/poured": red_first,
        "Tern white, ready to pour/residue": residue_first,
        "Gloves/sundry": gloves_first,
    }
    assert cost_of(last) == {
        "Round board 30/surface": board_last,
        "Tern white, ready to pour/poured": white_last,
        "Deep harbour, ready to pour/poured": blue_last,
        "Buoy red, ready to pour/poured": red_last,
        "Tern white, ready to pour/residue": residue - residue_first,
        "Gloves/sundry": gloves_last,
    }
    assert Entry.objects.get(place=Place.LOSS).money == red_lost
    blue_lot = session.mixes.get(lot__material__name="Deep harbour, ready to pour").lot
    assert making.held(blue_lot) == (10_000, blue_kept)
    medium_left = medium - medium_white - medium_blue - medium_red
    assert left_of("House medium") == (40_000, medium_left)
    assert (first.arm, first.poured, first.run_off) == ("white first", 170_000, 40_000)


def left_of(name: str) -> tuple[int, int]:
    balance = LotBalance.objects.get(lot__material__name=name)
    return balance.quantity, balance.money


def test_every_penny_of_the_week_is_in_one_place(week: Week, owner: User) -> None:
    session = hold_the_session(week, owner)
    first, last = session.pours.order_by("number")
    making.sell(pours=[first], on=june(4))
    glue = week.delivery.lines.get(lot__material=week.materials["School glue"]).lot
    write_off(
        lot=glue,
        quantity=units(800),
        reason=making.the_reason("spilled"),
        submission=making.make_submission(by=owner, on=june(5)),
    )
    on_the_shelf = sum(LotBalance.objects.values_list("money", flat=True))
    spent = {place: sum(Entry.objects.filter(place=place).values_list("money", flat=True)) for place in Place}
    assert spent[Place.OUTSIDE] == -380_950_000
    assert spent[Place.LOT] == on_the_shelf
    assert spent[Place.WORK] == sum(cost_of(last).values())
    assert spent[Place.SOLD] == sum(cost_of(first, Place.SOLD).values())
    assert on_the_shelf + spent[Place.WORK] + spent[Place.SOLD] + spent[Place.LOSS] == 380_950_000
    # 800 of the 4,800 mL of glue left: a sixth of its cost
    left = week.landed("School glue") - half_up(Fraction(week.landed("School glue"), 25))
    spilled = Entry.objects.get(place=Place.LOSS, reason__code="spilled").money
    assert spilled == half_up(Fraction(left, 6))
