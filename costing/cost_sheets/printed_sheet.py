"""A cost sheet ready to be read: every line rounded so that it adds up as printed, down to lots and ingredients.

All texts are the studio's own way of writing; nothing here is added up again in a template.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from costing.cost_sheets.lines import CostSheet, MaterialLine, TimeLine
from costing.cost_sheets.sources import Source
from inventory.ledger.models import EntryRole
from studio.preferences.formatting import Formatter
from studio.translation import _, noop
from studio.values.allocation import THOUSANDTHS, allocate, divide_half_up
from studio.values.money import minor_units

SURFACE, PAINT, OTHER, REWORK, WORK, OVERHEAD = "surface", "paint", "other", "rework", "work", "overhead"
STATED = "stated"
LABELS = {
    STATED: noop("Brought in at a stated cost"),
    SURFACE: noop("Surface"),
    PAINT: noop("Paint and medium"),
    OTHER: noop("Finishing, packing, sundries"),
    REWORK: noop("Rework and failed pours"),
    WORK: noop("Labour"),
    OVERHEAD: noop("Overhead"),
}
KINDS = {
    EntryRole.SURFACE: SURFACE,
    EntryRole.POURED: PAINT,
    EntryRole.RESIDUE: PAINT,
    EntryRole.FAILED: REWORK,
    EntryRole.OPENING: STATED,
}


@dataclass(frozen=True, slots=True)
class PrintedSource:
    """So much of one lot, and what it was mixed from."""

    source: Source
    quantity: str
    money: str
    parts: tuple["PrintedSource", ...]


@dataclass(frozen=True, slots=True)
class PrintedLine:
    """A material and its quantity, or work and its minutes. `parts` tells lot by lot what was not one bought lot."""

    line: MaterialLine | TimeLine
    amount: str
    money: str
    per_hour: str = ""
    since: str = ""  # the day since when that rate holds, where it is known
    parts: tuple[PrintedSource, ...] = ()


@dataclass(frozen=True, slots=True)
class PrintedGroup:
    """Lines of one kind and what they come to. The picture draws `percent` of it."""

    kind: str
    label: str
    text: str
    percent: int
    lines: tuple[PrintedLine, ...]

    @property
    def is_time(self) -> bool:
        return self.kind in (WORK, OVERHEAD)


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
        whole=formatter.money(sum(costs)),
        per_cm2=formatter.unit_cost(summary.whole, summary.area, "area"),
        # Nobody measures a painted area more finely than to a whole cm².
        area=formatter.quantity(divide_half_up(summary.area, THOUSANDTHS) * THOUSANDTHS, "area"),
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

    def groups(self, sheet: CostSheet, costs: Sequence[int]) -> tuple[PrintedGroup, ...]:
        """At most six, those without a line left out; their percentages add up to a hundred."""
        kinds = [_kind_of(line) for line in sheet.lines] + [REWORK] * len(sheet.rework)
        kinds += [WORK] * len(sheet.labour) + [OVERHEAD] * len(sheet.overhead)
        lines: dict[str, list[PrintedLine]] = {kind: [] for kind in LABELS}
        totals = dict.fromkeys(LABELS, 0)
        for kind, line, money in zip(kinds, sheet.every_line, costs, strict=True):
            lines[kind].append(self._line(line, money))
            totals[kind] += money
        weights = [max(money, 0) for money in totals.values()]
        percents = allocate(100, weights) if any(weights) else weights
        return tuple(
            PrintedGroup(kind, _(LABELS[kind]), self.formatter.money(total), percent, tuple(lines[kind]))
            for (kind, total), percent in zip(totals.items(), percents, strict=True)
            if lines[kind]
        )

    def _line(self, line: MaterialLine | TimeLine, money: int) -> PrintedLine:
        text = self.formatter.money(money)
        if isinstance(line, TimeLine):
            per_hour = self.formatter.money(line.rate.value) if line.rate else ""
            since = self.formatter.day(line.rate.since) if line.rate else ""
            return PrintedLine(line, self._minutes(line), text, per_hour, since)
        quantity = self.formatter.quantity(line.quantity, line.material.measure) if line.quantity else ""
        lots = self._sources(line.sources, money)
        is_plain = len(lots) < 2 and not any(lot.parts for lot in lots)
        return PrintedLine(line, quantity, text, parts=() if is_plain else lots)

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
        if line.is_stated:
            return ""
        tenths = divide_half_up(line.seconds, 6)
        whole, tenth = divmod(tenths, 10)
        mark = "," if self.formatter.decimal_comma else "."
        return f"{whole}{mark}{tenth}" if tenth else str(whole)
