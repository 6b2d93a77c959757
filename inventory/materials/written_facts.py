"""What a line says about what was bought, once `written_lines` has read it. No Django."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from studio.translation import _, noop
from studio.values.units import UNITS

LONGEST_LINE = 200
MOST_WRITTEN = 60
MOST_PACKS_WRITTEN = 1_000
EACH_SIGN = UNITS["each"].sign
ONE_PIECE = f"1 {EACH_SIGN}"  # nothing packed: a board, a canvas


class PriceIs(StrEnum):
    """What the price of a line is for."""

    EACH = "each"
    TOTAL = "total"


class Doubt(StrEnum):
    """Why somebody should look at a line again."""

    EACH_OR_TOTAL = "each_or_total"
    PACKS = "packs"
    TWO_PRICES = "two_prices"
    NO_PRICE = "no_price"
    NO_AMOUNT = "no_amount"
    NO_NAME = "no_name"
    OUNCES = "ounces"
    BARE_NUMBER = "bare_number"
    PART_LEFT = "part_left"


_ADVICE: Mapping[Doubt, str] = {
    Doubt.PACKS: noop("Read as so many packs of that size. If it is one pack of several, change it."),
    Doubt.TWO_PRICES: noop("There were two prices. Check which one counts."),
    Doubt.NO_PRICE: noop("No price was found."),
    Doubt.NO_AMOUNT: noop("No amount was found."),
    Doubt.NO_NAME: noop("No name was found."),
    Doubt.OUNCES: noop("Enter fl oz for a liquid, oz weight if it is weighed."),
    Doubt.BARE_NUMBER: noop("The last number was read as the price."),
    Doubt.PART_LEFT: noop("Not full: enter the amount that is left, and what that part cost."),
}


@dataclass(frozen=True, slots=True)
class WrittenLine:
    """What one line says. `amount` ("500 ml") and `price` ("7.20") stay as written, for the usual readers."""

    text: str
    name: str = ""
    amount: str = ""
    packs: int = 1
    price: str = ""
    price_is: PriceIs | None = None
    is_extra: bool = False  # postage, tax, a discount: no goods
    doubts: tuple[Doubt, ...] = ()
    hint: str = ""  # what else it may be, to whoever knows the materials
    is_carriage: bool = False  # of the extras, what was paid for the way
    sign: str = ""  # of a currency, or its code, beside any of the line's figures

    @property
    def is_singly(self) -> bool:
        """Whether its "packs" are pieces that come without one: ten boards stand together, ten bottles do not."""
        return self.amount == ONE_PIECE

    @property
    def advice(self) -> list[str]:
        """What to look at again, in words."""
        advice = [_(_ADVICE[doubt]) for doubt in self.doubts if doubt in _ADVICE]
        return [*advice, self.hint] if self.hint else advice
