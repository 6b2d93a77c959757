"""The studio's own settings: changed by the owner, as a whole.

The currency cannot be changed once anything has been recorded in it; the floors that record register what tells so.
"""

from collections.abc import Callable
from dataclasses import dataclass

from studio.auditing.reference_rows import locked, save_facts
from studio.errors import InputError
from studio.preferences.locale_choices import is_way_of_writing
from studio.preferences.models import Studio
from studio.submission import Submission, transaction
from studio.translation import _
from studio.values.money import minor_units

_records: list[Callable[[], bool]] = []


@dataclass(frozen=True, slots=True)
class StudioFacts:
    """What the owner sets. Money is in millionths an hour, rates in millionths. Raises InputError naming the field."""

    name: str
    currency: str
    language: str
    locale: str
    fluid_system: str
    paper: str
    wage_per_hour: int
    overhead_per_hour: int
    tax_rate: int
    reserve: int
    varnish_after_days: int

    def __post_init__(self) -> None:
        try:
            minor_units(self.currency)
        except InputError as problem:
            raise InputError(str(problem), field="currency") from None
        if not is_way_of_writing(self.locale):
            raise InputError(_("Choose one of the formats in the list."), field="locale")


def keep_currency_once(is_recorded: Callable[[], bool]) -> None:
    """Register what tells that amounts have been recorded, so that their currency can no longer be changed."""
    if is_recorded not in _records:
        _records.append(is_recorded)


def is_currency_fixed() -> bool:
    """Whether anything has been recorded in the studio's currency."""
    return any(is_recorded() for is_recorded in _records)


def change_settings(*, facts: StudioFacts, submission: Submission, seen: int | None = None) -> Studio:
    """Save the studio's settings. Raises InputError naming the field, EditConflict."""
    with transaction(submission):
        studio = locked(Studio.current(), seen=seen)
        if facts.currency != studio.currency and is_currency_fixed():
            raise InputError(_("It cannot be changed once anything has been recorded."), field="currency")
        studio.confirmed_at = studio.confirmed_at or submission.at
        save_facts(studio, facts)
    return studio
