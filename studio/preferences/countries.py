"""What a country usually sets: currency, language, writing, paper, fluid ounces, tax in prices. Imports no Django.

Countries are those of ISO 3166-1, currencies of ISO 4217; CLDR says which go together, and their names (through Babel).
"""

from dataclasses import dataclass
from functools import cache

from babel import Locale, UnknownLocaleError
from babel.core import get_global
from babel.numbers import get_territory_currencies

from studio.values.money import MINOR_UNITS

# What CLDR lists beside the countries of ISO 3166-1: groups, reserved codes, tests.
_NOT_COUNTRIES = {"AC", "CP", "CQ", "DG", "EA", "EU", "EZ", "IC", "QO", "TA", "UN", "XA", "XB", "ZZ"}
# CLDR's supplemental measurement data (from memory: Babel does not carry it).
_LETTER = {"BZ", "CA", "CL", "CO", "CR", "GT", "MX", "NI", "PA", "PH", "PR", "SV", "US", "VE"}
# Where a fluid ounce on a bottle is the imperial one; elsewhere bottles are mostly marked in the US one (from memory).
_IMPERIAL = {"AU", "CA", "GB", "GG", "IE", "IM", "IN", "JE", "MT", "NZ", "ZA"}
# Where bottles are marked in fluid ounces of the US measure before anything else (from memory).
_US_MEASURES = {"AS", "GU", "LR", "MP", "PR", "UM", "US", "VI"}
# Where tags and menus say the price before sales tax (common practice, from memory).
_TAX_ADDED = {"CA", "PR", "US"}


@dataclass(frozen=True, slots=True)
class Habits:
    """What is usual in a country. A studio may choose otherwise in everything."""

    currency: str
    language: str
    locale: str
    paper: str
    fluid_system: str
    is_tax_in_prices: bool
    uses_ounces: bool  # elsewhere a word about fluid ounces would only puzzle


@cache
def country_codes() -> frozenset[str]:
    """The countries with a currency that a studio can count in."""
    codes = {code for code in map(str, Locale("en").territories) if len(code) == 2 and code.isalpha()}
    return frozenset(code for code in codes - _NOT_COUNTRIES if _currency(code))


def countries(reader: str) -> list[tuple[str, str]]:
    """The countries by code, with their names as a reader's locale has them, in that order."""
    names = Locale.parse(reader.replace("-", "_")).territories
    return sorted(
        ((code, names.get(code, code)) for code in country_codes()), key=lambda each: _plain(each[1])
    )


def habits_of(country: str, *, languages: list[str], locales: list[str]) -> Habits:
    """What is usual in a country, among the languages that pages are in and the ways of writing on offer."""
    spoken = _languages(country)
    known = {language.split("-")[0]: language for language in reversed(languages)}
    return Habits(
        currency=_currency(country),
        language=known.get(next(iter(spoken), ""), languages[0]),
        locale=_locale(country, spoken, locales),
        paper="Letter" if country in _LETTER else "A4",
        fluid_system="imperial" if country in _IMPERIAL else "us",
        is_tax_in_prices=country not in _TAX_ADDED,
        uses_ounces=country in _IMPERIAL | _US_MEASURES,
    )


def _currency(country: str) -> str:
    """The currency in use there now; of several, the first that is not the US dollar's stand-in."""
    current = get_territory_currencies(country)
    return next((code for code in current if code in MINOR_UNITS), "")


def _languages(country: str) -> list[str]:
    """Official languages of a country, most spoken first; where none is official, those that are spoken."""
    spoken = get_global("territory_languages").get(country, {})
    official = {name: facts for name, facts in spoken.items() if facts["official_status"]} or spoken
    return sorted(official, key=lambda name: -official[name]["population_percent"])


def _locale(country: str, spoken: list[str], locales: list[str]) -> str:
    """The most spoken language's way of writing there; else the nearest one on offer."""
    for language in spoken:
        if f"{language}_{country}" in locales:
            return f"{language}_{country}"
    for language in [*spoken, "en"]:
        try:
            locale = Locale.parse(f"{language}_{country}")
        except (ValueError, UnknownLocaleError):
            continue
        if locale.default_numbering_system == "latn":
            return str(locale)
    return "en_GB"


def _plain(name: str) -> str:
    """A name as it is sorted: Österreich beside Oman, not after Zypern."""
    return "".join(_BASE.get(letter, letter) for letter in name.casefold())


_BASE = {"å": "a", "ä": "a", "ö": "o", "ü": "u", "é": "e", "ç": "c", "í": "i", "ô": "o", "ã": "a"}
