"""One place that writes quantities, money, days and shares the studio's way, and reads quantities that way too."""

from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache

from babel import Locale
from babel.dates import format_date
from babel.numbers import get_group_symbol
from django.utils import timezone
from django.utils.translation import get_language, to_locale

from studio.errors import InputError
from studio.preferences.models import Studio
from studio.translation import _
from studio.values.allocation import divide_half_up
from studio.values.days import read_day
from studio.values.money import format_money, format_rate
from studio.values.numbers import MINUS, NO_BREAK_SPACE, format_scaled, read_decimal, tidy
from studio.values.quantities import USUAL_SIZES, Reading, format_in_unit, format_quantity, read_quantity
from studio.values.sizes import Size
from studio.values.units import EstimatedSizes, FluidSystem, Measure

# Above these, an amount reads better in the larger unit: 2.5 L rather than 2,500 mL.
COST_OF = 100  # so many base units: a millilitre costs a few pence, which nobody can compare
LARGER_UNIT = {Measure.VOLUME: (1_000_000, "L"), Measure.MASS: (1_000_000, "kg")}


@lru_cache(maxsize=32)
def decimal_comma(locale: str) -> bool:
    """Tell whether a locale writes one and a half as 1,5."""
    symbols = Locale.parse(locale.replace("-", "_")).number_symbols
    return bool(symbols.get("latn", symbols)["decimal"] == ",")


@lru_cache(maxsize=32)
def _percent_signs(locale: str) -> tuple[str, str]:
    """What a locale writes before and after the number of a percentage."""
    pattern = Locale.parse(locale.replace("-", "_")).percent_formats[None]
    return pattern.prefix[0], pattern.suffix[0]


@lru_cache(maxsize=32)
def _way_of_writing_days(locale: str, language: str) -> tuple[str, str]:
    """The studio's order of day, month and year, and the locale whose names of months the reader understands."""
    studios = Locale.parse(locale.replace("-", "_"))
    readers = Locale.parse(to_locale(language)) if language else studios
    return studios.date_formats["medium"].pattern, str(
        studios if readers.language == studios.language else readers
    )


@lru_cache(maxsize=32)
def _way_of_reading_days(locale: str, language: str) -> tuple[str, dict[str, int], str]:
    """The order of day, month and year in figures, names of months by three letters, and the mark between figures."""
    studios = Locale.parse(locale.replace("-", "_"))
    readers = Locale.parse(to_locale(language)) if language else studios
    pattern = studios.date_formats["short"].pattern.lower()
    letters = [letter for letter in pattern if letter in "dmy"]
    marks = [letter for letter in pattern if letter in "./-"]
    names = {
        name.casefold()[:3]: number
        for each in (Locale("en"), studios, readers)
        for number, name in each.months["format"]["wide"].items()
    }
    return "".join(dict.fromkeys(letters)), names, marks[0] if marks else "-"


