"""The writer that receives a delivery from a file: all of it, or nothing."""

import hashlib
from dataclasses import dataclass, replace

from inventory.ledger.models import Posting
from inventory.ledger.posting import open_ledger
from inventory.materials.models import Material
from inventory.purchasing.actions.deliveries import receive_delivery
from inventory.purchasing.actions.delivery_facts import DeliveryFacts, DeliveryHeader
from inventory.purchasing.file_import.reading import DeliveryFileError, by_name, decode, read_delivery_file
from inventory.purchasing.models import Delivery
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
    *, raw: bytes, header: DeliveryHeader, submission: Submission, create_materials: bool = False
) -> Received:
    """Receive a delivery from a file's bytes: all of it, or nothing and a DeliveryFileError listing every bad line.

    The file's own hash is its key: a file that was received posts nothing more, whoever sends it again, unless that
    delivery has been reversed.
    """
    with open_ledger(submission):
        key, earlier = _key_for(raw)
        if earlier is not None:
            return Received(earlier.delivery, is_new=False)
        studio = Studio.current()
        lines, problems = read_delivery_file(
            decode(raw, decimal_comma=Formatter.of(studio).decimal_comma),
            studio=studio,
            materials_by_name=by_name(Material.objects.all()),
            currency=header.currency,
            create=create_materials,
        )
        if problems:
            raise DeliveryFileError(problems)
        facts = DeliveryFacts(header, [line.facts for line in lines])
        created = tuple(
            {id(line.material): line.material for line in facts.lines if line.material.pk is None}.values()
        )
        for material in created:
            material.save()
        delivery = receive_delivery(facts=facts, submission=replace(submission, key=key))
        return Received(delivery, is_new=True, created=created)


def _key_for(raw: bytes) -> tuple[str, Posting | None]:
    """The key for this file, and the standing posting it made before, if it did."""
    base = f"file-{hashlib.sha256(raw).hexdigest()}"
    made = list(Posting.objects.filter(key__startswith=base).select_related("reversed_by"))
    standing = [posting for posting in made if not hasattr(posting, "reversed_by")]
    return f"{base}-{len(made)}", standing[0] if standing else None
