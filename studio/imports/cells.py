"""The cells of one row, read into facts: what cannot be read is noted with its column, and the rest is read on."""

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import TYPE_CHECKING, Any, TypeVar

from django.db.models import TextChoices
from django.utils import translation

from studio.errors import InputError, refuse_all
from studio.imports.headings import EITHER, is_either_order
from studio.preferences.formatting import Formatter, read_percent
from studio.translation import _
from studio.values.money import read_money
from studio.values.numbers import read_decimal, read_small_whole, tidy
from studio.values.quantities import Reading
from studio.values.sizes import Size, read_size
from studio.values.units import Measure

if TYPE_CHECKING:
    from django.utils.functional import _StrOrPromise

Value = TypeVar("Value")
YES = frozenset(["yes", "y", "true", "1", "x", "ja", "j", "wahr", "✓"])
NO = frozenset(["no", "n", "false", "0", "nein", "falsch", "-"])
LONGEST_SHOWN = 60
# Three decimals may be thousands: 1.250 ml.
_LONE_MARK = re.compile(r"(?<![0-9.,])([1-9][0-9]{0,2})([.,])([0-9]{3})(?![0-9.,])")
_BARE_OUNCE = re.compile(
    r"(?<![a-z])(?<!fl )(?<!fl\. )(?<!fl\.)(?<!fluid )(?:oz|ounces?)(?![a-z])(?!\.? ?(?:weight|wt))",
    re.IGNORECASE,
)
_BARE_NUMBER = re.compile(r"[0-9][0-9.,' ]*(?:/[0-9]+)?")


def folded(text: str) -> str:
    """A name as it is compared: capitals and doubled spaces do not matter."""
    return " ".join(text.casefold().split())


def reading_formatter(formatter: Formatter, *, decimal_comma: bool) -> Formatter:
    """A studio's formatter that reads numbers as a table writes them."""
    if formatter.decimal_comma == decimal_comma:
        return formatter
    return replace(formatter, locale="de_DE" if decimal_comma else "en_GB")


