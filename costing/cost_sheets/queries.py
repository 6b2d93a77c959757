"""The cost sheet of a piece: every line to its lot, pour and minute, read from the ledger and summing to it exactly.

Materials are what the ledger charged to the piece's pours and to the failed ones beneath (rework). Money is millionths,
quantities thousandths of a base unit. Labour and overhead: see time_costs.
"""

from collections.abc import Iterable, Sequence
from datetime import date

from django.db.models import QuerySet, Sum

from costing.cost_sheets.layers import Layers, layers_of
from costing.cost_sheets.lines import CostSheet, CostSummary, MaterialLine, TimeLine, WayOut
from costing.cost_sheets.sources import Source, Sources, free_source
from costing.cost_sheets.time_costs import TimeCost, labour_times, session_times
from costing.pieces.models import Piece
from inventory.ledger.models import Entry, EntryRole, Place, PostingKind
from inventory.ledger.movements import source_lot_of, with_source_lot
from inventory.sessions.models import Pour

LEAVING = (PostingKind.SALE, PostingKind.PIECE_WRITE_OFF)
ROLES = list(EntryRole.values)


def cost_sheet(piece: Piece, *, on: date | None = None) -> CostSheet:
    """Read a piece's cost sheet, now or as it stood at the end of a day; what a sale brought is not on it."""
    layers = layers_of([piece], on=on)[piece.pk]
    lines = _material_lines(layers, on)
    rework = [line for line in lines if _is_rework(line, layers)]
    labour, overhead = _time_lines(piece, layers, on)
    return CostSheet(
        piece_id=piece.pk,
        title=piece.title,
        on=on,
        area=layers.area,
        lines=tuple(line for line in lines if not _is_rework(line, layers)),
        rework=tuple(rework),
        labour=tuple(labour),
        overhead=tuple(overhead),
        way_out=_way_out(piece, layers),
    )


def cost_summaries(pieces: Iterable[Piece]) -> dict[int, CostSummary]:
    """What each of these pieces cost, by piece, in the same few queries however many pieces there are."""
    layers = layers_of(pieces)
    pours = [pour for piece in layers.values() for pour in piece.all]
    rows = _charges(pours, None).values_list("pour_id").annotate(money=Sum("money")).order_by()
    materials: dict[int | None, int] = dict(rows)
    times, labour = session_times(pours), labour_times(layers)
    found = {}
    for pk, piece in layers.items():
        spent = [times[pour.pk] for pour in piece.all if pour.pk in times] + labour.get(pk, [])
        found[pk] = CostSummary(
            sum(materials.get(pour.pk, 0) for pour in piece.all),
            sum(time.wage for time in spent),
            sum(time.overhead for time in spent),
            piece.area,
        )
    return found


def _charges(pours: Iterable[Pour], on: date | None) -> QuerySet[Entry]:
    """Every entry that brought cost to these pours or corrected it, wherever the pours are now."""
    entries = (
        Entry.objects.filter(pour__in=[pour.pk for pour in pours])
        .exclude(posting__kind__in=LEAVING)
        .exclude(posting__reverses__kind__in=LEAVING)
    )
    return entries if on is None else entries.filter(posting__effective_on__lte=on)


def _material_lines(layers: Layers, on: date | None) -> list[MaterialLine]:
    found = with_source_lot(_charges(layers.all, on)).select_related("posting", "material")
    entries = _not_reversed(list(found.order_by("posting_id", "line")))
    sources = Sources({lot for entry in entries if (lot := source_lot_of(entry))})
    grouped: dict[tuple[int, bool, str, int, int], list[Entry]] = {}
    for entry in entries:
        is_correction = entry.posting.kind == PostingKind.COST_CORRECTION
        key = (entry.pour_id or 0, is_correction, entry.role, entry.material_id, entry.posting_id)
        grouped.setdefault(key, []).append(entry)
    depth = {pour.pk: place for place, pour in enumerate(layers.all)}
    labels = {pour.pk: pour.label for pour in layers.all}
    ordered = sorted(
        grouped.items(), key=lambda item: (depth[item[0][0]], item[0][1], ROLES.index(item[0][2]))
    )
    lines = [_line(labels[pour], is_correction, rows, sources) for (pour, is_correction, *_), rows in ordered]
    return [line for line in lines if line.quantity or line.money]


def _not_reversed(entries: list[Entry]) -> list[Entry]:
    """Leave out what was posted and taken back again."""
    reversals = {entry.posting_id for entry in entries if entry.posting.reverses_id}
    reversed_ = {entry.posting.reverses_id for entry in entries}
    return [entry for entry in entries if entry.posting_id not in reversals | reversed_]


def _line(pour: str, is_correction: bool, rows: Sequence[Entry], sources: Sources) -> MaterialLine:
    first = rows[0]
    material = first.material
    drawn = () if is_correction else tuple(_source(entry, sources) for entry in rows)
    return MaterialLine(
        pour_id=first.pour_id or 0,
        pour=pour,
        role=first.role,
        material_id=material.pk,
        material=material.name,
        measure=material.measure,
        colour=material.colour,
        quantity=sum(entry.quantity for entry in rows),
        money=sum(entry.money for entry in rows),
        posting=first.posting_id,
        posted_on=first.posting.effective_on,
        note=first.posting.note,
        sources=drawn,
        is_correction=is_correction,
    )


def _source(entry: Entry, sources: Sources) -> Source:
    lot = source_lot_of(entry)
    if lot is None:
        return free_source(entry, entry.quantity, entry.money)
    return sources.of(lot, entry.quantity, entry.money)


def _is_rework(line: MaterialLine, layers: Layers) -> bool:
    return any(pour.pk == line.pour_id and pour.surface_id != line.material_id for pour in layers.beneath)


def _time_lines(piece: Piece, layers: Layers, on: date | None) -> tuple[list[TimeLine], list[TimeLine]]:
    """Labour and overhead lines: sessions first, then what was worked since. Overhead only where it costs."""
    labels = {pour.pk: pour.label for pour in layers.all}
    beneath = {pour.pk for pour in layers.beneath}
    shares = session_times(layers.all, on=on)
    times = [shares[pour.pk] for pour in layers.all if pour.pk in shares]
    times += labour_times([piece.pk], on=on).get(piece.pk, [])

    def line(time: TimeCost, per_hour: int, money: int) -> TimeLine:
        pour = time.pour_id or 0
        return TimeLine(
            time.work, time.on, labels.get(pour, ""), time.seconds, per_hour, money, pour in beneath
        )

    labour = [line(time, time.wage_per_hour, time.wage) for time in times if time.seconds]
    overhead = [line(time, time.overhead_per_hour, time.overhead) for time in times if time.overhead]
    return labour, overhead


def _way_out(piece: Piece, layers: Layers) -> WayOut | None:
    if not layers.left_by:
        return None
    entries = Entry.objects.filter(posting=max(layers.left_by), place=Place.LOSS)
    first = entries.select_related("posting", "reason").order_by("line")[:1].get()
    cost = entries.aggregate(cost=Sum("money"))["cost"]
    return WayOut(str(first.reason), first.posting.effective_on, first.posting_id, cost, piece.market_value)
