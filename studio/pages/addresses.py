"""Addresses that a page holds by the dozen, each looked up once: Django's `reverse` searches anew every time."""

from functools import lru_cache

from django.urls import get_script_prefix, reverse


def page_address(name: str) -> str:
    """Where a page without numbers in its address stands."""
    return _of_page(name, get_script_prefix())


def row_address(name: str, number: int) -> str:
    """Where the page of one row stands, by its number."""
    before, after = _of_rows(name, get_script_prefix())
    return f"{before}{number}{after}"


@lru_cache(maxsize=512)
def _of_page(name: str, prefix: str) -> str:
    return reverse(name)


@lru_cache(maxsize=512)
def _of_rows(name: str, prefix: str) -> tuple[str, str]:
    before, _zero, after = reverse(name, args=[0]).rpartition("0")
    return before, after
