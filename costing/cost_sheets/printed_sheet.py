"""A cost sheet ready to be read: every line rounded so that it adds up as printed, down to lots and ingredients.

All texts are the studio's own way of writing; nothing here is added up again in a template.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from costing.cost_sheets.lines import CostSheet, MaterialLine, PrintedCosts, TimeLine
from costing.cost_sheets.sources import Source
from inventory.ledger.models import EntryRole
from studio.preferences.formatting import Formatter
from studio.translation import _, noop
from studio.values.allocation import allocate, divide_half_up
from studio.values.money import minor_units

SURFACE, PAINT, OTHER, REWORK, WORK, OVERHEAD = "surface", "paint", "other", "rework", "work", "overhead"
LABELS = {
    SURFACE: noop("Surface"),
    PAINT: noop("Paint and medium"),
    OTHER: noop("Finishing, packing, sundries"),
    REWORK: noop("Rework"),
    WORK: noop("Labour"),
    OVERHEAD: noop("Overhead"),
}
KINDS = {EntryRole.SURFACE: SURFACE, EntryRole.POURED: PAINT, EntryRole.RESIDUE: PAINT}


@dataclass(frozen=True, slots=True)
class PrintedSource:
    """So much of one lot, and what it was mixed from."""

    source: Source
    quantity: str
    money: str
    parts: tuple["PrintedSource", ...]


@dataclass(frozen=True, slots=True)
class PrintedMaterial:
    """One material line. `parts` tells it lot by lot when there is more to tell than one bought lot."""

    line: MaterialLine
    quantity: str
    money: str
    parts: tuple[PrintedSource, ...]


@dataclass(frozen=True, slots=True)
class PrintedTime:
    """One line of work or overhead."""

    line: TimeLine
    minutes: str
    per_hour: str
    money: str


@dataclass(frozen=True, slots=True)
class PrintedGroup:
    """Lines of one kind, of materials or of time, and what they come to. The picture draws `percent` of it."""

    label: str
    text: str
    percent: int
    materials: tuple[PrintedMaterial, ...] = ()
    times: tuple[PrintedTime, ...] = ()


@dataclass(frozen=True, slots=True)
class PrintedSheet:
    """The whole sheet. The groups add up to `whole`, and their lines to the groups."""

    whole: str
    per_cm2: str
    area: str
    groups: tuple[PrintedGroup, ...]
    rework_with_time: str

    @property
    def shares(self) -> list[PrintedGroup]:
        """The groups that the picture can show: what a correction took off is none."""
        return [group for group in self.groups if group.percent]


def printed_sheet(sheet: CostSheet, formatter: Formatter) -> PrintedSheet:
    """Round a sheet's lines to the minor unit and write everything out."""
    costs = sheet.printed(formatter.currency)
    summary = sheet.summary
    return PrintedSheet(
        whole=formatter.money(costs.whole),
        per_cm2=formatter.unit_cost(summary.whole, summary.area, "area"),
        area=formatter.quantity(summary.area, "area"),
        groups=_Printer(formatter).groups(sheet, costs),
        rework_with_time=formatter.money(sheet.rework_cost) if sheet.rework_cost else "",
    )


def _kind_of(line: MaterialLine) -> str:
    if line.is_correction:
        return OTHER
    return KINDS.get(EntryRole(line.role), OTHER)


class _Printer:
    """Writes lines out in one studio's way."""

    def __init__(self, formatter: Formatter) -> None:
        self.formatter = formatter
        self.step = 10 ** (6 - minor_units(formatter.currency))

    def groups(self, sheet: CostSheet, costs: PrintedCosts) -> tuple[PrintedGroup, ...]:
        """At most six, those without a line left out; their percentages add up to a hundred."""
        materials = list(zip(sheet.lines, costs.materials, strict=True))
        by_kind = {
            kind: [pair for pair in materials if _kind_of(pair[0]) == kind]
            for kind in (SURFACE, PAINT, OTHER)
        }
        by_kind[REWORK] = list(zip(sheet.rework, costs.rework, strict=True))
        by_time: dict[str, list[tuple[TimeLine, int]]] = {
            WORK: list(zip(sheet.labour, costs.labour, strict=True)),
            OVERHEAD: list(zip(sheet.overhead, costs.overhead, strict=True)),
        }
        totals = {
            **{kind: sum(money for line, money in pairs) for kind, pairs in by_kind.items() if pairs},
            **{kind: sum(money for line, money in times) for kind, times in by_time.items() if times},
        }
        weights = [max(money, 0) for money in totals.values()]
        percents = dict(zip(totals, allocate(100, weights) if any(weights) else weights, strict=True))
        return tuple(
            PrintedGroup(
                _(LABELS[kind]),
                self.formatter.money(total),
                percents[kind],
                tuple(self._material(*pair) for pair in by_kind.get(kind, ())),
                tuple(self._time(*pair) for pair in by_time.get(kind, ())),
            )
            for kind, total in totals.items()
        )

    def _time(self, line: TimeLine, money: int) -> PrintedTime:
        return PrintedTime(
            line, self._minutes(line), self.formatter.money(line.per_hour), self.formatter.money(money)
        )

    def _material(self, line: MaterialLine, money: int) -> PrintedMaterial:
        quantity = self.formatter.quantity(line.quantity, line.material.measure) if line.quantity else ""
        lots = self._sources(line.sources, money)
        is_plain = len(lots) < 2 and not any(lot.parts for lot in lots)
        return PrintedMaterial(line, quantity, self.formatter.money(money), () if is_plain else lots)

    def _sources(self, sources: Sequence[Source], printed: int) -> tuple[PrintedSource, ...]:
        """Sources beside what their whole was printed as; they add up to just that."""
        amounts = self._shared(printed, [source.money for source in sources])
        return tuple(
            PrintedSource(
                source,
                self.formatter.quantity(source.quantity, source.material.measure),
                self.formatter.money(money),
                self._sources(source.through, money),
            )
            for source, money in zip(sources, amounts, strict=True)
        )

    def _shared(self, printed: int, amounts: Sequence[int]) -> list[int]:
        weights = [max(amount, 0) for amount in amounts]
        if not any(weights):
            return [0] * len(weights)
        return [part * self.step for part in allocate(printed // self.step, weights)]

    def _minutes(self, line: TimeLine) -> str:
        """Minutes with at most one decimal: a session's share is rarely whole."""
        tenths = divide_half_up(line.seconds, 6)
        whole, tenth = divmod(tenths, 10)
        mark = "," if self.formatter.decimal_comma else "."
        return f"{whole}{mark}{tenth}" if tenth else str(whole)
