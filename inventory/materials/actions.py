"""Writers of materials, suppliers and the packs they sell. What is wrong with their facts is said here, once.

Quantities are thousandths of the measure's base unit, money millionths of a currency unit.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from django.dispatch import Signal

from inventory.errors import InventoryError
from inventory.materials.models import DENSEST, LIGHTEST, Kind, Material, MeasureChoice, Supplier, Supply
from inventory.materials.packs import is_valid_gtin
from studio.auditing.reference_rows import is_in_use, locked, save_facts
from studio.errors import InputError, refuse_all
from studio.submission import Submission, transaction
from studio.translation import _
from studio.values.money import minor_units
from studio.values.sizes import Size

WHOLE = 1_000_000
MOST = 32_767  # days or packs that a small column holds

# Sent inside the transaction. Later rooms that work something out from these facts connect when they start up.
mixing_facts_changed = Signal()  # with `material`, whose density or water share is another now
reorder_facts_changed = Signal()  # with `materials` (primary keys) and `at`


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialFacts:
    """What is known of a material. Raises InputError, naming the field, for facts that cannot be.

    `density` is in µg/mL, `water_share` in millionths, `free_rate` in millionths of the currency unit per 1,000 base
    units; `reorder_level` and `safety_stock` are None where use and lead time decide.
    """

    name: str
    kind: str
    measure: str
    maker: str = ""
    colour: str = ""
    density: int | None = None
    water_share: int = 0
    size: Size | None = None
    sides_painted: bool = True
    reorder_level: int | None = None
    safety_stock: int | None = None
    keeps_days: int | None = None
    signal_word: str = ""
    hazards: str = ""
    safety_sheet_dated: date | None = None
    is_free: bool = False
    free_rate: int = 0
    notes: str = ""

    def __post_init__(self) -> None:
        refuse_all([*self._surface_problems(), *self._problems()])

    def _problems(self) -> Iterator[InputError]:
        if self.density is not None and not LIGHTEST <= self.density <= DENSEST:
            yield InputError(_("A density must be between 0.1 and 25 g/mL."), field="density")
        if not 0 <= self.water_share <= WHOLE:
            yield InputError(_("A share must be between 0% and 100%."), field="water_share")
        for name in ("reorder_level", "safety_stock", "free_rate"):
            if (getattr(self, name) or 0) < 0:
                yield InputError(_("This must be zero or more."), field=name)
        if self.keeps_days is not None:
            yield from _outside(1, self.keeps_days, "keeps_days")

    def _surface_problems(self) -> Iterator[InputError]:
        if self.kind != Kind.SURFACE:
            return
        if self.measure != MeasureChoice.COUNT:
            yield InputError(_("A surface is measured in pieces: each."), field="measure")
        if self.size is None:
            yield InputError(_("A surface needs its size, such as 30 x 40 x 1.8 cm."), field="size")
        elif self.sides_painted and self.size.depth is None:
            yield InputError(_("Its sides are painted, so add the depth: 30 x 40 x 1.8 cm."), field="size")


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplierFacts:
    """What is known of a supplier. Raises InputError, naming the field."""

    name: str
    currency: str
    country: str = ""
    lead_time_days: int = 7
    lead_time_variation_days: int = 0
    email: str = ""
    notes: str = ""

    def __post_init__(self) -> None:
        refuse_all(self._problems())

    def _problems(self) -> Iterator[InputError]:
        try:
            minor_units(self.currency)
        except InputError as problem:
            yield InputError(str(problem), field="currency")
        for name in ("lead_time_days", "lead_time_variation_days"):
            yield from _outside(0, getattr(self, name), name)


@dataclass(frozen=True, slots=True, kw_only=True)
class PackFacts:
    """One pack of a material as a supplier sells it; `price` is in the supplier's currency. Raises InputError."""

    supplier: Supplier
    material: Material
    pack_size: int
    price: int
    barcode: str = ""
    minimum_packs: int = 1
    is_preferred: bool = False

    def __post_init__(self) -> None:
        refuse_all(self._problems())

    def _problems(self) -> Iterator[InputError]:
        if self.material.is_free:
            yield InputError(
                _("{name} is a free material, so it is never bought.", name=self.material), field="material"
            )
        if self.pack_size <= 0:
            yield InputError(_("A pack needs a size above zero."), field="pack_size")
        if self.price < 0:
            yield InputError(_("This must be zero or more."), field="price")
        yield from _outside(1, self.minimum_packs, "minimum_packs")
        if self.barcode and not is_valid_gtin(self.barcode):
            yield InputError(
                _("The check digit does not match. Scan it again, or type all 8 to 14 digits."),
                field="barcode",
            )


