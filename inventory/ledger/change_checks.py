"""Checks of the change log: that nobody wrote in it, and that rows hold what it last recorded of them."""

from collections import defaultdict
from collections.abc import Iterator
from typing import Any

from auditlog.diff import model_instance_diff
from auditlog.models import LogEntry
from django.contrib.contenttypes.models import ContentType
from django.db.models import Model

from inventory.ledger.findings import Tally
from studio.archive.contents import first_rows
from studio.auditing import chain
from studio.auditing.models import ChangeSeal
from studio.auditing.recording import SECRET, recorded, recorded_models
from studio.translation import _

ADDED = ""  # no field is called so
NOTHING = "None"  # as the change log writes it
Values = dict[str, Any]


def check_changes(using: str, tally: Tally) -> None:
    """The chain of the change log, from its first seal to its last entry."""
    tally.looked(ChangeSeal.objects.using(using).count(), "changes")
    for where, what in chain.breaks(using):
        tally.tell("changes", where, what)


def check_recorded(using: str, tally: Tally) -> None:
    """Every row of a recorded model against what the change log says was last written into it."""
    for model in recorded_models():
        logged = _logged(model, using)
        for row in model._base_manager.using(using).order_by("pk").iterator(2_000):
            tally.looked(1, "recorded")
            last = logged.pop(row.pk, None)
            for field in _differing(row, last):
                tally.tell(
                    "recorded", _where(model, row.pk), _("{field} was changed beside the record", field=field)
                )
        for number, last in logged.items():
            if last is not None and ADDED in last:
                tally.tell("recorded", _where(model, number), _("it is gone, and no deletion was recorded"))


def _logged(model: type[Model], using: str) -> dict[int, Values | None]:
    """What the log last recorded of each row by field, ADDED among them if it began there; None for a deleted one."""
    of_model = ContentType.objects.db_manager(using).get_for_model(model)
    entries = LogEntry.objects.using(using).filter(content_type=of_model).order_by("pk")
    logged: dict[int, Values | None] = defaultdict(dict)
    for number, action, changes in entries.values_list("object_id", "action", "changes").iterator():
        if action == LogEntry.Action.DELETE:
            logged[number] = None
            continue
        if logged[number] is None and action != LogEntry.Action.CREATE:
            continue  # told of the row after it was gone
        values = logged[number] or {}
        if action == LogEntry.Action.CREATE:
            values = {ADDED: True}
        values |= {name: change[1] for name, change in (changes or {}).items() if isinstance(change, list)}
        logged[number] = values
    return logged


def _differing(row: Model, last: Values | None) -> Iterator[str]:
    """The fields of a row that hold something else than was last recorded."""
    model = type(row)
    kept = recorded(model)
    if kept is None:
        return
    last = last or {}
    is_whole = ADDED in last
    if kept.is_whole and not is_whole and type(row) not in first_rows():
        yield _("the row itself")
        return
    now = model_instance_diff(None, row, fields_to_check=list(kept.fields)) or {}
    for field in kept.fields:
        if kept.units.get(field) == SECRET or not (is_whole or field in last):
            continue
        if str(last.get(field, NOTHING)) != str(now.get(field, (NOTHING, NOTHING))[1]):
            yield field


def _where(model: type[Model], number: int) -> str:
    return _("{kind} {number}", kind=model._meta.verbose_name, number=number)
