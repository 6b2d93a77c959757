"""What it costs to take so much of a material next, by the studio's costing method, as a posting of today would.

Quantities are thousandths of the base unit, money millionths of the currency unit.
"""

from collections import defaultdict
from collections.abc import Container, Iterable, Mapping
from dataclasses import dataclass, field

from inventory.ledger import costing_methods as costflow
from inventory.ledger.balances import holdings_of
from inventory.ledger.models import Books, CostingMethod
from inventory.materials.models import Material
from inventory.stock.queries import UnitCost, unit_costs


@dataclass(frozen=True, slots=True)
class DrawCosts(Container[int]):
    """Unit costs by material, and the lots that are drawn first; no lots where every lot costs the same."""

    units: Mapping[int, UnitCost]
    lots: Mapping[int, list[costflow.Holding]] = field(default_factory=dict)
    by_expiry: bool = False

    def __contains__(self, material: object) -> bool:
        """Whether its cost is known."""
        return material in self.units

    def of(self, material: int, quantity: int) -> int:
        """What a quantity costs: lot by lot, and what the shelf does not hold at the unit cost."""
        lots = self.lots.get(material, [])
        there = min(quantity, sum(lot.available for lot in lots))
        takes = costflow.draw(lots, there, by_expiry=self.by_expiry)
        return sum(take.money for take in takes) + self.units[material].of(quantity - there)


def draw_costs(materials: Iterable[Material]) -> DrawCosts:
    """The costs of these materials, read in a few queries however many there are."""
    wanted = list(materials)
    units = unit_costs(wanted)
    method = Books.objects.values_list("costing_method", flat=True).get()
    if method == CostingMethod.AVERAGE:
        return DrawCosts(units)
    lots: dict[int, list[costflow.Holding]] = defaultdict(list)
    for material, holding in holdings_of([each.pk for each in wanted if not each.is_free]):
        lots[material].append(holding)
    return DrawCosts(units, lots, by_expiry=method == CostingMethod.FEFO)