@dataclass(frozen=True, slots=True)
class Formatter:
    """The studio's way of writing figures."""

    currency: str
    locale: str
    fluid_system: FluidSystem
    sizes: EstimatedSizes = USUAL_SIZES

    @classmethod
    def of(cls, studio: Studio) -> "Formatter":
        sizes = EstimatedSizes(studio.drop_size, studio.splash_size)
        return cls(studio.currency, studio.locale, FluidSystem(studio.fluid_system), sizes)

    @property
    def decimal_comma(self) -> bool:
        return decimal_comma(self.locale)

    @property
    def groups_by_point(self) -> bool:
        """Whether the studio's way of writing numbers has a point between thousands: 1.250."""
        return get_group_symbol(self.locale.replace("-", "_")) == "."

    def quantity(self, amount: int, measure: str) -> str:
        """An amount in its base unit: "1,250 mL"; a count stands alone: "2"."""
        return format_quantity(amount, Measure(measure), decimal_comma=self.decimal_comma)

    def tenths(self, amount: int, measure: str) -> str:
        """An amount to a tenth of its base unit, as it is weighed or measured; what is less is written out."""
        rounded = divide_half_up(amount, 100) * 100
        return self.quantity(rounded or amount, measure)

    def short_quantity(self, amount: int, measure: str) -> str:
        """An amount for reading at arm's length: at most one decimal, litres and kilograms when large."""
        larger = LARGER_UNIT.get(Measure(measure))
        if larger and abs(amount) >= larger[0]:
            return format_in_unit(
                divide_half_up(amount, 10_000) * 10_000, larger[1], decimal_comma=self.decimal_comma
            )
        return self.quantity(divide_half_up(amount, 100) * 100, measure)

    def read(
        self,
        text: str,
        measure: str | None = None,
        *,
        density: int | None = None,
        allow_zero: bool = False,
        lone_dot_groups: bool = False,
        echo_comma: bool | None = None,
    ) -> Reading:
        """Read a typed quantity by the studio's ounce and decimal mark. Raises InputError."""
        return read_quantity(
            text,
            fluid_system=self.fluid_system,
            expected=None if measure is None else Measure(measure),
            density=density,
            decimal_comma=self.decimal_comma,
            lone_dot_groups=lone_dot_groups,
            allow_zero=allow_zero,
            sizes=self.sizes,
            echo_comma=echo_comma,
        )

    @property
    def day_order(self) -> str:
        """In which order the studio writes day, month and year in figures: "dmy"."""
        return _way_of_reading_days(self.locale, "")[0]

    def read_day(self, text: str, *, order: str = "") -> date:
        """Read a day: 2026-03-31, 31 Mar 2026, or in figures in the studio's order or another. Raises InputError."""
        usual, months, mark = _way_of_reading_days(self.locale, get_language() or "")
        return read_day(text, order=order or usual, months=months, mark=mark)

    def estimate_in(self, text: str) -> str:
        """An amount as it was typed, where it is an estimate ("3 drops", "a splash"); nothing where it was measured."""
        try:
            is_estimate = self.read(text, allow_zero=True).is_estimate
        except InputError:
            return ""
        return " ".join(text.split()) if is_estimate else ""

    def hours(self, seconds: int) -> str:
        """Seconds as hours to a tenth: "12.5"."""
        tenths = divide_half_up(seconds, 360)
        return format_scaled(tenths, 1, decimal_comma=self.decimal_comma, grouping=True)

    def money(self, amount: int) -> str:
        """An amount of money rounded to the currency's minor unit: "£1,250.00"."""
        return format_money(amount, self.currency, locale=self.locale)

    def size(self, size: Size) -> str:
        """A surface, height first: "20 × 30 cm", "30 × 30 × 1.8 cm", "20 cm round"."""
        sides = [size.height] if size.round else [size.height, size.width]
        typed = [format_scaled(side, 3, decimal_comma=self.decimal_comma) for side in sides]
        if size.depth:
            typed.append(format_scaled(size.depth, 3, decimal_comma=self.decimal_comma))
        words = f"{' × '.join(typed)}{NO_BREAK_SPACE}cm"
        return _("{size} round", size=words) if size.round else words

    def density(self, density: int) -> str:
        """Micrograms per millilitre as "1.065 g/mL"; a scale of the bench tells no more than thousandths."""
        thousandths = divide_half_up(density, 1000)
        number = format_scaled(thousandths, 3, decimal_comma=self.decimal_comma)
        return f"{number}{NO_BREAK_SPACE}g/mL"

    def unit_cost(self, money: int, quantity: int, measure: str) -> str:
        """What something costs: "£2.13 per 100 mL", "£0.42 each"; nothing for an empty quantity."""
        if quantity <= 0:
            return ""
        each = measure == Measure.COUNT
        return format_rate(
            divide_half_up(money * 1000 * (1 if each else COST_OF), quantity),
            self.currency,
            "" if each else f"{COST_OF}{NO_BREAK_SPACE}{Measure(measure).base_unit.sign}",
            locale=self.locale,
        )

    def day(self, day: date | None) -> str:
        """A day: "12 Mar 2026"."""
        return format_date(day, *_way_of_writing_days(self.locale, get_language() or "")) if day else ""

    def moment(self, at: datetime | None) -> str:
        """A day and the time of the studio's clock: "12 Mar 2026, 14:05"."""
        local = timezone.localtime(at) if at else None
        return f"{self.day(local.date())}, {local:%H:%M}" if local else ""

    def percent_sign(self) -> str:
        """What stands after the number of a percentage: "%", in German " %"."""
        return _percent_signs(self.locale)[1] or "%"

    def percent(self, millionths: int) -> str:
        """A share in millionths as a percentage with at most one decimal: "41.7%", in German "41,7 %"."""
        tenths = divide_half_up(millionths, 1000)
        whole, tenth = divmod(abs(tenths), 10)
        sign = MINUS if tenths < 0 else ""
        separator = "," if self.decimal_comma else "."
        before, after = _percent_signs(self.locale)
        return f"{before}{sign}{whole}{separator + str(tenth) if tenth else ''}{after}"


def read_percent(text: str, *, decimal_comma: bool) -> int:
    """Read "20", "20%" or "2.9 %" into millionths.

    Raises InputError for anything that is not between 0 and 100, or has more than four decimals.
    """
    tidied = tidy(text, example="20%").removesuffix("%").rstrip()
    value = read_decimal(tidied, decimal_comma=decimal_comma, lone_dot_groups=False)
    millionths = value * 10_000
    if millionths.denominator != 1:
        raise InputError(_("“{text}” has too many decimals: at most four here.", text=text))
    if millionths > 1_000_000:
        raise InputError(_("“{text}” is more than 100%.", text=text))
    return int(millionths)
