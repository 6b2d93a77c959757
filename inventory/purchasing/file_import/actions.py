"""The writer that receives a delivery from a file: all of it, or nothing."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from inventory.ledger.models import Posting
from inventory.ledger.posting import open_ledger
from inventory.materials.models import Material
from inventory.purchasing.actions.deliveries import receive_delivery
from inventory.purchasing.actions.delivery_facts import DeliveryFacts, DeliveryHeader
from inventory.purchasing.file_import.columns import DELIVERY_LINES
from inventory.purchasing.file_import.reading import DeliveryFileError, by_name, open_lines, read_lines
from inventory.purchasing.models import Delivery
from studio.errors import InputError
from studio.imports.checking import OpenTable
from studio.imports.kinds import TableKind
from studio.imports.models import RememberedHeadings
from studio.imports.reading import read_file
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.submission import Submission


@dataclass(frozen=True, slots=True)
class Received:
    """The delivery a file made. `is_new` is False when the same file had been received before."""

    delivery: Delivery
    is_new: bool
    created: tuple[Material, ...] = ()


def receive_file(
    *,
    raw: bytes,
    sheet: str = "",
    header: DeliveryHeader,
    submission: Submission,
    create_materials: bool = False,
    chosen: Mapping[int, str] | None = None,
    fixed: Mapping[str, str] | None = None,
) -> Received:
    """Receive a delivery from a file's bytes: all of it, or nothing and a DeliveryFileError listing every bad line.

    `sheet` names one of a workbook that would not be read unasked.

    Its headings mean what was `chosen` for them by place, or else what they meant the last time, or what they are
    called; `fixed` are values for all lines. What they meant is remembered.
    The file's own hash is its key: a file that was received posts nothing more, whoever sends it again, unless that
    delivery has been reversed.
    """
    with open_ledger(submission):
        key, earlier = _key_for(raw, sheet)
        if earlier is not None:
            return Received(earlier.delivery, is_new=False)
        table = _opened(raw, sheet, Studio.current(), submission.today, chosen=chosen, fixed=fixed)
        lines, problems = read_lines(
            table,
            materials_by_name=by_name(Material.objects.all()),
            currency=header.currency,
            create=create_materials,
        )
        if problems:
            raise DeliveryFileError(problems)
        RememberedHeadings.remember(DELIVERY_LINES.code, table.meant)
        facts = DeliveryFacts(header, [line.facts for line in lines])
        created = tuple(
            {id(line.material): line.material for line in facts.lines if line.material.pk is None}.values()
        )
        for material in created:
            material.save()
        delivery = receive_delivery(facts=facts, submission=replace(submission, key=key))
        return Received(delivery, is_new=True, created=created)


def _opened(raw: bytes, name: str, studio: Studio, today: date, **how: Any) -> OpenTable[TableKind]:
    """The table of a file. Raises DeliveryFileError."""
    try:
        sheet = read_file(raw, decimal_comma=Formatter.of(studio).decimal_comma, sheet=name)
        remembered = RememberedHeadings.of(DELIVERY_LINES.code)
        return open_lines(sheet, studio=studio, today=today, remembered=remembered, **how)
    except InputError as problem:
        raise DeliveryFileError(problem.problems) from None


def _key_for(raw: bytes, sheet: str) -> tuple[str, Posting | None]:
    """The key for this file or for a sheet of it, and the standing posting it made before, if it did."""
    base = f"file-{hashlib.sha256(raw + sheet.encode()).hexdigest()}"
    made = list(Posting.objects.filter(key__startswith=base).select_related("reversed_by"))
    standing = [posting for posting in made if not hasattr(posting, "reversed_by")]
    return f"{base}-{len(made)}", standing[0] if standing else None