def save_material(
    facts: MaterialFacts, *, submission: Submission, material: Material | None = None, seen: int | None = None
) -> Material:
    """Add a material, or change one. Amounts are kept in its measure, so that stays once it is in use.

    Raises InputError for facts that do not fit, EditConflict when it was changed after `seen`.
    """
    with transaction(submission):
        row = Material() if material is None else locked(material, seen=seen)
        before = row.density, row.water_share
        if material is not None and is_in_use(row):
            _refuse_other_measure(row, facts)
        size = facts.size
        row.height, row.width = (size.height, size.width) if size else (None, None)
        row.depth, row.is_round = (size.depth, size.round) if size else (None, False)
        save_facts(row, facts, leave_out=["size"])
        if before != (row.density, row.water_share):
            mixing_facts_changed.send(sender=Material, material=row)
        reorder_facts_changed.send(sender=Material, materials=[row.pk], at=submission.at)
    return row


def archive_material(material: Material, *, submission: Submission, archived: bool = True) -> Material:
    """Take a material out of the lists that are chosen from, or bring it back. Its stock and history stay."""
    with transaction(submission):
        row = locked(material, seen=None)
        if row.is_archived != archived:
            row.is_archived = archived
            row.save(update_fields=["is_archived"])
    return row


def delete_material(material: Material, *, submission: Submission, seen: int | None = None) -> None:
    """Remove a material that nothing refers to. Raises InventoryError for one in use, EditConflict."""
    with transaction(submission):
        row = locked(material, seen=seen)
        if is_in_use(row):
            raise InventoryError(
                _("{name} is in use, so it cannot be deleted. Archive it instead.", name=row.name)
            )
        row.delete()


def save_supplier(
    facts: SupplierFacts, *, submission: Submission, supplier: Supplier | None = None, seen: int | None = None
) -> Supplier:
    """Add a supplier, or change one. Raises InputError, EditConflict."""
    with transaction(submission):
        row = Supplier() if supplier is None else locked(supplier, seen=seen)
        save_facts(row, facts)
        sold = list(row.supplies.order_by().values_list("material", flat=True).distinct())
        reorder_facts_changed.send(sender=Supplier, materials=sold, at=submission.at)
    return row


def delete_supplier(supplier: Supplier, *, submission: Submission, seen: int | None = None) -> None:
    """Remove a supplier without packs, orders and deliveries. Raises InventoryError for any other, EditConflict."""
    with transaction(submission):
        row = locked(supplier, seen=seen)
        if is_in_use(row):
            raise InventoryError(
                _("{name} has packs, orders or deliveries, so it cannot be deleted.", name=row.name)
            )
        row.delete()


def save_pack(
    facts: PackFacts, *, submission: Submission, pack: Supply | None = None, seen: int | None = None
) -> Supply:
    """Add a pack, or change one. Raises InputError, EditConflict."""
    with transaction(submission):
        row = Supply() if pack is None else locked(pack, seen=seen)
        same = Supply.objects.filter(
            supplier=facts.supplier, material=facts.material, pack_size=facts.pack_size
        ).exclude(pk=row.pk)
        if same.exists():
            raise InputError(
                _(
                    "{supplier} already has a pack of {material} of this size. Change that one.",
                    supplier=facts.supplier,
                    material=facts.material,
                ),
                field="pack_size",
            )
        save_facts(row, facts)
        reorder_facts_changed.send(sender=Supply, materials=[row.material_id], at=submission.at)
    return row


def delete_pack(pack: Supply, *, submission: Submission, seen: int | None = None) -> None:
    """Remove a pack: orders and deliveries do not refer to it. Raises EditConflict."""
    with transaction(submission):
        locked(pack, seen=seen).delete()


def _outside(least: int, number: int, field: str) -> Iterator[InputError]:
    if not least <= number <= MOST:
        yield InputError(_("This must be between {least} and {most}.", least=least, most=MOST), field=field)


def _refuse_other_measure(row: Material, facts: MaterialFacts) -> None:
    if facts.measure != row.measure:
        raise InputError(
            _("{name} is in use, so its measure cannot be changed.", name=row.name), field="measure"
        )
    if facts.is_free != row.is_free:
        raise InputError(
            _("{name} is in use, so it cannot be changed between free and bought.", name=row.name),
            field="is_free",
        )
