"""Values of an address's query, read leniently: whatever cannot be read is left out."""

from datetime import date

from django.utils.dateparse import parse_date


def whole_number(text: str) -> int | None:
    """A small whole number from an address, or nothing."""
    return int(text) if text.isascii() and text.isdigit() and len(text) <= 9 else None


def day_of(text: str) -> date | None:
    """A day from an address, or nothing."""
    try:
        return parse_date(text)
    except ValueError:
        return None
