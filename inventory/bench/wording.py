"""The bench in words and figures, for its screens and its paper."""

from dataclasses import dataclass, field

from django.utils.translation import gettext_lazy

from inventory.bench.calculations import Step, StepKind
from inventory.bench.cautions import (
    Caution,
    afterwards,
    before_mixing,
    before_pouring,
    data_sheets,
    hazards_of,
)
from inventory.bench.papers import MixingSheet, SheetCup, SheetLine, SheetPart
from inventory.bench.queries import Bench, BenchCup, BenchLine, BenchPart, BenchPour, Origin
from studio.papers.typography import Colour
from studio.preferences.formatting import Formatter
from studio.preferences.models import MeasuresBy, Studio
from studio.translation import _, ngettext
from studio.values.allocation import divide_half_up
from studio.values.units import Measure

UNKNOWN = "–"
OTHER_STEPS = {
    StepKind.READY: gettext_lazy("Gloves on, a window open, the table level."),
    StepKind.REST: gettext_lazy("Let the cups rest, so that bubbles rise."),
    StepKind.FINISH: gettext_lazy("Say what becomes of the rest, and log the session."),
}


@dataclass(slots=True)
class Screen:
    """One step as it stands on the screen: what to take, how much of it, and what then shows on the scale."""

    number: int
    kind: StepKind
    cup: BenchCup | None = None
    cup_name: str = ""
    pour: BenchPour | None = None
    place: int | None = None
    colour: str = ""
    name: str = ""
    amount: str = ""
    other: str = ""
    shows: str = ""
    note: str = ""
    doses: list[tuple[BenchCup, int, str]] = field(default_factory=list)
    cautions: list[Caution] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class StepInWords:
    """One step, said in a sentence."""

    kind: StepKind
    cup: int | None
    pour: int | None
    text: str


