"""Writers of techniques: ways of pouring, each with the paint it takes until the studio's own pours say better."""

from dataclasses import dataclass

from inventory.errors import InventoryError
from inventory.sessions.models import Technique
from studio.auditing.reference_rows import is_in_use, locked, save_facts
from studio.errors import InputError
from studio.submission import Submission, transaction
from studio.translation import _


@dataclass(frozen=True, slots=True, kw_only=True)
class TechniqueFacts:
    """What is known of a technique; `coverage` in µL/cm², run-off included. Raises InputError, naming the field."""

    name: str
    coverage: int
    source: str

    def __post_init__(self) -> None:
        if self.coverage < 1:
            raise InputError(_("Paint per area must be above zero."), field="coverage")


def save_technique(
    facts: TechniqueFacts,
    *,
    submission: Submission,
    technique: Technique | None = None,
    seen: int | None = None,
) -> Technique:
    """Add a technique, or change one. Raises InputError, EditConflict."""
    with transaction(submission):
        row = Technique() if technique is None else locked(technique, seen=seen)
        save_facts(row, facts)
    return row


def delete_technique(technique: Technique, *, submission: Submission, seen: int | None = None) -> None:
    """Remove a technique that nothing was poured with. Raises InventoryError for any other, EditConflict."""
    with transaction(submission):
        row = locked(technique, seen=seen)
        if is_in_use(row):
            raise InventoryError(_("Pours were made with {name}, so it cannot be deleted.", name=row.name))
        row.delete()
