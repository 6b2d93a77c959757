"""Small makers with sensible defaults. Whatever touches the ledger goes through the real writers.

Quantities are thousandths of the base unit and money millionths of the currency unit, as everywhere; `units`
and `money` turn what a person would write into them.
"""

from collections.abc import Container, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from inventory.ledger.corrections import ReceiptChange, correct_receipt, receipt_of
from inventory.ledger.models import (
    Books,
    CostingMethod,
    Entry,
    EntryRole,
    Lot,
    LotBalance,
    Posting,
    PostingKind,
    Reason,
)
from inventory.ledger.posting import open_ledger
from inventory.ledger.reversals import reverse
from inventory.materials.models import Material, Supplier
from inventory.plans.actions import PlanFacts, PlanLineFacts, save_plan
from inventory.plans.models import Plan
from inventory.purchasing.actions import corrections
from inventory.purchasing.actions.deliveries import OpeningLine, open_stock, receive_delivery
from inventory.purchasing.actions.delivery_facts import DeliveryFacts, DeliveryHeader, LineFacts, PackedLine
from inventory.purchasing.actions.orders import OrderFacts, place_order
from inventory.purchasing.models import Delivery, Order
from inventory.recipes.actions.batches import make_mix
from inventory.recipes.actions.mixes import Ingredient, MixFacts, planned
from inventory.recipes.models import Basis, Mix, Recipe, RecipeVersion
from inventory.sessions.actions.sessions import Dose, PourFacts, SessionFacts, log_session
from inventory.sessions.actions.work import Work, add_to_work, sell_work, write_off_work
from inventory.sessions.models import Pour, Session, Technique
from inventory.stock.actions.lots import write_off
from studio.accounts.models import Role, User
from studio.auditing.writing import set_all
from studio.preferences.models import Rates
from studio.submission import Submission
from tests.days import AT, TODAY
from tests.factories import (
    MaterialFactory,
    RecipeFactory,
    RecipePartFactory,
    RecipeVersionFactory,
    SupplierFactory,
    UserFactory,
)


def units(amount: str | int) -> int:
    """Base units as thousandths: units("2.5") is two and a half millilitres, grams, pieces …"""
    return _scaled(amount, 3)


def money(amount: str | int) -> int:
    """Currency units as millionths: money("12.50")."""
    return _scaled(amount, 6)


def _scaled(amount: str | int, places: int) -> int:
    scaled = Decimal(amount).scaleb(places)
    if scaled != int(scaled):
        raise ValueError(f"{amount} has more than {places} decimal places.")
    return int(scaled)


def make_rates(since: date | None = None, **rates: int) -> Rates:
    """The studio's rates from a day on, or from the beginning: wage_per_hour, overhead_per_hour, tax_rate."""
    return Rates.objects.update_or_create(holds_from=since, defaults=rates)[0]


# The cast


def make_owner() -> User:
    """She owns the studio: everything is hers to see and to do."""
    return UserFactory.create(username="owner", role=Role.OWNER, is_staff=True, is_superuser=True)


def make_helper(*, may_see_money: bool = False) -> User:
    """Works at the bench; sees no money unless the owner allows it."""
    return UserFactory.create(
        username="helper" if not may_see_money else "trusted", may_see_money=may_see_money
    )


def make_bookkeeper() -> User:
    """Sees everything and changes nothing."""
    return UserFactory.create(username="bookkeeper", role=Role.BOOKKEEPER)


def make_stranger() -> User:
    """Somebody who must be refused: an account that was switched off."""
    return UserFactory.create(username="stranger", is_active=False)


class Everything(Container[str]):
    """Stands for every question: whatever is asked, she has answered with yes."""

    def __contains__(self, _token: object) -> bool:
        return True


def make_submission(
    *,
    by: User | None = None,
    on: date = TODAY,
    at: datetime = AT,
    key: str = "",
    confirmed: Container[str] = Everything(),
) -> Submission:
    """By the owner, today, unless said otherwise. Unusual amounts are confirmed: stories here are made of them."""
    return Submission(by=by or make_owner(), at=at, on=on, key=key, confirmed=confirmed)


# Things with no ledger behind them


def make_material(**facts: Any) -> Material:
    """A paint by volume, 1.12 g/mL, unless said otherwise."""
    return MaterialFactory.create(**facts)


def make_surface(**facts: Any) -> Material:
    """A canvas 30 × 30 cm with 1.8 cm painted sides: 1,116 cm²."""
    return MaterialFactory.create(surface=True, **facts)


def make_water(**facts: Any) -> Material:
    """Tap water: takes part in volumes, is never stocked."""
    return MaterialFactory.create(water=True, **facts)


def make_supplier(**facts: Any) -> Supplier:
    return SupplierFactory.create(**facts)


