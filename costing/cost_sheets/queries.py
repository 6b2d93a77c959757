"""The cost sheet of a piece: every line to its lot, pour and minute, read from the ledger and summing to it exactly.

Materials are what the ledger charged to the piece's pours and to the failed ones beneath (rework). Money is millionths,
quantities thousandths of a base unit.

Labour and overhead are the pours' share of their sessions, and the minutes worked on the piece since, at the rates of
the day of the work; a piece that has left keeps the rates that it left with. A session's minutes belong to all its
pours alike, good or failed (common practice, no source). The money is calculated once for the session and shared by
largest remainder, so that the pours' shares add up to the session's whole exactly; so do the seconds.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from django.db.models import QuerySet, Sum

from costing.cost_sheets.lines import CostSheet, CostSummary, Disposal, MaterialLine, TimeLine
from costing.cost_sheets.rates import HourlyRates, WorkRates
from costing.cost_sheets.sources import Sources
from costing.pieces.calculations import State
from costing.pieces.models import Labour, Piece, PiecePour
from inventory.ledger.models import Entry, EntryRole, Place, PostingKind
from inventory.ledger.movements import incoming, outgoing, source_lot_of, with_source_lot
from inventory.sessions.actions.work import with_poured_over
from inventory.sessions.models import Pour, Session
from inventory.sessions.queries.failed_pours import Losses, shares_of_normal_losses
from inventory.sessions.queries.mixing_time import mixing_sessions, shares_of_mixing
from studio.translation import _, noop
from studio.values.allocation import allocate
from studio.values.dated import Held

ROLES = list(EntryRole.values)
# Kept in English, for a request sent again is compared with them; put into the reader's language on the way out.
WORK_NAMES = {"Finishing": noop("Finishing"), "Packing": noop("Packing")}


@dataclass(frozen=True, slots=True)
class TimeCost:
    """Seconds worked, at the rates of their day, and what both came to (millionths); a stated cost has no rates."""

    work: str
    on: date
    pour_id: int | None
    seconds: int
    rates: HourlyRates | None
    wage: int
    overhead: int


@dataclass(slots=True)
class Layers:
    """One piece's pours: its own on top, and beneath them the failed ones that they were poured over.

    `disposals` are the standing postings that took it out other than by a sale. A pour beneath that was written off by
    itself is a loss of its own and not here.
    """

    own: list[Pour] = field(default_factory=list)
    beneath: list[Pour] = field(default_factory=list)
    disposals: set[int] = field(default_factory=set)

    @property
    def all(self) -> list[Pour]:
        return self.own + self.beneath

    @property
    def area(self) -> int:
        """Surface area in thousandths of a cm²: each surface once."""
        return sum(pour.area for pour in self.own)


def layers_of(pieces: Iterable[Piece]) -> dict[int, Layers]:
    """The layers of these pieces, by piece. The number of queries grows with the layers, not with the pieces."""
    by_piece = {piece.pk: Layers() for piece in pieces}
    parts = list(
        PiecePour.objects.filter(piece__in=by_piece).order_by("pour_id").values_list("piece_id", "pour_id")
    )
    tops = list(Pour.objects.filter(pk__in=[pour for _, pour in parts]))
    by_pk = {pour.pk: pour for pour in with_poured_over(tops)}
    for piece, pk in parts:
        layers, pour = by_piece[piece], by_pk[pk]
        layers.own.append(pour)
        while pour.over_id:
            pour = by_pk[pour.over_id]
            layers.beneath.append(pour)
    written_off: dict[int | None, set[int]] = {}
    for pour_pk, posting in Entry.objects.filter(
        pour__in=by_pk,
        place=Place.WORK,
        posting__kind=PostingKind.PIECE_WRITE_OFF,
        posting__reversed_by__isnull=True,
    ).values_list("pour_id", "posting_id"):
        written_off.setdefault(pour_pk, set()).add(posting)
    for layers in by_piece.values():
        layers.disposals = set().union(*(written_off.get(pour.pk, set()) for pour in layers.own))
        layers.beneath = [
            pour for pour in layers.beneath if written_off.get(pour.pk, set()) <= layers.disposals
        ]
    return by_piece


def cost_sheet(piece: Piece) -> CostSheet:
    """A piece's cost sheet as the ledger has it now."""
    layers = layers_of([piece])[piece.pk]
    lines = _material_lines(layers)
    labour, overhead = _time_lines(piece, layers)
    return CostSheet(
        area=layers.area,
        lines=tuple(line for line in lines if not _is_rework(line, layers)),
        rework=tuple(line for line in lines if _is_rework(line, layers)),
        labour=tuple(labour),
        overhead=tuple(overhead),
        disposal=_disposal(piece, layers),
    )