class BenchWords:
    """Writes the amounts of a bench to a tenth, and never in litres, which would hide what the scale must show."""

    def __init__(self, bench: Bench, studio: Studio) -> None:
        self.bench, self.studio, self.formatter = bench, studio, Formatter.of(studio)
        self.by_weight = studio.measures_by == MeasuresBy.WEIGHT

    def amount(self, quantity: int | None, measure: str = Measure.VOLUME) -> str:
        if quantity is None:
            return UNKNOWN
        return self.formatter.quantity(divide_half_up(quantity, 100) * 100, measure)

    def exactly(self, quantity: int | None, measure: str) -> str:
        """An amount that was rounded already to what can be measured out."""
        return UNKNOWN if quantity is None else self.formatter.quantity(quantity, measure)

    def volume(self, part: BenchPart) -> str:
        if part.drops:
            return ngettext("≈ {n} drop", "≈ {n} drops", part.drops, n=part.drops)
        return self.exactly(part.measured, Measure.VOLUME)

    def weight(self, part: BenchPart) -> str:
        return self.exactly(part.weighed, Measure.MASS)

    def shows(self, part: BenchPart) -> str:
        """What the scale or the measuring cup shows after a part, by what the studio measures with."""
        if self.by_weight:
            return self.exactly(part.scale_shows, Measure.MASS)
        return self.exactly(part.cup_shows, Measure.VOLUME)

    @property
    def shows_what(self) -> str:
        return _("Scale shows") if self.by_weight else _("Cup shows")

    @property
    def how_to_read(self) -> str:
        if self.by_weight:
            return _(
                "Put each empty cup on the scale and zero it once; then the scale shows the running total."
            )
        return _(
            "Pour the parts into one measuring cup, in this order; after each it shows the running total."
        )

    def cup(self, cup: BenchCup) -> str:
        """What a cup is called."""
        return _("Jug {label}", label=cup.label) if cup.is_jug else _("Cup {label}", label=cup.label)

    def part(self, part: BenchPart) -> str:
        name = part.material.name
        if part.material.pk in self.bench.lots:
            name = f"{name} {self.bench.lots[part.material.pk].label}"
        return _("{name}, already mixed", name=name) if part.origin is Origin.JAR else name

    def note(self, cup: BenchCup) -> str:
        """What should be known of a cup before it is mixed."""
        sentences = []
        if cup.is_jug:
            sentences.append(_("Mix this first: it goes into the cups."))
        if cup.water_share and cup.mixed:
            share = self.formatter.percent(cup.water_share)
            limit = self.formatter.percent(self.studio.water_limit)
            sentences.append(_("{share} of it is water; the limit is {limit}.", share=share, limit=limit))
            if cup.water_share > self.studio.water_limit:
                sentences.append(str(self.studio.water_warning))
        if self.by_weight and any(part.scale_shows is None for part in cup.parts):
            sentences.append(_("Without a density there is no weight: measure by volume."))
        return " ".join(sentences)

    def pour_on_each(self, pour: BenchPour) -> str:
        """What one surface takes, of all cups together and of each."""
        each = self.amount(pour.volume)
        if len(pour.doses) == 1:
            cup = self.cup(self.bench.cups[pour.doses[0].cup])
            return _("Pour {amount} on each from {cup}.", amount=each, cup=cup)
        doses = ", ".join(
            f"{self.bench.cups[dose.cup].label} {self.amount(dose.volume)}" for dose in pour.doses
        )
        return _("Pour {amount} on each: {doses}.", amount=each, doses=doses)

    def steps(self) -> list[StepInWords]:
        """Every step in a sentence, with what it is about; cups and pours counted from 1."""
        return [
            StepInWords(
                step.kind,
                None if step.cup is None else step.cup + 1,
                None if step.pour is None else step.pour + 1,
                self._sentence(step),
            )
            for step in self.bench.steps
        ]

    def screens(self) -> list[Screen]:
        """Every step as it stands on the screen."""
        return [self._screen(number, step) for number, step in enumerate(self.bench.steps, start=1)]

    def _screen(self, number: int, step: Step) -> Screen:
        cup = None if step.cup is None else self.bench.cups[step.cup]
        screen = Screen(number, step.kind, cup=cup, cup_name=self.cup(cup) if cup else "")
        if cup is not None and step.part is not None:
            part = cup.parts[step.part]
            screen.colour, screen.name = part.material.colour, self.part(part)
            weight, volume = self.weight(part), self.volume(part)
            screen.amount, screen.other = (weight, volume) if self.by_weight else (volume, weight)
            if UNKNOWN in (screen.amount, screen.other):
                screen.amount, screen.other = (volume if weight == UNKNOWN else weight), ""
            shows = self.shows(part)
            screen.shows = "" if shows == UNKNOWN else shows
            screen.cautions = hazards_of([part.material])
        elif cup is not None:
            screen.colour, screen.name, screen.note = cup.material.colour, cup.material.name, self.note(cup)
        if step.pour is not None:
            pour = screen.pour = self.bench.pours[step.pour]
            screen.name, screen.note, screen.amount = (
                self.surface(pour),
                pour.technique.name,
                self.amount(pour.volume),
            )
            screen.doses = [
                (self.bench.cups[dose.cup], dose.cup, self.amount(dose.volume)) for dose in pour.doses
            ]
            is_first = step.pour == 0
            screen.cautions = [before_pouring()] if is_first else []
            screen.place = step.pour
        if step.kind is StepKind.READY:
            screen.cautions = [before_mixing()]
        if step.kind is StepKind.REST:
            screen.cautions = [before_pouring()]
        if step.kind is StepKind.FINISH:
            screen.cautions = [afterwards()]
        return screen

    def cautions(self) -> list[str]:
        every = [before_mixing(), *hazards_of(self.bench.materials), before_pouring(), afterwards()]
        return [*(f"{title}: {text}" for title, text in every), data_sheets()]

    def _sentence(self, step: Step) -> str:
        if step.cup is not None:
            cup = self.bench.cups[step.cup]
            label = f"{self.cup(cup)} ({cup.material.name})"
            if step.kind is StepKind.ZERO:
                return _("{cup}: put it on the scale, empty, and set the scale to zero.", cup=label)
            if step.kind is StepKind.STIR:
                return _("{cup}: stir slowly, until no streak is left.", cup=label)
            return self._added(label, cup.parts[step.part or 0])
        if step.pour is not None:
            pour = self.bench.pours[step.pour]
            return f"{self.surface(pour)}: {self.pour_on_each(pour)}"
        return str(OTHER_STEPS[step.kind])

    def _added(self, label: str, part: BenchPart) -> str:
        return _(
            "{cup}: add {name}, {volume}, {weight}; it shows {reading}.",
            cup=label,
            name=self.part(part),
            volume=self.volume(part),
            weight=self.weight(part),
            reading=self.shows(part),
        )

    def surface(self, pour: BenchPour) -> str:
        """Which of how many alike."""
        return _(
            "{surface}, {number} of {count}", surface=pour.surface.name, number=pour.number, count=pour.count
        )

    def line(self, line: BenchLine) -> str:
        pour = line.first
        heading = f"{line.count} × {pour.surface.name}, {pour.technique.name}"
        return f"{heading} ({pour.arm})" if pour.arm else heading

    def sheet(self) -> MixingSheet:
        """The bench as a paper. What is said of it is the same as on the screen."""
        return MixingSheet(
            shows=self.shows_what,
            cups=[self._sheet_cup(cup) for cup in self.bench.cups],
            lines=[
                SheetLine(line.count, self.line(line), [self.pour_on_each(line.first)])
                for line in self.bench.lines
            ],
            before=[before_mixing(), *hazards_of(self.bench.materials)],
            pouring=[before_pouring()],
            afterwards=[afterwards()],
        )

    def _sheet_cup(self, cup: BenchCup) -> SheetCup:
        parts = [
            SheetPart(self.part(part), self.volume(part), self.weight(part), self.shows(part))
            for part in cup.parts
        ]
        total = self.amount(cup.total, cup.material.measure)
        return SheetCup(
            self.cup(cup) if cup.is_jug else cup.label,
            cup.material.name,
            total,
            colour_of(cup.material.colour),
            parts,
            self.note(cup),
        )

    def how_many(self) -> str:
        count = len(self.bench.pours)
        return ngettext("{n} surface", "{n} surfaces", count, n=count)


def colour_of(typed: str) -> Colour | None:
    """A colour such as #1f5f6b as red, green and blue from 0 to 1."""
    if not typed:
        return None
    red, green, blue = (int(typed[place : place + 2], 16) / 255 for place in (1, 3, 5))
    return red, green, blue