@dataclass(slots=True)
class Cells:
    """One row's cells by the keys of their columns. `numbers` reads figures as the table writes them."""

    texts: Mapping[str, str]
    numbers: Formatter
    days: Formatter
    key: str = ""  # of the row, from its contents: the same in the same file
    bracketed: Mapping[str, str] = field(default_factory=dict)  # what stands in brackets after headings
    point_groups: bool = False  # whether 1.000 is a thousand
    doubtful_marks: str = ""  # before which three digits may be decimals or thousands
    day_order: str = ""  # in which its days in figures are written; blank for the studio's
    problems: list[InputError] = field(default_factory=list)
    new: str = ""  # the name of what the row would add, where its kind of import may add any

    def __getitem__(self, key: str) -> str:
        return self.texts.get(key, "")

    def note(self, key: str, problem: "InputError | _StrOrPromise") -> None:
        """Something is wrong with a cell."""
        self.problems.append(InputError(str(problem), field=key))

    def beside(self) -> "Cells":
        """The same cells to try out: what is wrong with them is not noted here."""
        return replace(self, problems=[])

    def refuse(self) -> None:
        """Raise InputError with everything that is wrong with the row; nothing where nothing is."""
        refuse_all(self.problems)

    def read(
        self, key: str, reader: Callable[[str], Value], *, required: "_StrOrPromise" = ""
    ) -> Value | None:
        """What a cell says by a reader; None for a blank one, which is a problem where `required` says what to do."""
        text = self[key]
        if not text:
            if required:
                self.note(key, required)
            return None
        try:
            return reader(text)
        except InputError as problem:
            self.note(key, problem)
            return None

    def words(self, key: str, *, most: int, required: "_StrOrPromise" = "") -> str:
        """A few words that their column has room for."""

        def fitting(text: str) -> str:
            if len(text) > most:
                raise InputError(_("That is longer than {most} characters. Shorten it.", most=most))
            return text

        return self.read(key, fitting, required=required) or ""

    def with_unit(self, key: str) -> str:
        """An amount as typed; a bare number with the unit of the column beside it, or in brackets in the heading."""
        text, unit = self[key], self[f"{key}_unit"] or self.bracketed.get(key, "")
        return f"{text} {unit}" if unit and _BARE_NUMBER.fullmatch(text) else text

    def quantity(
        self, key: str, measure: str | None = None, *, density: int | None = None, allow_zero: bool = False
    ) -> Reading | None:
        """An amount, with its unit; read as the table writes numbers, and said again as the studio does."""
        text = self.with_unit(key)
        return self.read(
            key, lambda _cell: self.amount(text, measure, density=density, allow_zero=allow_zero)
        )

    def amount(
        self, text: str, measure: str | None = None, *, density: int | None = None, allow_zero: bool = False
    ) -> Reading:
        """An amount that stands in a cell. Raises InputError, also for one that is open to two readings."""
        lone = _LONE_MARK.search(text)
        if lone and lone[2] in self.doubtful_marks:
            small = f"{lone[1]}{'.,'[self.numbers.decimal_comma]}{lone[3]}".rstrip("0").rstrip(".,")
            raise InputError(
                _(
                    "“{text}” may be {small} or {large}: the rest of the table does not tell. Write one of them.",
                    text=text[:LONGEST_SHOWN],
                    small=small if len(small) != len(lone[0]) else f"{small}0",
                    large=f"{lone[1]}{lone[3]}",
                )
            )
        if measure != Measure.MASS and _BARE_OUNCE.search(" ".join(text.split())):
            raise InputError(
                _(
                    "“{text}” may be a weight or fluid ounces. Write fl oz, or the weight in g.",
                    text=text[:LONGEST_SHOWN],
                )
            )
        return self.numbers.read(
            text,
            measure,
            density=density,
            allow_zero=allow_zero,
            lone_dot_groups=self.point_groups,
            echo_comma=self.days.decimal_comma,
        )

    def money(self, key: str, currency: str, *, required: "_StrOrPromise" = "") -> int | None:
        """Money in millionths of a currency."""
        comma = self.numbers.decimal_comma
        return self.read(key, lambda text: read_money(text, currency, decimal_comma=comma), required=required)

    def day(self, key: str, *, required: "_StrOrPromise" = "") -> date | None:
        """A day, in the table's order of day, month and year."""

        def read(text: str) -> date:
            if self.day_order != EITHER:
                return self.days.read_day(text, order=self.day_order)
            if is_either_order(text):
                shown = text[:LONGEST_SHOWN]
                raise InputError(
                    _(
                        "“{text}” may be two days: the table writes both orders. Enter it as 2027-03-31.",
                        text=shown,
                    )
                )
            return self._day_in_either_order(text)

        return self.read(key, read, required=required)

    def _day_in_either_order(self, text: str) -> date:
        try:
            return self.days.read_day(text, order="dmy")
        except InputError:
            return self.days.read_day(text, order="mdy")

    def whole(self, key: str, *, least: int = 0, most: int = 32_767) -> int | None:
        """A whole number."""

        def read(text: str) -> int:
            number = read_small_whole(text)
            if number is None or not least <= number <= most:
                shown = text[:LONGEST_SHOWN]
                raise InputError(
                    _(
                        "“{text}” is not a whole number from {least} to {most}.",
                        text=shown,
                        least=least,
                        most=most,
                    )
                )
            return number

        return self.read(key, read)

    def percent(self, key: str) -> int | None:
        """A share in millionths."""
        comma = self.numbers.decimal_comma
        return self.read(key, lambda text: read_percent(text, decimal_comma=comma))

    def scaled(self, key: str, *, unit: str, places: int = 6) -> int | None:
        """A number above zero, kept in so many decimals, with its unit after it or without."""

        def read(text: str) -> int:
            number = tidy(text, example="1").removesuffix(unit).rstrip()
            value = read_decimal(number, decimal_comma=self.numbers.decimal_comma) * 10**places
            if value <= 0 or value.denominator != 1 or value > 10**15:
                shown = text[:LONGEST_SHOWN]
                raise InputError(
                    _(
                        "“{text}” must be above zero and have at most {most} decimals.",
                        text=shown,
                        most=places,
                    )
                )
            return int(value)

        return self.read(key, read)

    def size(self, key: str) -> Size | None:
        """A surface's size, height first."""
        comma = self.numbers.decimal_comma
        return self.read(key, lambda text: read_size(text, decimal_comma=comma))

    def is_size(self, key: str) -> bool:
        """Whether a cell can only be a surface's size, such as 20 x 30 cm."""
        try:
            return bool(read_size(self[key], decimal_comma=self.numbers.decimal_comma))
        except InputError:
            return False

    def yes(self, key: str) -> bool | None:
        """A yes or a no."""

        def read(text: str) -> bool:
            if (word := folded(text)) in YES | NO:
                return word in YES
            raise InputError(_("“{text}” is neither yes nor no.", text=text[:LONGEST_SHOWN]))

        return self.read(key, read)

    def choice(self, key: str, words: Mapping[str, Value], *, required: "_StrOrPromise" = "") -> Value | None:
        """One of several words, as `words_of` lists them."""

        def read(text: str) -> Value:
            if folded(text) in words:
                return words[folded(text)]
            known = ", ".join(dict.fromkeys(_first_words(words)))
            if not known:
                raise InputError(_("“{text}” is not known here. Add it first.", text=text[:LONGEST_SHOWN]))
            raise InputError(
                _("“{text}” is not known here. Use {words}.", text=text[:LONGEST_SHOWN], words=known)
            )

        return self.read(key, read, required=required)


def _first_words(words: Mapping[str, Any]) -> Iterable[str]:
    """The first word for each thing that several words mean."""
    seen: list[Any] = []
    for word, value in words.items():
        if value not in seen:
            seen.append(value)
            yield word


def words_of(choices: type[TextChoices]) -> dict[str, str]:
    """What a table may call each of some choices: in the reader's language, in English, or by its code."""
    with translation.override(None):
        english = {folded(str(choice.label)): str(choice.value) for choice in choices}
    named = {folded(str(choice.label)): str(choice.value) for choice in choices}
    return named | english | {str(choice.value): str(choice.value) for choice in choices}
