"""Adding a row that no posting stands behind, once for each submission."""

from typing import TypeVar

from django.db.models import Model

from inventory.ledger.keyed_records import KeyedRecord
from inventory.ledger.posting import open_ledger
from studio.auditing.reference_rows import save_row
from studio.submission import Submission

Keyed = TypeVar("Keyed", bound=KeyedRecord)
_OF_THE_KEY = {column.name for column in KeyedRecord._meta.concrete_fields}


def add_once(row: Keyed, *, submission: Submission) -> Keyed:
    """Add a row, or return the one that the same submission added before. Raises InputError, KeyReused."""
    with open_ledger(submission, facts=_columns_of(row)) as ledger:
        earlier = ledger.earlier_record(type(row))
        if earlier is not None:
            return earlier
        row.recorded_by, row.key, row.fingerprint = submission.by, submission.key, ledger.fingerprint
        return save_row(row, submission=submission)


def _columns_of(row: Model) -> dict[str, object]:
    """What a row says, as far as somebody filled it in."""
    return {
        column.attname: getattr(row, column.attname)
        for column in row._meta.concrete_fields
        if not column.primary_key and column.name not in _OF_THE_KEY
    }
