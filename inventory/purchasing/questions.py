"""What is asked before a delivery is posted: an amount or a unit cost far from what came in of that material before."""

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from fractions import Fraction

from inventory.ledger.questions import ask_if_unusual, each_once, latest_of_each
from inventory.ledger.usual_amounts import Amount, PastAmounts
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
    past = _past_lines({line.material.pk for line in lines if line.material.pk is not None})
    questions: list[Question] = []
    for line, cost in zip(lines, costs, strict=True):
        like = past.get(line.material.pk)
        if like is None:
            continue
        about_cost = _about_cost(line, cost, like.costs, formatter)
        # Much more at the usual cost is a large order. At another cost the amount is wrong, or else the price.
        about_quantity = _about_quantity(line, like.quantities, formatter) if about_cost or not cost else []
        questions += about_quantity or about_cost
    return each_once(questions)


@dataclass(frozen=True, slots=True)
class PastLines:
    """What came in of one material before: quantities, and what a base unit of each cost on the shelf."""

    quantities: PastAmounts
    costs: PastAmounts


def _past_lines(materials: Collection[int]) -> dict[int, PastLines]:
    """The latest lines of each material, whoever sold it, of deliveries that stand."""
    past: dict[int, list[tuple[int, int]]] = defaultdict(list)
    rows = DeliveryLine.objects.filter(
        lot__material__in=materials, delivery__posting__reversed_by__isnull=True
    )
    latest = latest_of_each(rows, "lot__material")
    for material, quantity, landed in latest.values_list("lot__material", "quantity", "landed"):
        past[material].append((quantity, landed))
    return {
        material: PastLines(
            PastAmounts(quantity for quantity, _landed in like),
            PastAmounts(Fraction(landed, quantity) for quantity, landed in like),
        )
        for material, like in past.items()
    }


def _about_quantity(line: LineFacts, past: PastAmounts, formatter: Formatter) -> list[Question]:
    measure = line.material.measure
    return ask_if_unusual(
        ("received", _("{material} received", material=line.material.name)),
        line.quantity,
        past,
        about=(line.material.pk,),
        write=lambda amount: formatter.short_quantity(int(amount), measure),
    )


def _about_cost(line: LineFacts, cost: int, past: PastAmounts, formatter: Formatter) -> list[Question]:
    """What a base unit costs on the shelf. Nothing is asked of what came free."""

    def unit_cost(rate: Amount) -> str:
        exact = Fraction(rate)
        return formatter.unit_cost(exact.numerator, exact.denominator, line.material.measure)

    cost_each = Fraction(cost, line.quantity)
    if past.usual_instead(cost_each) is None:  # nearly always: what nobody is asked is not put into words
        return []
    return ask_if_unusual(
        ("unit-cost", _("Cost of {material}", material=line.material.name)),
        cost_each,
        past,
        about=(line.material.pk,),
        write=unit_cost,
        is_money=True,
    )
