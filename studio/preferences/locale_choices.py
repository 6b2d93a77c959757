"""The ways of writing numbers and days that a studio may choose from, and the currencies it may count in."""

from datetime import date
from typing import Any

from babel import Locale, UnknownLocaleError
from babel.dates import format_date
from babel.numbers import get_currency_name
from django import forms
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import get_language, to_locale

from studio.values.money import MINOR_UNITS, format_money

# Languages that write the digits 0 to 9, in the countries where most people write them.
_LOCALES = """
    bg_BG cs_CZ da_DK de_AT de_CH de_DE el_GR en_AU en_CA en_GB en_IE en_IN en_NZ en_US en_ZA es_ES es_MX
    es_US et_EE fi_FI fr_BE fr_CA fr_CH fr_FR hr_HR hu_HU is_IS it_CH it_IT ja_JP lt_LT lv_LV nb_NO nl_BE
    nl_NL pl_PL pt_BR pt_PT ro_RO sk_SK sl_SI sv_SE tr_TR uk_UA
"""
COMMON = tuple(_LOCALES.split())
_AMOUNT, _DAY = 1_234_500_000, date(2026, 12, 31)


def _reader() -> str:
    """The locale whose names the reader of the page understands."""
    return to_locale(get_language() or "en")


def ways_of_writing(present: str, currency: str) -> list[tuple[str, str]]:
    """Choices for a select: each by its name, with an amount and a day as it writes them; the present one too."""
    reader = _reader()
    codes = [*COMMON, *([present] if present not in COMMON and is_locale(present) else [])]
    return sorted(((code, _in_words(code, currency, reader)) for code in codes), key=lambda choice: choice[1])


def is_locale(code: str) -> bool:
    try:
        Locale.parse(code.replace("-", "_"))
    except (ValueError, UnknownLocaleError):
        return False
    return True


def _in_words(code: str, currency: str, reader: str) -> str:
    locale = Locale.parse(code.replace("-", "_"))
    amount = format_money(_AMOUNT, currency, locale=code)
    return f"{locale.get_display_name(reader) or code}: {amount}, {format_date(_DAY, 'medium', locale)}"


class CurrencyInput(forms.TextInput):
    """A currency code, typed; the browser proposes those that are known, by their names."""

    def render(self, name: str, value: Any, attrs: Any = None, renderer: Any = None) -> SafeString:
        reader, known = _reader(), f"known-{name}"
        typed = super().render(name, value, {**(attrs or {}), "list": known}, renderer)
        options = format_html_join(
            "",
            '<option value="{}">{}</option>',
            ((code, get_currency_name(code, locale=reader)) for code in sorted(MINOR_UNITS)),
        )
        return format_html('{}<datalist id="{}">{}</datalist>', typed, known, options)
