"""What is on record of the pours of each arm, fact by fact, side by side; where nothing is, it says so."""

from collections.abc import Callable, Sequence
from fractions import Fraction
from functools import partial

from inventory.comparisons.calculations.designs import mean
from inventory.comparisons.calculations.facts import Fact, PourRecord
from inventory.comparisons.queries.recipe_sheet import cups_of
from inventory.comparisons.queries.wording import FACTS, PLACES, UNITS, clock, with_unit
from inventory.recipes.flow_cups import are_comparable, flow_words, read_flow_cup
from studio.preferences.formatting import Formatter
from studio.translation import _

Cells = list[str]
WORDS = (Fact.SURFACE, Fact.SIDES, Fact.TECHNIQUE, Fact.ORDER, Fact.POURED_OVER, Fact.HANDS)
NUMBERS = (Fact.AMOUNT, Fact.TEMPERATURE, Fact.HUMIDITY, Fact.MIX_AGE)


def on_record(records: Sequence[PourRecord], arms: int, formatter: Formatter) -> list[tuple[str, Cells]]:
    """Every fact with a cell for each arm: its words, or the mean of its figures."""
    held = [[record for record in records if record.arm == arm] for arm in range(arms)]

    def row(label: str, words: Callable[[Sequence[PourRecord]], str]) -> tuple[str, Cells]:
        return label[:1].upper() + label[1:], [words(pours) if pours else "" for pours in held]

    rows = [
        row(_("Cups, parts per 1 of paint"), partial(_cups, formatter=formatter)),
        row(_("Consistency"), _consistency),
        row(
            _("Density"),
            lambda pours: _number([pour.density for pour in pours], unit="g/mL", formatter=formatter),
        ),
    ]
    rows += [row(str(FACTS[fact]), partial(_words, fact=fact)) for fact in WORDS]
    rows += [row(str(FACTS[fact]), partial(_figure, fact=fact, formatter=formatter)) for fact in NUMBERS]
    rows.append(row(str(FACTS[Fact.TIME]), _times))
    rows.append(row(_("Lots"), _lots))
    note = _flow_note(records)
    return [*rows, (_("Flow cups"), [note] * arms)] if note else rows


def _not_recorded() -> str:
    return _("not recorded")


def _cups(pours: Sequence[PourRecord], formatter: Formatter) -> str:
    if any(pour.cups is None for pour in pours):
        return _not_recorded()
    return "; ".join(
        _(
            "{cup}: {parts} ({share} of the pour, {water} water)",
            cup=cup,
            parts=parts,
            share=share,
            water=water,
        )
        for cup, parts, share, water in cups_of(pours, formatter)
    )


def _consistency(pours: Sequence[PourRecord]) -> str:
    notes = dict.fromkeys(note for pour in pours for note in pour.consistency)
    words = [f"{note} ({flow})" if (flow := flow_words(note)) else note for note in notes]
    return "; ".join(words) or _not_recorded()


def _flow_note(records: Sequence[PourRecord]) -> str:
    """Whether flow cups of different arms may be held against each other; empty where they may, or there are none."""
    notes = {note for record in records for note in record.consistency}
    readings = [reading for note in notes if (reading := read_flow_cup(note)) is not None]
    return "" if are_comparable(readings) else _("not read at one temperature, so not comparable")


def _words(pours: Sequence[PourRecord], fact: Fact) -> str:
    words = dict.fromkeys(pour.words.get(fact) for pour in pours)
    return ", ".join(_not_recorded() if word is None else word for word in words)


def _figure(pours: Sequence[PourRecord], fact: Fact, formatter: Formatter) -> str:
    values = [pour.numbers.get(fact) for pour in pours]
    return _number(values, unit=UNITS[fact], formatter=formatter, places=PLACES.get(fact, 1))


def _number(values: Sequence[Fraction | None], unit: str, formatter: Formatter, places: int = 2) -> str:
    known = [value for value in values if value is not None]
    if not known:
        return _not_recorded()
    figure = with_unit(mean(known), unit, formatter, places)
    if len(known) == len(values):
        return figure
    return _("{figure} ({n} not recorded)", figure=figure, n=len(values) - len(known))


def _times(pours: Sequence[PourRecord]) -> str:
    known = sorted(pour.time for pour in pours if pour.time is not None)
    if not known:
        return _not_recorded()
    return clock(known[0]) if known[0] == known[-1] else f"{clock(known[0])}–{clock(known[-1])}"


def _lots(pours: Sequence[PourRecord]) -> str:
    lots: dict[str, set[str]] = {}
    for pour in pours:
        for material, labels in pour.lots.items():
            lots.setdefault(material, set()).update(labels)
    words = [f"{material} {', '.join(sorted(labels))}" for material, labels in lots.items()]
    return "; ".join(words) or _not_recorded()
