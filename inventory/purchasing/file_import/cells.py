"""What a single cell of a delivery's file says. Each reader raises InputError saying what was expected."""

from datetime import date

from django.utils import translation

from inventory.materials.models import Kind
from studio.errors import InputError
from studio.translation import _
from studio.values.numbers import read_small_whole

LONGEST_WORD = 60


def kinds() -> dict[str, Kind]:
    """Kinds by what a file may call them: the plain word, its English name, or its name in the reader's language."""
    with translation.override(None):
        english = {str(kind.label).casefold(): kind for kind in Kind}
    named = {str(kind.label).casefold(): kind for kind in Kind}
    return english | named | {kind.value: kind for kind in Kind}


def packs(text: str) -> int:
    """How many packs; one when nothing is said."""
    if not text:
        return 1
    number = read_small_whole(text)
    if number is None:
        raise InputError(
            _("“{text}” is not a number of packs. Enter a whole number such as 2.", text=text[:LONGEST_WORD])
        )
    return number


def nothing_more(text: str) -> None:
    """Refuse what stands beyond the last column."""
    if text:
        raise InputError(
            _("There are more cells than columns. A cell that contains a comma needs quotation marks.")
        )


def day(text: str) -> date | None:
    """A day, if there is one."""
    try:
        return date.fromisoformat(text) if text else None
    except ValueError:
        raise InputError(
            _("“{text}” is not a date. Enter it as 2027-03-31.", text=text[:LONGEST_WORD])
        ) from None


def word(text: str) -> str:
    """A few words that a label has room for."""
    if len(text) > LONGEST_WORD:
        raise InputError(_("That is longer than {most} characters. Shorten it.", most=LONGEST_WORD))
    return text