def cost_summaries(pieces: Iterable[Piece]) -> dict[int, CostSummary]:
    """What each of these pieces cost, by piece, in the same few queries however many pieces there are."""
    layers = layers_of(pieces)
    pours = [pour for piece in layers.values() for pour in piece.all]
    rows = _charges(pours).values_list("pour_id").annotate(money=Sum("money")).order_by()
    materials: dict[int | None, int] = dict(rows)
    times = _times(layers)
    summaries = {}
    for pk, piece in layers.items():
        spent = times[pk]
        summaries[pk] = CostSummary(
            sum(materials.get(pour.pk, 0) for pour in piece.all),
            sum(time.wage for time in spent),
            sum(time.overhead for time in spent),
            piece.area,
            sum(time.seconds for time in spent),
        )
    return summaries


def _charges(pours: Iterable[Pour]) -> QuerySet[Entry]:
    """Every entry that counts and brought cost to these pours or restated it: destinations, not sources."""
    return incoming(Entry.objects.in_force().filter(pour__in=[pour.pk for pour in pours], place=Place.WORK))


def _material_lines(layers: Layers) -> list[MaterialLine]:
    charges = with_source_lot(_charges(layers.all)).select_related("posting", "material")
    entries = list(charges.order_by("posting_id", "line"))
    sources = Sources({lot for entry in entries if (lot := source_lot_of(entry))})
    grouped: dict[tuple[int, bool, str, int, int], list[Entry]] = {}
    for entry in entries:
        is_correction = not entry.quantity
        key = (entry.pour_id or 0, is_correction, entry.role, entry.material_id, entry.posting_id)
        grouped.setdefault(key, []).append(entry)
    pours = {pour.pk: pour for pour in layers.all}
    depth = {pk: place for place, pk in enumerate(pours)}
    ordered = sorted(
        grouped.items(), key=lambda item: (depth[item[0][0]], item[0][1], ROLES.index(item[0][2]))
    )
    lines = [_line(pours[pour], is_correction, rows, sources) for (pour, is_correction, *_), rows in ordered]
    return [line for line in lines if line.quantity or line.money]


def _line(pour: Pour, is_correction: bool, rows: Sequence[Entry], sources: Sources) -> MaterialLine:
    drawn = () if is_correction else rows
    return MaterialLine(
        pour=pour,
        role=rows[0].role,
        material=rows[0].material,
        quantity=sum(entry.quantity for entry in rows),
        money=sum(entry.money for entry in rows),
        posting=rows[0].posting,
        sources=tuple(sources.of_entry(entry, entry.quantity, entry.money) for entry in drawn),
        is_correction=is_correction,
    )


def _is_rework(line: MaterialLine, layers: Layers) -> bool:
    return line.pour in layers.beneath and line.pour.surface_id != line.material.pk


