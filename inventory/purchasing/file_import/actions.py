"""The writer that receives a delivery from a file: all of it, or nothing."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from inventory.ledger import posting as ledger
from inventory.ledger.models import Posting
from inventory.materials.models import Material, Supplier
from inventory.purchasing.actions.deliveries import DeliveryFacts, LineFacts, receive_delivery
from inventory.purchasing.file_import.reading import (
    DeliveryFileError,
    FileLine,
    by_name,
    decode,
    folded,
    read_delivery_file,
)
from inventory.purchasing.models import Delivery
from studio.accounts.models import User
from studio.preferences.models import Studio


@dataclass(frozen=True, slots=True)
class FileFacts:
    """What the file itself does not say. Carriage, duty and tax in the studio's currency, rate in millionths."""

    received_on: date
    currency: str
    rate: int = 1_000_000
    carriage: int = 0
    carriage_shared_by: str = Delivery.SharedBy.VALUE
    duty: int = 0
    tax: int = 0
    reference: str = ""
    create_materials: bool = False


@dataclass(frozen=True, slots=True)
class Received:
    """The delivery a file made. `is_new` is False when the same file had been received before."""

    delivery: Delivery
    is_new: bool
    created: tuple[Material, ...] = ()


@transaction.atomic
def receive_file(*, raw: bytes, supplier: Supplier, facts: FileFacts, by: User, at: datetime) -> Received:
    """Receive a delivery from a file's bytes: all of it, or nothing and a DeliveryFileError listing every bad line.

    The file's own hash is its key: a file that was received posts nothing more, whoever sends it again, unless that
    delivery has been reversed.
    """
    ledger.lock()
    key, earlier = _key_for(raw)
    if earlier is not None:
        return Received(earlier.delivery, is_new=False)
    known = by_name(Material.objects.all())
    lines, problems = read_delivery_file(
        decode(raw),
        studio=Studio.current(),
        materials_by_name=known,
        currency=facts.currency,
        create=facts.create_materials,
    )
    if problems:
        raise DeliveryFileError(problems)
    created = _create_materials(lines)
    delivery = receive_delivery(
        facts=_delivery_facts(lines, known | by_name(created), supplier, facts), by=by, at=at, key=key
    )
    return Received(delivery, is_new=True, created=tuple(created))


def _key_for(raw: bytes) -> tuple[str, Posting | None]:
    """The key for this file, and the standing posting it made before, if it did."""
    base = f"file-{hashlib.sha256(raw).hexdigest()}"
    made = list(Posting.objects.filter(key__startswith=base).select_related("reversed_by"))
    standing = [posting for posting in made if not hasattr(posting, "reversed_by")]
    return f"{base}-{len(made)}", standing[0] if standing else None


def _create_materials(lines: list[FileLine]) -> list[Material]:
    new = {folded(line.name): line for line in lines if line.material is None}
    return [
        Material.objects.create(name=line.name, kind=line.kind, measure=line.measure) for line in new.values()
    ]


def _delivery_facts(
    lines: list[FileLine], materials: Mapping[str, Material], supplier: Supplier, facts: FileFacts
) -> DeliveryFacts:
    return DeliveryFacts(
        supplier=supplier,
        received_on=facts.received_on,
        currency=facts.currency,
        lines=[
            LineFacts(
                material=materials[folded(line.name)],
                quantity=line.quantity,
                price=line.price,
                packs=line.packs,
                best_before=line.best_before,
                place=line.place,
                supplier_batch=line.batch,
                typed=line.typed,
            )
            for line in lines
        ],
        rate=facts.rate,
        rate_on=facts.received_on if facts.rate != 1_000_000 else None,
        carriage=facts.carriage,
        carriage_shared_by=facts.carriage_shared_by,
        duty=facts.duty,
        tax=facts.tax,
        reference=facts.reference,
    )
