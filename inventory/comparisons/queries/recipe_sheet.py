"""How each arm was mixed and poured, without costs: to publish, or to pour again."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from inventory.comparisons.calculations.designs import mean
from inventory.comparisons.calculations.facts import Cup, Fact, PourRecord
from inventory.comparisons.models import Comparison
from inventory.comparisons.queries.records import records_of
from inventory.comparisons.queries.wording import UNITS, number, with_unit
from studio.preferences.formatting import Formatter
from studio.translation import _, ngettext


@dataclass(frozen=True, slots=True)
class ArmRecipe:
    """One arm in sentences, and its cups: name, parts per 1 of paint, share of the pour, water."""

    name: str
    sentences: list[str]
    cups: list[tuple[str, str, str, str]]


def recipes_of(comparison: Comparison, formatter: Formatter) -> list[ArmRecipe]:
    """Every arm with pours, as it was poured on average."""
    rows = comparison.pours.judged().select_related(
        "arm", "pour__session", "pour__surface", "pour__technique"
    )
    records = records_of(list(rows))
    recipes = []
    for arm in comparison.arms.all():
        held = [record for record in records if record.arm == arm.number - 1]
        if held:
            recipes.append(ArmRecipe(arm.name, _sentences(held, formatter), cups_of(held, formatter)))
    return recipes


def _sentences(records: Sequence[PourRecord], formatter: Formatter) -> list[str]:
    words = {
        fact: ", ".join(sorted({str(record.words[fact]) for record in records if record.words[fact]}))
        for fact in (Fact.TECHNIQUE, Fact.SURFACE, Fact.ORDER)
    }
    pours = ngettext("{n} pour", "{n} pours", len(records), n=len(records))
    sentences = [
        _(
            "{technique} on {surface}, {pours}.",
            technique=words[Fact.TECHNIQUE],
            surface=words[Fact.SURFACE],
            pours=pours,
        )
    ]
    if words[Fact.ORDER]:
        sentences.append(_("Order of the colours: {order}.", order=words[Fact.ORDER]))
    consistency = list(dict.fromkeys(note for record in records for note in record.consistency))
    if consistency:
        sentences.append(_("Consistency: {notes}.", notes="; ".join(consistency)))
    for fact, sentence in (
        (Fact.AMOUNT, _("Poured per area, run-off included: {value}.")),
        (Fact.TEMPERATURE, _("Temperature: {value}.")),
        (Fact.HUMIDITY, _("Humidity: {value}.")),
    ):
        known = [value for record in records if (value := record.numbers[fact]) is not None]
        if known:
            places = 3 if fact == Fact.AMOUNT else 1
            sentences.append(sentence.format(value=with_unit(mean(known), UNITS[fact], formatter, places)))
    if any(record.cups is None for record in records):
        sentences.append(_("What was in the cups is not fully recorded."))
    return sentences


def cups_of(records: Sequence[PourRecord], formatter: Formatter) -> list[tuple[str, str, str, str]]:
    """The cups of these pours on average: name, parts per 1 of paint, share of the pour, water."""
    cups: dict[str, list[Cup]] = {}
    for record in records:
        for cup in record.cups or ():
            cups.setdefault(cup.name, []).append(cup)
    return [(name, *_cup(held, formatter)) for name, held in cups.items()]


def _cup(cups: Sequence[Cup], formatter: Formatter) -> tuple[str, str, str]:
    parts = {
        part: mean([cup.parts.get(part, Fraction(0)) for cup in cups])
        for part in dict.fromkeys(part for cup in cups for part in cup.parts)
    }
    words = ", ".join(f"{number(amount, formatter)} {name}" for (_role, name), amount in parts.items())
    share, water = mean([cup.share for cup in cups]), mean([cup.water for cup in cups])
    return words, formatter.percent(int(share * 1_000_000)), formatter.percent(int(water * 1_000_000))