def make_recipe(
    *,
    parts: Sequence[tuple[Material, int]],
    makes: Material | None = None,
    basis: str = Basis.VOLUME,
    **facts: Any,
) -> RecipeVersion:
    """Version 1 of a recipe of whole parts: parts=[(glue, 2), (water, 1)]."""
    recipe: Recipe = RecipeFactory.create(**({"makes": makes} if makes else {}), **facts)
    version: RecipeVersion = RecipeVersionFactory.create(recipe=recipe, basis=basis)
    for line, (material, share) in enumerate(parts, start=1):
        RecipePartFactory.create(version=version, material=material, parts=share * 1_000, line=line)
    return version


def the_technique(name: str = "Ring pour") -> Technique:
    return Technique.objects.get(name=name)


def the_reason(code: str = "spilled") -> Reason:
    return Reason.objects.get(code=code)


def use_cost_flow(flow: CostingMethod) -> None:
    """Choose the cost flow; the books must still be empty."""
    set_all(Books.objects.all(), costing_method=flow)


def close_books(*, through: date) -> None:
    books = Books.objects.get()
    books.closed_through = through
    books.save(update_fields=["closed_through"])  # which the change log records


# Stock and work, through the ledger


def make_delivery(
    *,
    lines: Sequence[tuple[Material, int, int]],
    on: date = TODAY,
    by: User | None = None,
    at: datetime = AT,
    key: str = "",
    supplier: Supplier | None = None,
    **facts: Any,
) -> Delivery:
    """A delivery of (material, quantity, line price) lines in the studio's own currency."""
    delivery = delivery_facts(
        lines=[LineFacts(*line) for line in lines],
        supplier=supplier or make_supplier(),
        received_on=on,
        **facts,
    )
    return receive_delivery(facts=delivery, submission=make_submission(by=by or make_owner(), at=at, key=key))


def delivery_facts(*, lines: Sequence[LineFacts], **header: Any) -> DeliveryFacts:
    """A delivery in pounds, of today and from somebody, unless said otherwise; not posted."""
    usual: dict[str, Any] = {"received_on": TODAY, "home_currency": "GBP", "currency": "GBP"}
    if "supplier" not in header:
        usual["supplier"] = make_supplier()
    return DeliveryFacts(DeliveryHeader(**(usual | header)), lines)


def make_order(
    *lines: tuple[Material, int] | tuple[Material, int, int],
    supplier: Supplier | None = None,
    on: date = TODAY,
    **facts: Any,
) -> Order:
    """An order of (material, quantity, line price) lines."""
    ordered = [PackedLine(*line) for line in lines]
    return place_order(
        facts=OrderFacts(supplier or make_supplier(), on, ordered, **facts), submission=make_submission()
    )


def make_plan(*lines: PlanLineFacts, name: str = "Harbour lights", on: date = TODAY, **facts: Any) -> Plan:
    """A plan for a day."""
    return save_plan(
        facts=PlanFacts(name=name, planned_on=on, lines=lines, **facts), submission=make_submission(at=AT)
    )


def planned_line(
    surface: Material, count: int, *colours: Material, technique: str = "Ring pour"
) -> PlanLineFacts:
    """So many of a surface in these colours, in equal shares."""
    return PlanLineFacts(surface, count, the_technique(technique), [(colour, 1000) for colour in colours])


def make_lot(
    *,
    material: Material | None = None,
    quantity: int = 1_000_000,
    cost: int = 10_000_000,
    on: date = TODAY,
    at: datetime = AT,
) -> Lot:
    """One delivered lot: a litre for 10.00 unless said otherwise."""
    return make_delivery(lines=[(material or make_material(), quantity, cost)], on=on, at=at).lines.get().lot


def make_opening(
    *, lines: Sequence[tuple[Material, int, int]], on: date = TODAY, at: datetime = AT
) -> Posting:
    """Opening stock of (material, quantity, cost) lines."""
    return open_stock(lines=[OpeningLine(*line) for line in lines], submission=make_submission(on=on, at=at))


def make_batch(
    *,
    version: RecipeVersion,
    quantity: int,
    on: date = TODAY,
    at: datetime = AT,
    confirm_gain: bool = False,
    **facts: Any,
) -> Mix:
    """So much of a recipe mixed ahead of a session."""
    said = MixFacts(version=version, ingredients=planned(version, quantity), **facts)
    return make_mix(facts=said, confirm_gain=confirm_gain, submission=make_submission(on=on, at=at))


def pour_of(
    *,
    material: Material,
    quantity: int,
    surface: Material | None = None,
    over: Pour | None = None,
    **facts: Any,
) -> PourFacts:
    """What happened on one surface: one paint straight from the shelf."""
    return PourFacts(
        technique=the_technique(),
        doses=[Dose(quantity, material=material)],
        surface=surface,
        over=over,
        **facts,
    )