def _time_lines(piece: Piece, layers: Layers) -> tuple[list[TimeLine], list[TimeLine]]:
    """Labour and overhead lines: sessions first, then what was worked since. Overhead only where it costs."""
    labels = {pour.pk: pour.label for pour in layers.all}
    beneath = {pour.pk for pour in layers.beneath}
    times = _times({piece.pk: layers})[piece.pk]

    def line(time: TimeCost, rate: Held | None, money: int) -> TimeLine:
        pour = time.pour_id or 0
        is_stated = time.rates is None
        label = labels.get(pour, "")
        return TimeLine(
            time.work, time.on, label, time.seconds, rate, money, pour in beneath, is_stated=is_stated
        )

    labour = [
        line(time, time.rates and time.rates.wage, time.wage) for time in times if time.seconds or time.wage
    ]
    overhead = [
        line(time, time.rates and time.rates.overhead, time.overhead) for time in times if time.overhead
    ]
    return labour, overhead


def _disposal(piece: Piece, layers: Layers) -> Disposal | None:
    if not layers.disposals:
        return None
    entries = Entry.objects.filter(posting=max(layers.disposals), place=Place.LOSS)
    first = entries.select_related("posting", "reason").order_by("line")[:1].get()
    in_work = Entry.objects.filter(pour__in=[pour.pk for pour in layers.all], place=Place.WORK)
    cost = -(outgoing(in_work).aggregate(cost=Sum("money"))["cost"] or 0)
    return Disposal(str(first.reason), first.posting.effective_on, first.posting_id, cost, piece.market_value)


def times_of(pieces: Iterable[Piece]) -> dict[int, list[TimeCost]]:
    """All time that was worked for these pieces, by piece."""
    return _times(layers_of(pieces))


def _times(layers: Mapping[int, Layers]) -> dict[int, list[TimeCost]]:
    """Time by piece: the shares of sessions first, pour by pour, then what was worked since."""
    rates = WorkRates.read(layers)
    shares, labour, stated = session_times(layers, rates), labour_times(layers, rates), stated_times(layers)
    for pour_pk, worked in scraped_labour(layers.values(), rates).items():
        shares.setdefault(pour_pk, []).extend(worked)
    return {
        pk: [time for pour in piece.all for time in shares.get(pour.pk, ())]
        + stated.get(pk, [])
        + labour.get(pk, [])
        for pk, piece in layers.items()
    }


def stated_times(pieces: Iterable[int]) -> dict[int, list[TimeCost]]:
    """What labour and overhead of pieces that were brought in finished were stated to be: no minutes, no rates."""
    brought_in = Piece.objects.filter(pk__in=list(pieces)).exclude(stated_labour=0, stated_overhead=0)
    rows = brought_in.order_by().values_list("pk", "made_on", "stated_labour", "stated_overhead")
    return {
        pk: [TimeCost(str(EntryRole.OPENING.label), on, None, 0, None, labour, overhead)]
        for pk, on, labour, overhead in rows
    }


def session_times(layers: Mapping[int, Layers], rates: WorkRates) -> dict[int, list[TimeCost]]:
    """By pour its share of its session, alike, and of sessions that only mixed what it is made of, by volume.

    None of a session that was reversed. The number of queries grows with the generations of mixes alone.
    """
    piece_of = {pour.pk: piece for piece, layer in layers.items() for pour in layer.all}
    sessions = {pour.session_id for layer in layers.values() for pour in layer.all}
    by_pk = Session.objects.standing().in_bulk(sessions)
    poured: dict[int, list[int]] = {}
    rows = Pour.objects.filter(session__in=by_pk).order_by("number").values_list("session_id", "pk")
    for session_pk, pour_pk in rows:
        poured.setdefault(session_pk, []).append(pour_pk)
    weights: list[tuple[Session, Mapping[int | None, int]]] = [
        (by_pk[session], dict.fromkeys(its_pours, 1)) for session, its_pours in poured.items()
    ]
    mixed = mixing_sessions()
    shares = shares_of_mixing(mixed) if mixed else {}
    weights += [(session, shares[session.pk]) for session in mixed]
    losses = shares_of_normal_losses(
        {pour for _session, each in weights for pour in each if pour is not None}
    )
    weights = [(session, _carried(each, losses)) for session, each in weights]
    times: dict[int, list[TimeCost]] = {}
    for session, its_weights in weights:
        # Pieces that have left may have kept other rates for the same day: shared once for each.
        by_rates: dict[HourlyRates, set[int]] = {}
        for pour in its_weights:
            if pour in piece_of:
                by_rates.setdefault(rates.on(piece_of[pour], session.held_on), set()).add(pour)
        for its_rates, pours in by_rates.items():
            for pour, time in _shared(session, its_weights, its_rates).items():
                if pour in pours:
                    times.setdefault(pour, []).append(time)
    return times


