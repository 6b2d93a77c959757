"""Flow cups: from the seconds in which a cup empties to a kinematic viscosity, to compare batches at one temperature.

Formulas of ISO 2431 (23 °C) and ASTM D1200 (25 °C), from memory; the tests hold them against published tables. They
are for liquids that flow alike fast or slow. Pouring paint thins as it is stirred, so the figure only says which of
two batches is thinner. ISO's 5 mm cup is left out: no table to check its formula against was at hand.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from inventory.errors import InventoryError
from studio.translation import _

SAME_TEMPERATURE = Fraction(1, 2)  # °C apart, as ISO 2431 lets a test vary


@dataclass(frozen=True, slots=True)
class FlowCup:
    """One cup: v = slope · (t − start) − drag / t in mm²/s, for times from `shortest` to `longest` seconds."""

    name: str
    slope: Fraction
    start: Fraction
    drag: int
    shortest: int
    longest: int = 100

    def viscosity(self, seconds: Fraction) -> Fraction:
        """Kinematic viscosity in mm²/s. Raises InventoryError outside the cup's range."""
        if not self.shortest <= seconds <= self.longest:
            raise InventoryError(
                _(
                    "{cup}: only {shortest} to {longest} seconds can be converted. Use another cup.",
                    cup=self.name,
                    shortest=self.shortest,
                    longest=self.longest,
                )
            )
        return self.formula(seconds)

    def formula(self, seconds: Fraction) -> Fraction:
        return self.slope * (seconds - self.start) - self.drag / seconds


def _iso(number: int, slope: str, drag: int) -> FlowCup:
    return FlowCup(f"ISO {number} mm", Fraction(slope), Fraction(0), drag, 30)


def _astm(number: int, slope: str, start: str, shortest: int) -> FlowCup:
    return FlowCup(f"ASTM {number}", Fraction(slope), Fraction(start), 0, shortest)


# ISO 2431 advises 30 to 100 s; ASTM D1200 55, 40 or 20 to 100 s.
CUPS = {
    **{("ISO", number): _iso(number, slope, drag) for number, slope, drag in (
        (3, "0.443", 200), (4, "1.37", 200), (6, "6.90", 570),
    )},
    **{("ASTM", number): _astm(number, slope, start, shortest) for number, slope, start, shortest in (
        (1, "0.49", "35.0", 55), (2, "1.44", "18.0", 40), (3, "2.31", "6.58", 20), (4, "3.85", "4.49", 20),
        (5, "12.1", "2.00", 20),
    )},
}  # fmt: skip

_CUP = re.compile(
    r"\b(?:(?P<iso>ISO)(?:\s*2431)?\W*(?P<mm>\d)\s?mm"
    r"|(?P<astm>ASTM)(?:\s*D\s?1200)?\W*(?:cup\s+)?(?:no\.?\s*|#)?(?P<number>\d))\b",
    re.IGNORECASE,
)
_SECONDS = re.compile(r"(?<![\d.,])(\d{1,3}(?:[.,]\d)?)\s?(?:s|sec|seconds)\b", re.IGNORECASE)
_DEGREES = re.compile(r"(?<![\d.,])(\d{1,2}(?:[.,]\d)?)\s?°?\s?C\b")


@dataclass(frozen=True, slots=True)
class FlowReading:
    """What a cup said: seconds, at a temperature (°C) if it was noted."""

    cup: FlowCup
    seconds: Fraction
    temperature: Fraction | None

    @property
    def viscosity(self) -> Fraction:
        return self.cup.viscosity(self.seconds)


def read_flow_cup(text: str) -> FlowReading | None:
    """A flow cup's seconds out of a note on consistency, such as "ISO 4 mm, 42 s, 23 °C"; None where there are none."""
    cup, seconds = _CUP.search(text), _SECONDS.search(text)
    if cup is None or seconds is None:
        return None
    known = CUPS.get(("ISO", int(cup["mm"])) if cup["iso"] else ("ASTM", int(cup["number"])))
    if known is None:
        return None
    degrees = _DEGREES.search(text)
    return FlowReading(known, _number(seconds[1]), _number(degrees[1]) if degrees else None)


def flow_words(text: str) -> str:
    """What the seconds in a note come to, or why they cannot be converted; empty where there are none."""
    reading = read_flow_cup(text)
    if reading is None:
        return ""
    try:
        viscosity = reading.viscosity
    except InventoryError as refusal:
        return str(refusal)
    if reading.temperature is None:
        return _("about {n} mm²/s; add the temperature to compare it", n=round(viscosity))
    return _("about {n} mm²/s at that temperature", n=round(viscosity))


def viscosity_in(text: str) -> int | None:
    """The viscosity that a note comes to, in whole mm²/s; None where none can be worked out."""
    reading = read_flow_cup(text)
    try:
        return round(reading.viscosity) if reading else None
    except InventoryError:
        return None


def _number(text: str) -> Fraction:
    return Fraction(text.replace(",", "."))


def are_comparable(readings: Sequence[FlowReading]) -> bool:
    """Whether all were taken at one temperature: a paint is thinner when it is warm."""
    known = [each.temperature for each in readings if each.temperature is not None]
    return len(known) == len(readings) and (not known or max(known) - min(known) <= SAME_TEMPERATURE)
