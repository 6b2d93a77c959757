"""A small square of a colour, to stand before the name of what has it: never in place of the name."""

from functools import lru_cache

from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

NOTHING = mark_safe("")


@lru_cache(512)
def swatch(colour: str) -> SafeString:
    """The square of a colour written "#1f5f6b"; nothing for what has none."""
    return (
        format_html(
            '<svg class="swatch swatch-name" width="18" height="18" aria-hidden="true">'
            '<rect width="18" height="18" fill="{}" /></svg>',
            colour,
        )
        if colour
        else NOTHING
    )
