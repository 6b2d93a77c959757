"""What a country sets, held against other lists of countries and currencies than the one it is read from."""

import pytest
from faker.providers.address import Provider
from faker.providers.currency import Provider as Currencies

from studio.preferences.countries import countries, country_codes, habits_of
from studio.preferences.locale_choices import COMMON, is_locale
from studio.preferences.models import Studio
from studio.values.money import minor_units

LANGUAGES = ["en-gb", "de"]
# Where the euro is legal tender among the members of the union (European Central Bank, from memory; without Bulgaria,
# which joined in 2026).
EURO = set(
    "AT BE CY DE EE ES FI FR GR HR IE IT LT LU LV MT NL PT SI SK".split()  # noqa: SIM905
)
# No currency of its own, or nobody who lives there.
NO_MONEY = {"AQ"}


# The other list is older: codes of ISO 4217 that it lacks (from memory).
KNOWN = {code for code, _name in Currencies.currencies} | {"BGN", "MRU", "SLE", "STN", "VED", "XCG", "ZWG"}


def test_all_countries_of_another_list_can_be_chosen() -> None:
    assert set(Provider.alpha_2_country_codes) - NO_MONEY - {"AN"} <= country_codes()


@pytest.mark.parametrize("country", sorted(country_codes()))
def test_whatever_a_country_sets_the_studio_can_count_and_write_with(country: str) -> None:
    habits = habits_of(country, languages=LANGUAGES, locales=list(COMMON))
    assert habits.currency in KNOWN
    assert minor_units(habits.currency) >= 0
    assert is_locale(habits.locale)
    assert habits.language in LANGUAGES
    assert habits.paper in Studio.Paper.values
    assert habits.fluid_system in Studio.FluidSystem.values


def test_the_euro_is_where_it_is_legal_tender() -> None:
    found = {code: habits_of(code, languages=LANGUAGES, locales=list(COMMON)).currency for code in EURO}
    assert set(found.values()) == {"EUR"}


def test_names_are_in_the_readers_language_and_order() -> None:
    german = [name for _code, name in countries("de")]
    assert german.index("Oman") < german.index("Österreich") < german.index("Pakistan")
    assert ("DE", "Germany") in countries("en_GB")


def test_each_way_of_writing_is_known_for_its_own_country() -> None:
    """A country for which a way of writing is on offer gets that one, in its most spoken official language."""
    for country in {code.split("_")[1] for code in COMMON}:
        assert habits_of(country, languages=LANGUAGES, locales=list(COMMON)).locale in COMMON, country
