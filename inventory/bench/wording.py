"""The bench in words and figures, for its screens and its paper."""

from inventory.bench.cautions import afterwards, before_mixing, before_pouring, hazards_of
from inventory.bench.papers import MixingSheet, SheetCup, SheetLine, SheetPart
from inventory.bench.queries import Bench, BenchCup, BenchLine, BenchPart, BenchPour, Origin
from studio.papers.typography import Colour
from studio.preferences.formatting import Formatter
from studio.preferences.models import MeasuresBy, Studio
from studio.translation import _, ngettext
from studio.values.allocation import divide_half_up
from studio.values.units import Measure

UNKNOWN = "–"


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
        if part.origin is Origin.JAR:
            return _("{name}, already mixed", name=part.material.name)
        return part.material.name

    def note(self, cup: BenchCup) -> str:
        """What should be known of a cup before it is mixed."""
        sentences = []
        if cup.is_jug:
            sentences.append(_("Mix this first: it goes into the cups."))
        if cup.water_share and cup.mixed:
            share = self.formatter.percent(cup.water_share)
            limit = self.formatter.percent(self.studio.water_limit)
            sentences.append(_("{share} of it is water; your limit is {limit}.", share=share, limit=limit))
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
