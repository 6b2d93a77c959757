"""Money: ISO 4217 decimals, reading what people type, exact rounding, and showing it."""

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

import pytest
from babel.core import get_global
from babel.numbers import get_currency_precision
from hypothesis import given
from hypothesis import strategies as st

from studio.errors import InputError
from studio.values.money import (
    LARGEST_AMOUNT,
    MINOR_UNITS,
    code_of_sign,
    convert,
    format_money,
    format_rate,
    minor_units,
    money_input_text,
    rate_parts,
    rate_text,
    read_money,
    read_rate,
    round_to_minor,
    share_to_minor,
)

NBSP = "\u00a0"
currencies = st.sampled_from(sorted(MINOR_UNITS))
amounts = st.integers(min_value=0, max_value=LARGEST_AMOUNT)
signed = st.integers(min_value=-LARGEST_AMOUNT, max_value=LARGEST_AMOUNT)

# CLDR, and so Babel, counts the coins in use; ISO 4217 list one counts the decimals of the currency. IQD 3
# and MGA 2 also in py-moneyed 3.0; the others 2 by list one (ISO 4217:2015, the maintenance agency's table).
ISO_NOT_CLDR = {
    "IQD": 3,
    **dict.fromkeys(["AFN", "ALL", "IRR", "KPW", "LAK", "LBP", "MGA", "MMK", "RSD", "SOS", "SYP", "YER"], 2),
}


@pytest.mark.parametrize("currency", sorted(MINOR_UNITS))
def test_decimals_agree_with_cldr_except_where_iso_4217_differs(currency: str) -> None:
    cldr = get_currency_precision(currency)
    assert minor_units(currency) == ISO_NOT_CLDR.get(currency, cldr)
    assert (currency in ISO_NOT_CLDR) == (minor_units(currency) != cldr)


def test_every_currency_in_use_anywhere_is_known() -> None:
    # CLDR's list of the currencies that are legal tender in some territory with no end date.
    in_use = {
        code
        for uses in get_global("territory_currencies").values()
        for code, _, end, tender in uses
        if tender and not end
    }
    assert len(in_use) > 140
    assert in_use <= set(MINOR_UNITS)


@pytest.mark.parametrize(
    ("currency", "places"),
    # py-moneyed 3.0 sub_unit, run: 1, 100, 1000, 1000, 1, 100, 10000.
    [("JPY", 0), ("GBP", 2), ("KWD", 3), ("IQD", 3), ("UGX", 0), ("MGA", 2), ("CLF", 4)],
)
def test_decimals_of_well_known_currencies(currency: str, places: int) -> None:
    assert minor_units(currency) == places


@pytest.mark.parametrize("currency", ["", "gbp", "ABC", "£"])
def test_it_refuses_an_unknown_currency(currency: str) -> None:
    with pytest.raises(InputError, match="not a known currency code"):
        minor_units(currency)


@pytest.mark.parametrize(
    ("text", "currency", "amount"),
    [
        ("12.50", "GBP", 12_500_000),
        ("£12.50", "GBP", 12_500_000),
        ("£ 12.50", "GBP", 12_500_000),
        ("1,250.00", "GBP", 1_250_000_000),
        ("1,250", "GBP", 1_250_000_000),
        ("12.50 GBP", "GBP", 12_500_000),
        ("gbp 12.5", "GBP", 12_500_000),
        ("12.500", "GBP", 12_500_000),
        (".99", "GBP", 990_000),
        ("£.99", "GBP", 990_000),
        ("Fr. 50", "CHF", 50_000_000),
        ("0", "GBP", 0),
        ("¥1200", "JPY", 1_200_000_000),
        ("$5", "USD", 5_000_000),
        ("A$5", "AUD", 5_000_000),
        ("$5", "AUD", 5_000_000),
        ("1.234", "KWD", 1_234_000),
        ("99 kr.", "SEK", 99_000_000),
    ],
)
def test_it_reads_what_people_type(text: str, currency: str, amount: int) -> None:
    assert read_money(text, currency) == amount


