"""Money as whole millionths of a currency unit: read as typed, rounded exactly, shown by locale."""

import re
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from types import MappingProxyType

from babel import Locale
from babel.numbers import NumberPattern, get_currency_symbol, parse_pattern

from studio.errors import InputError
from studio.translation import _
from studio.values.allocation import divide_half_up
from studio.values.numbers import MINUS, NO_BREAK_SPACE, format_scaled, read_decimal, tidy

SCALE_PLACES = 6
SCALE = 10**SCALE_PLACES
LARGEST_AMOUNT = 9 * 10**15
MOST_RATE_PLACES = (
    18  # decimals of an exchange rate; its digits, read as one whole number, are up to LARGEST_AMOUNT
)
# A unit cost is shown to the minor unit; one too small for that to two significant figures, in at most this many
# decimals beyond it. Nobody buys, mixes or sells by more.
RATE_EXTRA_PLACES = 4
RATE_SIGNIFICANT_FIGURES = 2

# ISO 4217 list one. BGN left it in 2026 and stays here for the purchases made before.
_CODES_BY_PLACES: Mapping[int, str] = {
    0: "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF",
    2: """
        AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BGN BMD BND BOB BOV BRL BSD BTN BWP BYN BZD CAD CDF
        CHE CHF CHW CNY COP COU CRC CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GTQ
        GYD HKD HNL HTG HUF IDR ILS INR IRR JMD KES KGS KHR KPW KYD KZT LAK LBP LKR LRD LSL MAD MDL MGA MKD
        MMK MNT MOP MRU MUR MVR MWK MXN MXV MYR MZN NAD NGN NIO NOK NPR NZD PAB PEN PGK PHP PKR PLN QAR RON
        RSD RUB SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TOP TRY TTD TWD TZS
        UAH USD USN UYU UZS VED VES WST XAD XCD XCG YER ZAR ZMW ZWG
    """,
    3: "BHD IQD JOD KWD LYD OMR TND",
    4: "CLF UYW",
}
MINOR_UNITS: Mapping[str, int] = MappingProxyType(
    {code: places for places, codes in _CODES_BY_PLACES.items() for code in codes.split()}
)

# Signs that several currencies share, or that people type though the formatted sign is longer.
_PLAIN_SIGNS: Mapping[str, str] = {
    "£": "GBP EGP FKP GIP SDG SHP SSP SYP LBP",
    "$": """
        USD AUD CAD NZD HKD SGD TWD MXN ARS CLP COP UYU DOP CUP BBD BMD BND BSD BZD FJD GYD JMD KYD LRD NAD
        SBD SRD TTD XCD
    """,
    "€": "EUR",
    "¥": "JPY CNY",
    "￥": "JPY CNY",
    "kr": "SEK NOK DKK ISK",
    "Fr": "CHF",
    "R": "ZAR",
    "zł": "PLN",
    "Kč": "CZK",
    "Ft": "HUF",
    "lei": "RON",
    "₺": "TRY",
    "₽": "RUB",
}


def code_of_sign(sign: str, *likely: str) -> str:
    """The code of a currency's sign: of a likely one that has it, or of the one that is meant; "" where none is.

    A pound sign by itself is sterling: the other pounds are written with their country's letters (common practice).
    """
    codes = _PLAIN_SIGNS.get(sign, "").split()
    usual = codes[0] if len(codes) == 1 or sign == "£" else ""
    return next((code for code in likely if code in codes), usual)


def minor_units(currency: str) -> int:
    """Return how many decimals the currency's prices have (ISO 4217); raises InputError for unknown codes."""
    try:
        return MINOR_UNITS[currency]
    except KeyError:
        raise InputError(
            _(
                "“{currency}” is not a known currency code. Enter its three capital letters, such as GBP.",
                currency=currency,
            )
        ) from None


