"""What most studios have and sell by, to be ticked instead of typed. Names are translated when they are added."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from costing.pricing.models import Payment, SalesChannel
from inventory.materials.models import Kind, Material, MeasureChoice
from studio.translation import _, noop

CM = 1000  # sizes are thousandths of a centimetre
INCH = 2540
DEPTH = 1_800  # the sides of a common stretched canvas: 18 mm (common practice, no source)


@dataclass(frozen=True, slots=True)
class Starter:
    """A material that can be ticked: its code, its name to be translated, its kind and what else is known of it."""

    code: str
    name: str
    kind: Kind
    measure: MeasureChoice = MeasureChoice.COUNT
    more: dict[str, Any] = field(default_factory=dict)
    is_usual: bool = False

    def material(self) -> Material:
        """The row, not saved yet, named in the language of the moment."""
        return Material(name=_(self.name), kind=self.kind, measure=self.measure, **self.more)


def _canvas(code: str, name: str, height: int, width: int, unit: int = CM) -> Starter:
    size = {"height": height * unit, "width": width * unit, "depth": DEPTH}
    return Starter(code, name, Kind.SURFACE, more=size)


def _board(
    code: str, name: str, height: int, width: int, *, unit: int = CM, is_round: bool = False
) -> Starter:
    size = {"height": height * unit, "width": width * unit, "is_round": is_round, "sides_painted": False}
    return Starter(code, name, Kind.SURFACE, more=size)


def _liquid(code: str, name: str, kind: Kind, **more: Any) -> Starter:
    return Starter(code, name, kind, MeasureChoice.VOLUME, more)


# Water: 1 g/mL at room temperature to a quarter of a per cent (CRC Handbook of Chemistry and Physics, from memory).
WATER = Starter(
    "water",
    noop("Tap water"),
    Kind.MEDIUM,
    MeasureChoice.VOLUME,
    {"density": 1_000_000, "water_share": 1_000_000, "is_free": True},
    is_usual=True,
)
LIQUIDS = (
    WATER,
    _liquid("white", noop("White paint"), Kind.PAINT, colour="#f7f5ef"),
    _liquid("black", noop("Black paint"), Kind.PAINT, colour="#1c1b1a"),
    _liquid("blue", noop("Blue paint"), Kind.PAINT, colour="#1f4fa3"),
    _liquid("red", noop("Red paint"), Kind.PAINT, colour="#b3261e"),
    _liquid("yellow", noop("Yellow paint"), Kind.PAINT, colour="#f0b81c"),
    _liquid("medium", noop("Pouring medium"), Kind.MEDIUM),
    _liquid("glue", noop("PVA glue"), Kind.MEDIUM),
    _liquid("varnish", noop("Gloss varnish"), Kind.FINISH),
)
METRIC = (
    _canvas("canvas-30", noop("Canvas 30 × 30 cm"), 30, 30),
    _canvas("canvas-40", noop("Canvas 30 × 40 cm"), 30, 40),
    _canvas("canvas-50", noop("Canvas 40 × 50 cm"), 40, 50),
    _board("board-30", noop("Board 20 × 30 cm"), 20, 30),
    _board("round-30", noop("Round board 30 cm"), 30, 30, is_round=True),
)
INCHES = (
    _canvas("canvas-12in", noop("Canvas 12 × 12 in"), 12, 12, INCH),
    _canvas("canvas-14in", noop("Canvas 11 × 14 in"), 11, 14, INCH),
    _canvas("canvas-20in", noop("Canvas 16 × 20 in"), 16, 20, INCH),
    _board("board-10in", noop("Board 8 × 10 in"), 8, 10, unit=INCH),
    _board("round-12in", noop("Round board 12 in"), 12, 12, unit=INCH, is_round=True),
)
SUNDRIES = (
    Starter("gloves", noop("Gloves, pair"), Kind.SUNDRY),
    Starter("towels", noop("Paper towels, roll"), Kind.SUNDRY),
    Starter("cups", noop("Mixing cups"), Kind.SUNDRY),
    Starter("sticks", noop("Stirring sticks"), Kind.SUNDRY),
)


@dataclass(frozen=True, slots=True)
class StarterChannel:
    """A sales channel that can be ticked. What it takes of a price is the studio's own, and added later."""

    code: str
    name: str
    payment: Payment

    def channel(self) -> SalesChannel:
        return SalesChannel(name=_(self.name), payment=self.payment)


CHANNELS = (
    StarterChannel("stall-cash", noop("Market stall, cash"), Payment.CASH),
    StarterChannel("stall-card", noop("Market stall, card"), Payment.CARD),
    StarterChannel("online", noop("Online shop"), Payment.ONLINE),
)


def starters(paper: str) -> Iterator[tuple[str, tuple[Starter, ...]]]:
    """The materials in their groups; surfaces in inches where paper is US Letter, as they are sold there."""
    yield _("Paint, medium, varnish"), LIQUIDS
    yield _("Surfaces"), INCHES if paper == "Letter" else METRIC
    yield _("Sundries"), SUNDRIES
