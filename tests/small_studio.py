"""A small studio with one of everything, for tests that look at every address. Its figures are easy to search for."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils import timezone

from costing.contacts.models import Contact
from costing.locations.models import Location
from costing.markets.models import MarketDay, PackedPiece
from costing.pieces.actions.pieces import PieceFacts, make_piece
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.pricing.models import SalesChannel
from costing.selling.actions import sell
from costing.selling.models import Sale
from inventory.alerts.actions.refreshing import refresh_alerts
from inventory.comparisons.actions.comparison_facts import ArmFacts, ComparisonFacts, CriterionFacts
from inventory.comparisons.actions.comparisons import start_comparison
from inventory.comparisons.models import Comparison
from inventory.ledger.models import Lot, Posting
from inventory.materials.models import Kind, Material, Supplier, Supply
from inventory.plans.actions import PlanLineFacts
from inventory.plans.models import Plan
from inventory.purchasing.models import Delivery, Order, OrderLine
from inventory.recipes.actions.mixes import MixFacts, planned
from inventory.recipes.models import Mix, Ratio, Recipe, RecipeVersion
from inventory.sessions.actions.sessions import Dose, PourFacts
from inventory.sessions.models import Pour, Session
from inventory.shopping.actions import Addition, add_to_list
from inventory.stock.actions.stocktakes import Count, post_stocktake
from inventory.stock.models import Stocktake
from tests.costing.locations.stories import make_box, make_contact
from tests.costing.overhead.stories import a_year
from tests.costing.stories import LATER, POURED_ON, make_channel, moved_to, use_rates
from tests.days import TODAY
from tests.inventory.recipe_stories import make_ratio
from tests.making import (
    correct,
    make_batch,
    make_delivery,
    make_material,
    make_owner,
    make_plan,
    make_recipe,
    make_session,
    make_submission,
    make_supplier,
    make_surface,
    make_water,
    money,
    spill,
    take_back,
    the_technique,
    units,
)

# What no helper without money may find on any page: prices paid, costs and prices asked, as they would be written.
FIGURES = ("17.43", "29.17", "4.61", "83.29", "61.77", "13.37")


@dataclass
class SmallStudio:
    """Poured on 1 June, worked on until the 10th: a sold piece, one for sale, a wet one, and a pour in no piece."""

    paint: Material
    glue: Material
    medium: RecipeVersion
    colour: RecipeVersion
    water: Material
    canvas: Material
    gloves: Material
    varnish: Material
    supplier: Supplier
    supply: Supply
    order: Order
    delivery: Delivery
    batch: Mix
    session: Session
    stocktake: Stocktake
    reversed: Posting
    channel: SalesChannel
    sold: Piece
    for_sale: Piece
    dry: Piece
    loose: Pour
    sale: Sale
    plan: Plan
    comparison: Comparison
    ratio: Ratio
    box: Location
    contact: Contact
    market: MarketDay

    @property
    def lot(self) -> Lot:
        """The lot of paint."""
        return self.paint.lots.order_by("pk")[0]

    @property
    def recipe(self) -> Recipe:
        return self.colour.recipe


def small_studio() -> SmallStudio:
    """Build it through the writers."""
    use_rates(wage="13.37", overhead="3.00", tax_rate=200_000)
    paint, glue = make_material(name="Sail Loft White"), make_material(name="Loft glue", kind=Kind.MEDIUM)
    water, canvas = make_water(name="Tap water"), make_surface(name="Canvas 30")
    gloves = make_material(name="Gloves", kind=Kind.SUNDRY, measure="count")
    varnish = make_material(name="Gloss varnish", kind=Kind.FINISH, reorder_level=units(9_000))
    supplier = make_supplier(name="Limpet & Bung Colours")
    supply = Supply.objects.create(
        supplier=supplier, material=varnish, pack_size=units(500), price=money("17.43")
    )
    order = Order.objects.create(number=1, currency="GBP", supplier=supplier, ordered_on=TODAY)
    OrderLine.objects.create(order=order, material=varnish, quantity=units(500), price=money("17.43"))
    delivery = make_delivery(
        lines=[
            (paint, units(2_000), money("29.17")),
            (glue, units(1_000), money("4.61")),
            (canvas, units(400), money("1400.00")),
            (gloves, units(40), money("4.00")),
            (varnish, units(500), money("17.43")),
        ],
        on=POURED_ON,
        supplier=supplier,
    )
    medium = make_recipe(parts=[(glue, 2), (water, 1)], name="Loft medium")
    colour = make_recipe(parts=[(paint, 2), (medium.recipe.makes, 1)], name="White, poured")
    batch = make_batch(version=medium, quantity=units(600), on=POURED_ON)
    session = _session(colour, canvas)
    pours = list(session.pours.order_by("number"))
    sold, for_sale, dry = (
        make_piece(facts=PieceFacts(title=title, pours=[pour], price=price), submission=make_submission())
        for title, pour, price in (
            ("Low water", pours[0], money("83.29")), ("Slack tide", pours[1], money("61.77")), ("Ebb", pours[2], None),
        )
    )  # fmt: skip
    for piece, state in ((sold, State.FOR_SALE), (for_sale, State.FOR_SALE), (dry, State.DRY)):
        moved_to(piece, state)
    channel = make_channel(commission=400_000, card_rate=17_500)
    sale = sell(piece=sold, channel=channel, price=money("83.29"), submission=make_submission(on=LATER))
    lot = delivery.lines.order_by("pk")[0].lot
    correct(lot=lot, difference=money("1.50"))
    take_back(spill(lot=lot, quantity=units(5)))
    stocktake = post_stocktake(counts=[Count(lot, units(1_500))], submission=make_submission())
    a_year(("Rent", "1160.00", "1180.00"), ("Insurance", "96.00", "102.00"))
    refresh_alerts(on=TODAY, at=timezone.now())
    for addition in (Addition(gloves, units(10)), Addition(text="Kitchen roll")):
        add_to_list(addition=addition, submission=make_submission())
    return SmallStudio(
        paint, glue, medium, colour, water, canvas, gloves, varnish, supplier, supply, order, delivery, batch,
        session, stocktake, Posting.objects.filter(reversed_by__isnull=False).latest("number"), channel, sold,
        for_sale, dry, pours[3], sale, _plan(colour, canvas), _comparison(pours),
        make_ratio("1 : 2", name="Ring pours"), make_box(), make_contact(), _market(channel, for_sale),
    )  # fmt: skip


def _market(channel: SalesChannel, piece: Piece) -> MarketDay:
    """The day of the sale, with the piece that is for sale packed and missing."""
    market = MarketDay.objects.create(
        name="Lantern Quay",
        held_on=LATER,
        cash_channel=make_channel("Stall, cash"),
        card_channel=channel,
        pitch_fee=money("17.43"),
        minutes=60,
    )
    PackedPiece.objects.create(market_day=market, piece=piece, box="Blue crate", is_missing=True)
    return market


def _plan(colour: RecipeVersion, canvas: Material) -> Plan:
    line = PlanLineFacts(canvas, 3, the_technique(), [(colour.recipe.makes, 1000)])
    return make_plan(line, name="Lamps once more")


def _comparison(pours: Sequence[Pour]) -> Comparison:
    facts = ComparisonFacts(
        name="Early or late",
        varied="other",
        arms=[ArmFacts("Early", pours[:2]), ArmFacts("Late", pours[2:])],
        criteria=[CriterionFacts("Open rings"), CriterionFacts("Cells", scale="counted")],
        judges=[make_owner()],
    )
    return start_comparison(facts=facts, submission=make_submission())


def _session(colour: RecipeVersion, canvas: Material) -> Session:
    mixed = MixFacts(version=colour, ingredients=planned(colour, units(400)))
    poured = [
        PourFacts(technique=the_technique(), doses=[Dose(units(80), mix=0)], surface=canvas) for _ in range(4)
    ]
    return make_session(mixes=[mixed], pours=poured, minutes=100, title="Lamps", on=POURED_ON)