@lru_cache(maxsize=256)
def _typed_pattern(currency: str) -> re.Pattern[str]:
    """An amount beside this currency's own code or sign, a minus before or after a leading sign."""
    plain = {sign for sign, codes in _PLAIN_SIGNS.items() if currency in codes.split()}
    formatted = {" ".join(get_currency_symbol(currency, locale).split()) for locale in ("en", "en_GB")}
    signs = sorted(plain | formatted | {currency})
    # "£.50" is fifty pence, but "kr.50" may be meant as fifty: letters take a point only before a space.
    leading = "|".join(
        re.escape(sign) + (r"(?:\.(?= )|(?!\.))" if sign[-1].isalpha() else "") for sign in signs
    )
    trailing = "|".join(re.escape(sign) for sign in signs)
    return re.compile(
        rf"(?P<minus>-?) ?(?:(?:{leading}) ?)?(?P<late_minus>-?) ?"
        rf"(?P<number>[0-9.,][0-9., ]*?) ?(?:(?:{trailing})\.?)?",
        re.IGNORECASE,
    )


def read_money(text: str, currency: str, *, decimal_comma: bool = False) -> int:
    """Read typed money such as "12.50", "£1,250.00" or "12.50 GBP" into millionths of the currency unit.

    It may have the currency's own decimals. Raises InputError, whose text says what to type instead.
    """
    places = minor_units(currency)
    example = money_input_text(12_500_000 if places else 12_000_000, currency, decimal_comma=decimal_comma)
    tidied = tidy(text, example=example)
    wording = {"text": tidied, "currency": currency, "most": places, "example": example}
    match = _typed_pattern(currency).fullmatch(tidied.replace("\u2212", "-"))
    if match is None or (match["minus"] and match["late_minus"]):
        raise InputError(
            _("“{text}” is not an amount in {currency}. Enter for example {example}.", **wording)
        )
    value = read_decimal(match["number"], decimal_comma=decimal_comma, lone_dot_groups=places < 3)
    if (value * 10**places).denominator != 1:
        raise InputError(
            _("“{text}” has too many decimals: at most {most} here, such as {example}.", **wording)
        )
    if value and (match["minus"] or match["late_minus"]):
        raise InputError(_("The amount cannot be below zero. Enter for example {example}.", **wording))
    return _in_range(int(value * SCALE))


def _in_range(amount: int) -> int:
    if abs(amount) > LARGEST_AMOUNT:
        raise InputError(_("That number is too large: an amount can be up to 9 billion."))
    return amount


def money_input_text(amount: int, currency: str, *, decimal_comma: bool = False) -> str:
    """Write millionths as plain text that read_money reads back exactly, for filling in a form."""
    return format_scaled(amount, SCALE_PLACES, decimal_comma=decimal_comma, at_least=minor_units(currency))


def round_to_minor(amount: int, currency: str) -> int:
    """Return millionths rounded half away from zero to the currency's smallest price step."""
    step = minor_unit(currency)
    return divide_half_up(amount, step) * step


def share_to_minor(amounts: Sequence[int], currency: str) -> list[int]:
    """Round lines to the minor unit so that they add up to their rounded total (largest remainder).

    Each line goes to the minor unit just below or just above it; a line already whole stays as it is.
    """
    step = minor_unit(currency)
    exact_total = sum(amounts)
    mirror = -1 if exact_total < 0 else 1
    parts = [divmod(mirror * amount, step) for amount in amounts]
    steps = [whole for whole, remainder in parts]
    missing = divide_half_up(abs(exact_total), step) - sum(steps)
    by_remainder = sorted(range(len(parts)), key=lambda index: -parts[index][1])
    for index in by_remainder[:missing]:
        steps[index] += 1
    return [mirror * whole * step for whole in steps]


def rounding_left_over(amounts: Iterable[int], total: int, currency: str) -> int:
    """By how much a printed total differs from the sum of amounts that are each rounded by itself (millionths)."""
    printed = sum(round_to_minor(amount, currency) for amount in amounts)
    return round_to_minor(total, currency) - printed


def minor_unit(currency: str) -> int:
    step: int = 10 ** (SCALE_PLACES - minor_units(currency))
    return step


def read_rate(text: str, *, decimal_comma: bool = False) -> Decimal:
    """Read a typed exchange rate such as "0.0000314", exactly and with as many decimals as were typed.

    Raises InputError, whose text says what to type instead.
    """
    tidied = tidy(text, example="0,86" if decimal_comma else "0.86")
    value = read_decimal(tidied, decimal_comma=decimal_comma)
    places = len(tidied.partition("," if decimal_comma else ".")[2])
    return checked_rate(Decimal(int(value * 10**places)).scaleb(-places))


