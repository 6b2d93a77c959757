"""What is asked before a delivery is posted: an amount or a unit cost far from what came in of that material before."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from fractions import Fraction

from inventory.ledger.questions import ask_if_unusual, each_once, latest_of_each
from inventory.ledger.usual_amounts import Amount
from inventory.materials.models import Material
from inventory.purchasing.actions.delivery_facts import LineFacts
from inventory.purchasing.models import DeliveryLine
from studio.errors import Question
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.translation import _


def questions_about_delivery(lines: Sequence[LineFacts], costs: Sequence[int]) -> list[Question]:
    """Everything that should be confirmed of these lines, in a constant number of queries.

    `costs` has what each line costs on the shelf, in millionths.
    """
    formatter = Formatter.of(Studio.current())
    past = _past_lines(line.material for line in lines)
    questions: list[Question] = []
    for line, cost in zip(lines, costs, strict=True):
        like = past[line.material.pk]
        about_cost = _about_cost(line, cost, [Fraction(paid, each) for each, paid in like], formatter)
        # Much more at the usual cost is a large order. At another cost the amount is wrong, or else the price.
        may_be_slip = about_cost or not cost
        about_quantity = _about_quantity(line, [each for each, _paid in like], formatter)
        questions += (may_be_slip and about_quantity) or about_cost
    return each_once(questions)


def _past_lines(materials: Iterable[Material]) -> dict[int, list[tuple[int, int]]]:
    """Quantity and landed cost of the latest lines of each material, whoever sold it, of deliveries that stand."""
    past: dict[int, list[tuple[int, int]]] = defaultdict(list)
    known = [material for material in materials if material.pk is not None]
    rows = DeliveryLine.objects.filter(lot__material__in=known, delivery__posting__reversed_by__isnull=True)
    latest = latest_of_each(rows, "lot__material")
    for material, quantity, landed in latest.values_list("lot__material", "quantity", "landed"):
        past[material].append((quantity, landed))
    return past


def _about_quantity(line: LineFacts, past: Iterable[int], formatter: Formatter) -> list[Question]:
    measure = line.material.measure
    return ask_if_unusual(
        ("received", _("{material} received", material=line.material.name)),
        line.quantity,
        past,
        about=(line.material.pk,),
        write=lambda amount: formatter.short_quantity(int(amount), measure),
    )


def _about_cost(line: LineFacts, cost: int, past: Iterable[Fraction], formatter: Formatter) -> list[Question]:
    """What a base unit costs on the shelf. Nothing is asked of what came free."""

    def unit_cost(rate: Amount) -> str:
        exact = Fraction(rate)
        return formatter.unit_cost(exact.numerator, exact.denominator, line.material.measure)

    return ask_if_unusual(
        ("unit-cost", _("Cost of {material}", material=line.material.name)),
        Fraction(cost, line.quantity),
        past,
        about=(line.material.pk,),
        write=unit_cost,
        is_money=True,
    )
