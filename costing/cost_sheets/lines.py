"""What a cost sheet says: material lines, time lines, and how its figures are printed.

Money is millionths of the currency unit, quantities thousandths of a base unit.
"""

from dataclasses import dataclass
from datetime import date

from costing.cost_sheets.sources import Source
from inventory.ledger.models import EntryRole, Posting
from inventory.materials.models import Material
from inventory.sessions.models import Pour
from studio.translation import _
from studio.values.allocation import divide_half_up
from studio.values.dated import Held
from studio.values.money import share_to_minor


@dataclass(frozen=True, slots=True)
class MaterialLine:
    """One material that one posting charged to one pour, from one lot or several; or a correction of its cost."""

    pour: Pour
    role: str
    material: Material
    quantity: int
    money: int
    posting: Posting
    sources: tuple[Source, ...]
    is_correction: bool

    @property
    def label(self) -> str:
        """Why the material came to the pour."""
        return _("Cost corrected") if self.is_correction else str(EntryRole(self.role).label)

    @property
    def lots(self) -> tuple[str, ...]:
        return tuple(source.lot.label for source in self.sources if source.lot)


@dataclass(frozen=True, slots=True)
class TimeLine:
    """Seconds of one piece of work and what they came to, at the rate per hour that held; None where none did.

    `is_stated`: brought in with a finished piece as an amount, without any time.
    """

    work: str
    on: date
    pour: str
    seconds: int
    rate: Held | None
    money: int
    is_rework: bool
    is_stated: bool = False


@dataclass(frozen=True, slots=True)
class Disposal:
    """How a piece left other than by a sale. The cost is that of its materials, as the ledger took it out."""

    reason: str
    on: date
    posting: int
    cost: int
    market_value: int | None


@dataclass(frozen=True, slots=True)
class CostSummary:
    """What a piece cost in a line of a list, and the seconds of work in it; the same figures as its cost sheet's."""

    materials: int
    labour: int
    overhead: int
    area: int
    seconds: int

    @property
    def whole(self) -> int:
        return self.materials + self.labour + self.overhead

    @property
    def per_cm2(self) -> int:
        """Cost per cm² of surface, in millionths."""
        return divide_half_up(self.whole * 1000, self.area) if self.area else 0


@dataclass(frozen=True, slots=True)
class CostSheet:
    """The job-cost record of one piece. The surface is charged once, with the first pour on it, and never as rework."""

    area: int
    lines: tuple[MaterialLine, ...]
    rework: tuple[MaterialLine, ...]
    labour: tuple[TimeLine, ...]
    overhead: tuple[TimeLine, ...]
    disposal: Disposal | None = None

    @property
    def summary(self) -> CostSummary:
        materials = sum(line.money for line in (*self.lines, *self.rework))
        return CostSummary(
            materials,
            sum(line.money for line in self.labour),
            sum(line.money for line in self.overhead),
            self.area,
            sum(line.seconds for line in self.labour),
        )

    @property
    def rework_cost(self) -> int:
        """What the pours beneath cost: their paint and their time. Part of the whole, told apart."""
        time = sum(line.money for line in (*self.labour, *self.overhead) if line.is_rework)
        return sum(line.money for line in self.rework) + time

    @property
    def every_line(self) -> tuple[MaterialLine | TimeLine, ...]:
        return (*self.lines, *self.rework, *self.labour, *self.overhead)

    def printed(self, currency: str) -> list[int]:
        """What every line is printed as, rounded to the minor unit so that they add up to the rounded whole."""
        return share_to_minor([line.money for line in self.every_line], currency)