def checked_rate(rate: Decimal) -> Decimal:
    """An exchange rate as it can be kept: digits and a number of decimals. Raises InputError where it cannot."""
    if not rate.is_finite() or rate <= 0:
        raise InputError(_("An exchange rate must be above zero."))
    fits = rate.adjusted() < MOST_RATE_PLACES and int(rate.as_tuple().exponent) >= -MOST_RATE_PLACES
    if not fits or rate_parts(rate)[0] > LARGEST_AMOUNT:
        raise InputError(
            _(
                "An exchange rate can have up to 15 significant digits and {most} decimals.",
                most=MOST_RATE_PLACES,
            )
        )
    return rate


def rate_parts(rate: Decimal) -> tuple[int, int]:
    """A rate as two whole numbers, its digits and how many of them are decimals: 0.860 is (860, 3)."""
    places = max(-int(rate.as_tuple().exponent), 0)
    return int(Fraction(rate) * 10**places), places


def rate_text(rate: Decimal, *, decimal_comma: bool = False) -> str:
    """Write an exchange rate as it was typed, in a form that read_rate reads back."""
    return f"{rate:f}".replace(".", "," if decimal_comma else ".")


def convert(amount: int, rate: Decimal) -> int:
    """Return an amount changed at an exchange rate (home units for one foreign), rounded half up once.

    Raises InputError when the rate is not above zero or the result is out of range.
    """
    exact = amount * Fraction(checked_rate(rate))
    return _in_range(divide_half_up(exact.numerator, exact.denominator))


def format_money(amount: int, currency: str, *, locale: str = "en_GB") -> str:
    """Show millionths as a price in the locale's manner, rounded half up to the minor unit: "£1,250.00"."""
    return _formatted(round_to_minor(amount, currency), currency, minor_units(currency), locale)


def format_rate(rate: int, currency: str, per: str, *, locale: str = "en_GB") -> str:
    """Show a unit cost in millionths per unit, with further decimals where it is small: "£0.021 per mL".

    Without a unit, for what is counted: "£0.42 each".
    """
    places = minor_units(currency)
    most = min(SCALE_PLACES, places + RATE_EXTRA_PLACES)
    size = len(str(abs(rate)))  # the first significant figure stands at 10^(size - 1) millionths
    wanted = min(most, max(places, SCALE_PLACES - size + RATE_SIGNIFICANT_FIGURES))
    step = 10 ** (SCALE_PLACES - wanted)
    rounded = divide_half_up(rate, step) * step
    while wanted > places and rounded % (10 ** (SCALE_PLACES - wanted + 1)) == 0:
        wanted -= 1
    cost = _formatted(rounded, currency, wanted, locale)
    return _("{cost} per {unit}", cost=cost, unit=per) if per else _("{cost} each", cost=cost)


@lru_cache(maxsize=4096)  # the same amounts stand on a page each time that it is looked at
def _formatted(amount: int, currency: str, places: int, locale: str) -> str:
    """Format an amount rounded beforehand: Babel rounds half to even and keeps its own list of decimals."""
    pattern = _pattern(currency, places, locale)
    number = Decimal(amount).scaleb(-SCALE_PLACES)
    text: str = pattern.apply(number, _parsed(locale), currency=currency, currency_digits=False)
    return text.replace("-", MINUS) if amount < 0 else text


@lru_cache(maxsize=64)
def _parsed(locale: str) -> Locale:
    return Locale.parse(locale.replace("-", "_"))


@lru_cache(maxsize=256)
def _pattern(currency: str, places: int, locale: str) -> NumberPattern:
    parsed = _parsed(locale)
    template = parsed.currency_formats["standard"].pattern
    decimals = "." + "0" * places if places else ""
    template = re.sub(r"0\.[0#]+", lambda match: "0" + decimals, template)
    symbol = get_currency_symbol(currency, parsed)
    # Letters are kept off the figures, as CLDR's currency spacing asks: "CHF 12.50", but "£12.50".
    if symbol[-1].isalpha():
        template = re.sub(r"¤(?=[#0-])", f"¤{NO_BREAK_SPACE}", template)
    if symbol[0].isalpha():
        template = re.sub(r"(?<=0)¤", f"{NO_BREAK_SPACE}¤", template)
    return parse_pattern(template)
