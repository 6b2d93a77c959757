"""The writer for a stocktake: counts against what the books say, posted as count differences and gains."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from inventory.errors import InventoryError, day_in_words
from inventory.ledger.accounts import GAIN, disposal
from inventory.ledger.balances import quantities_on
from inventory.ledger.models import Lot, PostingKind, Reason
from inventory.ledger.posting import PostingDraft, open_ledger
from inventory.materials.models import Kind, Material
from inventory.stock.actions import gains
from inventory.stock.models import Stocktake, StocktakeLine
from studio.auditing.writing import create_all
from studio.submission import Submission
from studio.translation import _
from studio.values.allocation import THOUSANDTHS, divide_half_up
from studio.values.quantities import volume_of
from studio.values.units import Measure


@dataclass(frozen=True, slots=True)
class Count:
    """The count of one lot, in thousandths of its base unit, and how it was counted."""

    lot: Lot
    counted: int
    how: str = "counted"


def weighed(lot: Lot, gross: int, empty: int | None = None) -> int:
    """What a part-full container holds, from its weight: (gross − empty container) ÷ density.

    Weights are thousandths of a gram. Raises InventoryError when the empty weight or the density is not
    known, or the container weighs less than when empty.
    """
    empty_weight = lot.empty_weight if empty is None else empty
    if empty_weight is None:
        raise InventoryError(
            _(
                "{lot}: the weight of the empty container is unknown. Enter it, or measure the paint instead.",
                lot=lot.label,
            )
        )
    if gross < empty_weight:
        raise InventoryError(
            _("{lot}: it weighs less than its empty container. Check both weights.", lot=lot.label)
        )
    if lot.material.measure == Measure.MASS:
        return gross - empty_weight
    if lot.material.measure != Measure.VOLUME or lot.material.density is None:
        raise InventoryError(
            _(
                "{material} has no density, so it cannot be weighed. Enter its density in g/mL, or measure it.",
                material=lot.material,
            )
        )
    return volume_of(gross - empty_weight, lot.material.density)


def post_stocktake(*, counts: Sequence[Count], submission: Submission, notes: str = "") -> Stocktake:
    """Post a stocktake of the submission's day.

    What agrees is recorded without an entry; when all agrees there is no posting at all.
    """
    on = submission.on
    with open_ledger(submission, facts=[on, counts, notes]) as ledger:
        earlier = ledger.earlier_record(Stocktake)
        if earlier is not None:
            return earlier
        _refuse_nonsense(counts, on)
        draft = ledger.draft(PostingKind.STOCKTAKE, note=notes[:500])
        lines = _post_differences(draft, counts)
        posting = draft.seal() if draft.movements or draft.shortfalls else None
        stocktake = Stocktake.objects.create(
            counted_on=on,
            notes=notes,
            posting=posting,
            recorded_by=submission.by,
            key=submission.key,
            fingerprint=ledger.fingerprint,
        )
        for line in lines:
            line.stocktake = stocktake
        create_all(lines)
        return stocktake


def _post_differences(draft: PostingDraft, counts: Sequence[Count]) -> list[StocktakeLine]:
    """Move what each lot lacks out of it and what it has more into it; return a line for every lot."""
    draft.load(Material.objects.filter(pk__in={count.lot.material_id for count in counts}))
    difference = disposal(Reason.objects.get(code="count").pk)
    lots = Lot.objects.filter(pk__in=[count.lot.pk for count in counts]).select_related("balance")
    there = quantities_on(draft.posting.effective_on, list(lots))
    lines = []
    for count in counts:
        material = draft.materials[count.lot.material_id]
        held = draft.holdings[material.pk].get(count.lot.pk)
        expected = there[count.lot.pk]
        lines.append(StocktakeLine(lot=count.lot, expected=expected, counted=count.counted, how=count.how))
        if count.counted < expected:
            draft.draw(material, expected - count.counted, difference, chosen=count.lot.pk, only=True)
        elif count.counted > expected:
            gain = count.counted - expected
            money = (
                divide_half_up(held.money * gain, held.quantity) if held else gains.usual_cost(material, gain)
            )
            draft.receive(count.lot, quantity=gain, money=money, source=GAIN)
    return lines


def _refuse_nonsense(counts: Sequence[Count], on: date) -> None:
    if not counts:
        raise InventoryError(_("A stocktake needs at least one lot."))
    if len({count.lot.pk for count in counts}) < len(counts):
        raise InventoryError(
            _("A lot appears twice in this stocktake. Add its amounts together on one line.")
        )
    lots = Lot.objects.in_bulk([count.lot.pk for count in counts])  # a day may have been corrected since
    for count in counts:
        if count.counted < 0:
            raise InventoryError(_("{lot}: the amount found must be zero or more.", lot=count.lot.label))
        if count.lot.material.kind == Kind.SURFACE and count.counted % THOUSANDTHS:
            raise InventoryError(_("{lot}: surfaces are counted in whole numbers.", lot=count.lot.label))
        if lots[count.lot.pk].received_on > on:
            raise InventoryError(
                _(
                    "{lot} came in after {day}. Use a later date for the stocktake.",
                    lot=count.lot.label,
                    day=day_in_words(on),
                )
            )
