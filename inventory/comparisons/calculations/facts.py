"""What is recorded of a pour that a comparison holds against others, and how far apart is still alike.

The tolerances are our own choice. All comparisons are exact.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction


class Role(StrEnum):
    """What a part of a cup is."""

    PAINT = "paint"
    MEDIUM = "medium"
    WATER = "water"
    ADDITIVE = "additive"
    OTHER = "other"


class Fact(StrEnum):
    """What can differ between two pours."""

    SURFACE = "surface"
    SIDES = "sides"
    TECHNIQUE = "technique"
    ORDER = "order"
    POURED_OVER = "poured_over"
    HANDS = "hands"
    AMOUNT = "amount"  # poured per area, mL/cm²
    TEMPERATURE = "temperature"  # °C
    HUMIDITY = "humidity"  # %
    MIX_AGE = "mix_age"  # hours
    COLOURS = "colours"  # which cups there are
    PART = "part"  # of one cup, per 1 of paint
    CUP_SHARE = "cup_share"  # of the pour
    DAY = "day"
    COMPARED = "compared"
    LOT = "lot"
    TIME = "time"  # of day, hours
    TURN = "turn"  # earlier or later in the session


class Varied(StrEnum):
    """What differs on purpose."""

    MEDIUM = "medium"
    RATIO = "ratio"
    WATER = "water"
    ADDITIVE = "additive"
    PAINT = "paint"
    AMOUNT = "amount"
    TECHNIQUE = "technique"
    SURFACE = "surface"
    ORDER = "order"
    HANDS = "hands"
    TOOL = "tool"
    OTHER = "other"


ROLES = {
    Varied.MEDIUM: Role.MEDIUM,
    Varied.WATER: Role.WATER,
    Varied.ADDITIVE: Role.ADDITIVE,
    Varied.PAINT: Role.PAINT,
}
WORDS = (Fact.SURFACE, Fact.SIDES, Fact.TECHNIQUE, Fact.ORDER, Fact.POURED_OVER, Fact.HANDS)
# What no record shows: what the arms are called is all that says it.
STATED = (Varied.ORDER, Varied.HANDS, Varied.TOOL, Varied.OTHER)
NUMBERS = (Fact.AMOUNT, Fact.TEMPERATURE, Fact.HUMIDITY, Fact.MIX_AGE)


@dataclass(frozen=True, slots=True)
class Tolerance:
    """Alike when no further apart than `floor`, or than `share` (thousandths) of the larger."""

    floor: Fraction
    share: int = 0

    def alike(self, a: Fraction, b: Fraction) -> bool:
        apart = abs(a - b)
        return apart <= self.floor or apart * 1000 <= self.share * max(abs(a), abs(b))


TOLERANCES = {
    Fact.PART: Tolerance(Fraction(5, 100), 50),
    Fact.CUP_SHARE: Tolerance(Fraction(2, 100), 50),
    Fact.AMOUNT: Tolerance(Fraction(10, 1000), 100),
    Fact.TEMPERATURE: Tolerance(Fraction(2)),
    Fact.HUMIDITY: Tolerance(Fraction(10)),
    Fact.MIX_AGE: Tolerance(Fraction(4), 250),
    Fact.TIME: Tolerance(Fraction(2)),
}

Part = tuple[Role, str]


@dataclass(frozen=True, slots=True)
class Cup:
    """What was poured of one paint: parts by role and material per 1 of paint, and its share of the pour.

    `water` is the share of added water in it, that in a home-made medium included; shown, not held.
    """

    name: str
    parts: Mapping[Part, Fraction]
    share: Fraction
    water: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True)
class PourRecord:
    """What is recorded of one pour; None where it is not. `turn` is its place in the session.

    A word may be blank: that is recorded too ("not poured over anything").
    """

    label: str
    arm: int
    session: str
    turn: int
    cups: tuple[Cup, ...] | None
    words: Mapping[Fact, str | None]
    numbers: Mapping[Fact, Fraction | None]
    lots: Mapping[str, frozenset[str]] = field(default_factory=dict)
    time: Fraction | None = None  # of day, hours
    consistency: tuple[str, ...] = ()  # of the cups, as it was noted
    density: Fraction | None = None  # of what was poured, g/mL