def make_session(
    *,
    pours: Sequence[PourFacts] = (),
    mixes: Sequence[MixFacts] = (),
    on: date = TODAY,
    by: User | None = None,
    at: datetime = AT,
    key: str = "",
    confirm_gain: bool = False,
    **facts: Any,
) -> Session:
    said = SessionFacts(held_on=on, mixes=mixes, pours=pours, **facts)
    return log_session(
        facts=said,
        confirm_gain=confirm_gain,
        submission=make_submission(by=by or make_owner(), at=at, key=key),
    )


def make_pour(*, quantity: int = 200_000, on: date = TODAY, at: datetime = AT, **facts: Any) -> Pour:
    """One canvas (3.50) under 200 mL of a paint that cost 10.00 a litre: 5.50 in work."""
    paint, canvas = make_material(), make_surface()
    make_delivery(lines=[(paint, 1_000_000, money(10)), (canvas, 1_000, money("3.50"))], on=on, at=at)
    session = make_session(
        pours=[pour_of(material=paint, quantity=quantity, surface=canvas, **facts)], on=on, at=at
    )
    return session.pours.get()


def sell(*, pours: Sequence[Pour], on: date = TODAY, at: datetime = AT) -> Posting:
    """Move pours to sold work, as the till does."""
    with open_ledger(make_submission(on=on, at=at)) as ledger:
        return sell_work(ledger, pours=pours)


def charge(
    *,
    pours: Sequence[Pour],
    materials: Sequence[Ingredient],
    role: EntryRole,
    submission: Submission,
    confirm_gain: bool = False,
) -> Posting:
    """Finish or pack pours, as is done to a piece of them."""
    with open_ledger(submission, facts=[role, pours, materials, submission.on]) as ledger:
        return ledger.earlier or add_to_work(
            ledger, work=[Work(pours, materials)], role=role, confirm_gain=confirm_gain
        )


def ruin(*, pours: Sequence[Pour], reason: Reason, submission: Submission, note: str = "") -> Posting:
    """Write pours off as ruined, or given away, with all their cost."""
    with open_ledger(submission, facts=[pours, reason, submission.on, note]) as ledger:
        return ledger.earlier or write_off_work(ledger, pours=pours, reason=reason, note=note)


def spill(*, lot: Lot, quantity: int, on: date = TODAY, at: datetime = AT, key: str = "") -> Posting:
    """Write a quantity of a lot off as spilled."""
    return write_off(
        lot=lot, quantity=quantity, reason=the_reason(), submission=make_submission(on=on, at=at, key=key)
    )


def use(*, lot: Lot, quantity: int, on: date = TODAY, at: datetime = AT) -> Mix:
    """Put so much of a material to use: mixed by itself into something else."""
    return make_batch(version=make_recipe(parts=[(lot.material, 1)]), quantity=quantity, on=on, at=at)


def take_back(posting: Posting, *, at: datetime = AT, on: date | None = None, key: str = "") -> Posting:
    """Reverse a posting as the owner."""
    return reverse(posting=posting, on=on, submission=make_submission(at=at, key=key))


def correct(
    *, lot: Lot, difference: int = 0, quantity: int = 0, on: date = TODAY, at: datetime = AT, key: str = ""
) -> Posting:
    """Correct what came in with a lot, whatever it came in by: by how much it cost more, and was more."""
    change, asked = ReceiptChange(lot, quantity, difference), ["correct", lot, difference, quantity]
    with open_ledger(make_submission(on=on, at=at, key=key), facts=asked) as ledger:
        if ledger.earlier is not None:
            return ledger.earlier
        first = Entry.objects.filter(lot=lot, quantity__gt=0).order_by("posting_id", "line")[0]
        draft = ledger.draft(PostingKind.CORRECTION, note="Late invoice")
        correct_receipt(draft, receipt_of(first.posting), [change])
        return draft.seal()


def correct_delivery(
    delivery: Delivery, *, at: datetime = AT, key: str = "", by: User | None = None, **facts: Any
) -> Posting:
    """Put a delivery in pounds right: its own figures, and `lines` by lot."""
    lines = facts.pop("lines", {})
    return corrections.correct_delivery(
        delivery=delivery,
        facts=corrections.CorrectionFacts("GBP", facts, lines, "Late invoice"),
        submission=make_submission(by=by or make_owner(), at=at, key=key),
    )


def ingredients(*items: tuple[Material, int]) -> list[Ingredient]:
    return [Ingredient(material, quantity) for material, quantity in items]


def held(lot: Lot) -> tuple[int, int]:
    """What a lot holds now: quantity and money."""
    balance = LotBalance.objects.get(lot=lot)
    return balance.quantity, balance.money
