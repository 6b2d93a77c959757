"""Days as people write them, in the studio's order of day, month and year."""

from datetime import date

import pytest

from studio.errors import InputError
from studio.preferences.formatting import Formatter
from studio.values.units import FluidSystem


def read(text: str, locale: str) -> date:
    return Formatter("GBP", locale, FluidSystem.IMPERIAL).read_day(text)


@pytest.mark.parametrize(
    ("text", "locale"),
    [
        ("2026-03-12", "en_GB"), ("12/03/2026", "en_GB"), ("3/12/2026", "en_US"), ("12.3.26", "de_DE"),
        ("12.03.2026", "de_DE"), ("12 Mar 2026", "en_GB"), ("12. März 2026", "de_DE"), ("2026-03-12 00:00:00", "de_DE"),
    ],
)  # fmt: skip
def test_a_day_is_read_in_the_studios_order(text: str, locale: str) -> None:
    """Common Locale Data Repository: day before month in en-GB and de-DE, month first in en-US."""
    assert read(text, locale) == date(2026, 3, 12)


@pytest.mark.parametrize(
    "text", ["31/02/2026", "13/13/2026", "yesterday", "1/2", "12/3/202", "45000", "12 Foo 2026"]
)
def test_what_is_no_day_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        read(text, "en_GB")


@pytest.mark.parametrize(
    ("locale", "example"),
    [("de_DE", "31.03.2027"), ("en_GB", "31/03/2027"), ("en_US", "03/31/2027"), ("en_CA", "2027-03-31")],
)
def test_an_error_gives_its_example_as_the_studio_writes_days(locale: str, example: str) -> None:
    with pytest.raises(InputError, match=example):
        read("yesterday", locale)
    assert read(example, locale) == date(2027, 3, 31)


def test_a_month_alone_is_answered_with_a_day_of_it() -> None:
    with pytest.raises(InputError, match=r"01\.03\.2026"):
        read("3.2026", "de_DE")
    with pytest.raises(InputError):
        read("0000-03", "de_DE")
