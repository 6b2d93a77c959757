"""Checks of what was written: that the chain over it is whole, and that rows say what it last sealed of them."""

from collections import defaultdict
from collections.abc import Iterator
from typing import Any

from auditlog.diff import model_instance_diff
from auditlog.models import LogEntry
from django.db import connections
from django.db.models import Model

from inventory.ledger.findings import Tally
from studio.auditing import chain
from studio.auditing.models import ChangeSeal
from studio.auditing.queries import about
from studio.auditing.recording import SECRET, recorded
from studio.auditing.sealed_rows import Sealed, digests, sealed_models, sealed_parts
from studio.translation import _

UNKNOWN = ""  # no row has this digest
ROWS_LOOKED_INTO = (
    100  # of one table: each is read again with its history, to name the field that was changed
)
NOTHING = "None"  # as the change log writes it


def check_changes(using: str, tally: Tally) -> None:
    """The chain, from its first seal to its last, and every row against the last seal that names it."""
    tally.looked(ChangeSeal.objects.using(using).count(), "changes")
    latest: chain.Latest = defaultdict(dict)
    for where, what in chain.breaks(using, latest):
        tally.tell("changes", where, what)
    filled = _filled(using)
    for part in sealed_parts():
        last = latest[part.name]
        if part.model in filled or last:
            for number, what in _differing(part, last, using, tally):
                tally.tell(_rule(part.model), _where(part.model, number), what)


def _rule(model: type[Model]) -> str:
    return "changes" if model is LogEntry else "recorded"


def _filled(using: str) -> list[type[Model]]:
    """The tables that hold anything, in one statement: most studios use a part of them."""
    models, name = sealed_models(), connections[using].ops.quote_name
    looks = (
        f"SELECT {place} WHERE EXISTS (SELECT 1 FROM {name(model._meta.db_table)})"  # noqa: S608
        for place, model in enumerate(models)
    )
    with connections[using].cursor() as cursor:
        cursor.execute(" UNION ALL ".join(looks))
        return [models[place] for (place,) in cursor.fetchall()]


def _differing(
    part: Sealed, latest: dict[int, str | None], using: str, tally: Tally
) -> Iterator[tuple[int, str]]:
    """Rows that are not as they were last sealed, and how."""
    looked = named = 0
    for looked, (number, digest) in enumerate(digests(part, using), start=1):  # noqa: B007, how many there were
        last = latest.pop(number, UNKNOWN)
        if last == digest:
            continue
        if not last:
            yield number, _("it was put in beside the record")
            continue
        named += 1
        fields = _changed_fields(part, number, using) if named <= ROWS_LOOKED_INTO else []
        fields = fields or [_("the row itself")]
        yield from ((number, _("{field} was changed beside the record", field=field)) for field in fields)
    tally.looked(looked, _rule(part.model))
    for number, last in latest.items():
        if last is not None:
            yield number, _("it is gone, and no deletion was recorded")


def _changed_fields(part: Sealed, number: int, using: str) -> list[str]:
    """The fields of a row that hold something else than the change log last recorded of them, where it does."""
    model, kept = part.model, recorded(part.model)
    if part.is_apart:
        return list(part.columns)
    if kept is None:
        return []
    last: dict[str, Any] = {}
    log = LogEntry.objects.using(using).filter(about(model), object_pk=str(number)).order_by("pk")
    for changes in log.values_list("changes", flat=True):
        last |= {name: change[1] for name, change in (changes or {}).items() if isinstance(change, list)}
    row = model._base_manager.using(using).get(pk=number)
    now = model_instance_diff(None, row, fields_to_check=list(kept.fields)) or {}
    return [
        field
        for field in kept.fields
        if field in last
        and kept.units.get(field) != SECRET
        and str(last[field]) != str(now.get(field, (NOTHING, NOTHING))[1])
    ]


def _where(model: type[Model], number: int) -> str:
    return _("{kind} {number}", kind=model._meta.verbose_name, number=number)