@pytest.mark.parametrize(
    ("text", "amount"),
    [
        ("12,50 €", 12_500_000),
        ("1.250,00", 1_250_000_000),
        ("1 250,00", 1_250_000_000),
        ("1.250", 1_250_000_000),
    ],
)
def test_a_decimal_comma_is_read_where_the_studio_uses_it(text: str, amount: int) -> None:
    assert read_money(text, "EUR", decimal_comma=True) == amount


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "Please enter a value"),
        ("free", "not an amount in GBP"),
        ("€12.50", "“€12.50” is not an amount in GBP"),
        ("12.50 USD", "“12.50 USD” is not an amount in GBP"),
        ("$12.50", "not an amount in GBP"),
        ("12.505", "too many decimals"),
        ("12,50", "with a point"),
        ("1,25.00", "with a point"),
        ("1 250", "with a point"),
        ("12-50", "not an amount in GBP"),
        ("(12.50)", "not an amount in GBP"),
        ("-£-5", "not an amount in GBP"),
        ("5-", "not an amount in GBP"),
        ("--5", "not an amount in GBP"),
        ("-5", "cannot be below zero"),
        ("£-5", "cannot be below zero"),
        ("1e5", "not an amount in GBP"),
        ("nan", "not an amount in GBP"),
        ("٣", "digits 0 to 9"),
        ("9000000001", "number is too large"),
        ("9" * 61, "Too long"),
    ],
)
def test_it_refuses_what_it_cannot_read_and_says_why(text: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        read_money(text, "GBP")


def test_a_grouping_point_is_refused_where_three_decimals_could_follow_it() -> None:
    with pytest.raises(InputError, match="with a comma"):
        read_money("1.250", "KWD", decimal_comma=True)


def test_a_yen_price_has_no_decimals() -> None:
    with pytest.raises(InputError, match=r"at most 0 here, such as 12\."):
        read_money("12.5", "JPY")


def test_a_point_straight_after_a_lettered_sign_is_refused_for_it_may_be_an_abbreviation() -> None:
    with pytest.raises(InputError, match="not an amount in CHF"):
        read_money("Fr.50", "CHF")


@pytest.mark.parametrize("text", ["-5.25", "\u22125.25", "-£5.25", "£-5.25", "- 5.25 GBP"])
def test_an_amount_below_zero_is_refused_however_it_is_written(text: str) -> None:
    with pytest.raises(InputError, match="cannot be below zero"):
        read_money(text, "GBP")


@pytest.mark.parametrize(
    ("amount", "rounded"),
    [(125_000, 130_000), (135_000, 140_000), (-125_000, -130_000), (124_999, 120_000), (0, 0)],
)
def test_it_rounds_half_away_from_zero_where_babel_rounds_half_to_even(amount: int, rounded: int) -> None:
    # Babel 2.18 formats 0.125 pounds as 0.12 and 0.135 as 0.14.
    assert round_to_minor(amount, "GBP") == rounded


@given(amount=signed, currency=currencies)
def test_rounding_agrees_with_the_decimal_library(amount: int, currency: str) -> None:
    step = Decimal(1).scaleb(-minor_units(currency))
    expected = Decimal(amount).scaleb(-6).quantize(step, rounding=ROUND_HALF_UP)
    assert Decimal(round_to_minor(amount, currency)).scaleb(-6) == expected


@pytest.mark.parametrize(
    ("amount", "currency", "locale", "shown"),
    [
        (1_250_000_000, "GBP", "en_GB", "£1,250.00"),
        (1_250_000_000, "GBP", "en-gb", "£1,250.00"),
        (-12_500_000, "GBP", "en_GB", "−£12.50"),
        (-12_500_000, "EUR", "de_DE", "−12,50 €"),
        (125_000, "GBP", "en_GB", "£0.13"),
        (1_234_500_000, "JPY", "en_US", "¥1,235"),
        (1_234_500_000, "EUR", "de_DE", "1.234,50 €"),
        (1_234_500, "IQD", "en_GB", "IQD 1.235"),
        (12_500_000, "MGA", "en_GB", "MGA 12.50"),
        (12_500_000, "CHF", "en_GB", "CHF 12.50"),
        (123_456_700_000, "INR", "en_IN", "₹1,23,456.70"),
    ],
)
def test_it_shows_a_price_in_the_manner_of_the_place(
    amount: int, currency: str, locale: str, shown: str
) -> None:
    assert format_money(amount, currency, locale=locale) == shown.replace(" ", NBSP)


@given(amount=amounts, currency=currencies)
def test_a_shown_price_is_read_back_to_the_minor_unit(amount: int, currency: str) -> None:
    rounded = min(round_to_minor(amount, currency), LARGEST_AMOUNT)
    assert read_money(format_money(rounded, currency), currency) == rounded


@given(amount=amounts, currency=currencies, comma=st.booleans())
def test_typed_money_is_read_back_exactly(amount: int, currency: str, comma: bool) -> None:
    payable = min(round_to_minor(amount, currency), LARGEST_AMOUNT)
    text = money_input_text(payable, currency, decimal_comma=comma)
    assert read_money(text, currency, decimal_comma=comma) == payable


@pytest.mark.parametrize(
    ("rate", "currency", "shown"),
    [
        (21_312, "GBP", "£0.021 per mL"),
        (50_000, "GBP", "£0.05 per mL"),
        (12_500_000, "GBP", "£12.50 per mL"),
        (123_456, "GBP", "£0.12 per mL"),
        (70_500, "GBP", "£0.071 per mL"),
        (999_999, "GBP", "£1.00 per mL"),
        (7, "GBP", "£0.000007 per mL"),
        (0, "GBP", "£0.00 per mL"),
        (21_312, "KWD", f"KWD{NBSP}0.021 per mL"),
        (1_250_000, "JPY", "JP¥1.3 per mL"),
    ],
)
def test_a_unit_cost_shows_further_decimals_where_it_is_small(rate: int, currency: str, shown: str) -> None:
    assert format_rate(rate, currency, "mL") == shown


def test_a_thing_that_is_counted_costs_so_much_each() -> None:
    assert format_rate(420_000, "GBP", "") == "£0.42 each"


def test_converting_at_a_rate_rounds_half_up_once() -> None:
    assert convert(10_000_000, Decimal("0.8625")) == 8_625_000
    assert convert(1, Decimal("0.5")) == 1
    assert convert(-1, Decimal("0.5")) == -1
    # 1,000,000.00 at 0.0000314 is 31.40 by arithmetic; at six decimals, 0.000031, it would be 31.00.
    assert convert(10**12, Decimal("0.0000314")) == 31_400_000


@pytest.mark.parametrize("rate", ["0", "-0.8625", "NaN", "Infinity"])
def test_an_exchange_rate_must_be_above_zero(rate: str) -> None:
    with pytest.raises(InputError, match="must be above zero"):
        convert(1, Decimal(rate))


@pytest.mark.parametrize(
    ("text", "comma", "written"),
    [
        ("0.0000314", False, "0.0000314"),
        ("0,0000314", True, "0,0000314"),
        ("0.860", False, "0.860"),  # with its last nought
        (".5", False, "0.5"),
        ("1,234.5", False, "1234.5"),
        ("25000", False, "25000"),
        ("0.000000000000000001", False, "0.000000000000000001"),
    ],
)
def test_an_exchange_rate_keeps_every_decimal_that_was_typed(text: str, comma: bool, written: str) -> None:
    rate = read_rate(text, decimal_comma=comma)
    assert rate_text(rate, decimal_comma=comma) == written
    digits, places = rate_parts(rate)
    assert Fraction(digits, 10**places) == Fraction(rate)


@pytest.mark.parametrize(
    "text", ["", "0", "0.0", "-1", "1e-5", "1/3", "0.0000000000000000001", "9" * 17, "٠.٥"]
)
def test_what_is_no_exchange_rate_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        read_rate(text)


@pytest.mark.parametrize("rate", ["1E+999999999", "1E-999999999"])
def test_an_exchange_rate_of_absurd_size_is_refused_at_once(rate: str) -> None:
    with pytest.raises(InputError, match="digits"):
        convert(1, Decimal(rate))


@given(digits=st.integers(1, 10**15 - 1), places=st.integers(0, 18), comma=st.booleans())
def test_any_exchange_rate_is_written_and_read_back_exactly(digits: int, places: int, comma: bool) -> None:
    rate = Decimal(digits).scaleb(-places)
    assert read_rate(rate_text(rate, decimal_comma=comma), decimal_comma=comma) == rate
    assert rate_parts(rate) == (digits, places)


def test_converting_beyond_the_books_is_refused() -> None:
    with pytest.raises(InputError, match="number is too large"):
        convert(LARGEST_AMOUNT, Decimal(2))


def test_printed_lines_add_up_to_the_printed_total() -> None:
    # Three lines of 33.333333 pounds: each alone would print 33.33, and the total 100.00.
    lines = share_to_minor([33_333_333, 33_333_333, 33_333_334], "GBP")
    assert lines == [33_330_000, 33_330_000, 33_340_000]


def test_lines_above_and_below_zero_still_add_up() -> None:
    assert share_to_minor([10_005_000, -2_500, -2_500], "GBP") == [10_000_000, 0, 0]
    assert share_to_minor([], "GBP") == []


@given(lines=st.lists(st.integers(min_value=-(10**12), max_value=10**12), max_size=30), currency=currencies)
def test_rounded_lines_sum_to_the_rounded_total_and_stay_near(lines: list[int], currency: str) -> None:
    step = 10 ** (6 - minor_units(currency))
    rounded = share_to_minor(lines, currency)
    assert sum(rounded) == round_to_minor(sum(lines), currency)
    for before, after in zip(lines, rounded, strict=True):
        assert after % step == 0
        assert abs(after - before) < step


@given(
    text=st.text() | st.text(alphabet="0123456789.,- £$€GBPkr\u2212\u00a0\u202f", max_size=70),
    currency=currencies,
    comma=st.booleans(),
)
def test_any_text_is_either_read_or_refused(text: str, currency: str, comma: bool) -> None:
    try:
        amount = read_money(text, currency, decimal_comma=comma)
    except InputError:
        return
    assert 0 <= amount <= LARGEST_AMOUNT


@pytest.mark.parametrize(
    ("sign", "likely", "code"),
    [
        ("€", "GBP", "EUR"),
        ("£", "EUR", "GBP"),
        ("£", "EGP", "EGP"),
        ("$", "CAD", "CAD"),
        ("$", "GBP", ""),
        ("GBP", "GBP", ""),
        ("", "GBP", ""),
    ],
)
def test_a_sign_names_a_currency_where_only_one_can_be_meant(sign: str, likely: str, code: str) -> None:
    assert code_of_sign(sign, likely) == code