def _carried(weights: Mapping[int | None, int], losses: Losses) -> Mapping[int | None, int]:
    """Shares of time without pours that were a normal loss: whoever carries their material carries their time."""
    for failed, carriers in losses:
        if failed in weights:
            whole, share = sum(carriers.values()), weights[failed]
            scaled = {pour: weight * whole for pour, weight in weights.items() if pour != failed}
            for pour, part in carriers.items():
                scaled[pour] = scaled.get(pour, 0) + share * part
            weights = scaled
    return weights


def scraped_labour(layers: Iterable[Layers], rates: WorkRates) -> dict[int, list[TimeCost]]:
    """What was worked on scraped pieces, by their pours that lie beneath others, alike."""
    beneath = {pour.pk for each in layers for pour in each.beneath}
    scraped = PiecePour.objects.filter(pour__in=beneath, piece__state=State.SCRAPED) if beneath else None
    pieces = set(scraped.values_list("piece_id", flat=True)) if scraped is not None else set()
    times: dict[int, list[TimeCost]] = {}
    if not pieces:
        return times
    pours: dict[int, list[int]] = {}
    parts = PiecePour.objects.filter(piece__in=pieces).order_by("pour_id")
    for piece, pour in parts.values_list("piece", "pour"):
        pours.setdefault(piece, []).append(pour)
    for piece, labour in labour_times(pieces, rates).items():
        for time in labour:
            alike = [1] * len(pours[piece])
            shares = (allocate(whole, alike) for whole in (time.seconds, time.wage, time.overhead))
            for pour, seconds, wage, overhead in zip(pours[piece], *shares, strict=True):
                part = replace(time, pour_id=pour, seconds=seconds, wage=wage, overhead=overhead)
                times.setdefault(pour, []).append(part)
    return times


def labour_times(
    pieces: Iterable[int], rates: WorkRates, *, work: str | None = None
) -> dict[int, list[TimeCost]]:
    """Minutes worked on each piece since its sessions, by piece; only those of one `work`, if given. One query."""
    times: dict[int, list[TimeCost]] = {}
    rows = Labour.objects.filter(piece__in=list(pieces))
    for row in rows if work is None else rows.filter(work=work):
        its_rates = rates.on(row.piece_id, row.on)
        wage, overhead = its_rates.cost_of(row.minutes)
        work = _(WORK_NAMES[row.work]) if row.work in WORK_NAMES else row.work
        time = TimeCost(work, row.on, None, row.minutes * 60, its_rates, wage, overhead)
        times.setdefault(row.piece_id, []).append(time)
    return times


def _shared(session: Session, weights: Mapping[int | None, int], rates: HourlyRates) -> dict[int, TimeCost]:
    """A session's time by pour; what has the weight of no pour is charged to none."""
    whole = (session.minutes * 60, *rates.cost_of(session.minutes))
    shares = zip(weights, *(allocate(total, list(weights.values())) for total in whole), strict=True)
    return {
        pour: TimeCost(str(session), session.held_on, pour, seconds, rates, wage, cost)
        for pour, seconds, wage, cost in shares
        if pour is not None
    }
