"""Writers of materials, suppliers and the packs they sell. What is wrong with one, its model says (`clean`).

Quantities are thousandths of the measure's base unit, money millionths of a currency unit.
"""

from collections.abc import Sequence

from django.dispatch import Signal

from inventory.materials.models import MOST, PRICE_BREAKS, Material, PriceBreak, Supplier, Supply
from studio.auditing.recording import record_change
from studio.auditing.reference_rows import is_in_use, locked, save_row
from studio.auditing.writing import create_all
from studio.errors import InputError
from studio.submission import Submission, transaction
from studio.translation import _

# Sent inside the transaction. Later rooms that work something out from these facts connect when they start up.
mixing_facts_changed = Signal()  # with `material`, whose density or water share is another now
reorder_facts_changed = Signal()  # with `materials` (primary keys) and `at`


def save_material(material: Material, *, submission: Submission, seen: int | None = None) -> Material:
    """Add a material, or change one. Amounts are kept in its measure, so that stays once it is in use.

    Raises InputError for what does not fit, EditConflict when it was changed after `seen`.
    """
    with transaction(submission):
        before = Material() if material.pk is None else locked(material, seen=seen)
        if material.pk is not None and is_in_use(before):
            _refuse_other_measure(before, material)
        save_row(material, submission=submission)
        is_new = before.pk is None  # so nothing is made from it
        if not is_new and (before.density, before.water_share) != (material.density, material.water_share):
            mixing_facts_changed.send(sender=Material, material=material)
        reorder_facts_changed.send(sender=Material, materials=[material.pk], at=submission.at)
    return material


def save_supplier(supplier: Supplier, *, submission: Submission, seen: int | None = None) -> Supplier:
    """Add a supplier, or change one. Raises InputError, EditConflict."""
    with transaction(submission):
        save_row(supplier, submission=submission, seen=seen)
        sold = list(supplier.supplies.order_by().values_list("material", flat=True).distinct())
        reorder_facts_changed.send(sender=Supplier, materials=sold, at=submission.at)
    return supplier


def save_pack(
    pack: Supply,
    *,
    submission: Submission,
    seen: int | None = None,
    breaks: Sequence[tuple[int, int]] | None = None,
) -> Supply:
    """Add a pack, or change one. Raises InputError, EditConflict.

    `breaks` are the prices of each from so many packs on; None leaves them as they are.
    """
    with transaction(submission):
        save_row(pack, submission=submission, seen=seen)
        if breaks is not None:
            _save_breaks(pack, breaks)
        reorder_facts_changed.send(sender=Supply, materials=[pack.material_id], at=submission.at)
    return pack


def _save_breaks(pack: Supply, breaks: Sequence[tuple[int, int]]) -> None:
    _refuse_breaks(pack, breaks)
    before, currency = list(pack.price_breaks.all()), pack.supplier.currency
    old = [{"packs": each.from_packs, "price": each.price, "currency": currency} for each in before]
    new = [{"packs": packs, "price": price, "currency": currency} for packs, price in breaks]
    if old == new:
        return
    pack.price_breaks.all().delete()
    create_all(PriceBreak(supply=pack, from_packs=packs, price=price) for packs, price in breaks)
    record_change(pack, field=PRICE_BREAKS, old=old, new=new)


def _refuse_breaks(pack: Supply, breaks: Sequence[tuple[int, int]]) -> None:
    """More packs must cost less each, and none may ask for fewer than the supplier sends at all."""
    packs, price = max(pack.minimum_packs, 1), pack.price
    for next_packs, next_price in breaks:
        if next_packs <= packs:
            advice = _("List them from few packs to many, each from more than {packs}.", packs=packs)
            raise InputError(advice, field=PRICE_BREAKS)
        if next_packs > MOST or next_price >= price:
            advice = _("From {packs} packs on, each must cost less than with fewer.", packs=next_packs)
            raise InputError(advice, field=PRICE_BREAKS)
        packs, price = next_packs, next_price


def _refuse_other_measure(before: Material, material: Material) -> None:
    if material.measure != before.measure:
        raise InputError(
            _("{name} is in use, so its measure cannot be changed.", name=before.name), field="measure"
        )
    if material.is_free != before.is_free:
        raise InputError(
            _("{name} is in use, so it cannot be changed between free and bought.", name=before.name),
            field="is_free",
        )
