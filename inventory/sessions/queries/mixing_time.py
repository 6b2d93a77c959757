"""Minutes of sessions that only mixed: they follow the mixed colours to the pours that draw from them, by volume.

What is still in stock, or went elsewhere, is labour that no pour was charged with yet.
"""

from collections import defaultdict
from collections.abc import Iterable
from fractions import Fraction
from math import lcm

from django.db.models import OuterRef, Subquery

from inventory.ledger.models import Entry, Place
from inventory.recipes.models import Mix
from inventory.sessions.models import Session
from studio.values.allocation import allocate

Shares = dict[int | None, int]  # by pour, as weights; by None what no pour has drawn yet
_Flow = tuple[int, int | None, int | None]  # quantity, the pour or the lot that it went to


def mixing_sessions() -> list[Session]:
    """Standing sessions with minutes and mixes but without pours."""
    only_mixed = Session.objects.standing().filter(minutes__gt=0, pours__isnull=True, mixes__isnull=False)
    return list(only_mixed.distinct().prefetch_related("mixes"))


def minutes_not_charged(session: Session) -> int | None:
    """Minutes of a session that only mixed that no pour was charged with yet; None for any other session."""
    is_reversed = hasattr(session.posting, "reversed_by")
    if is_reversed or not session.minutes or session.pours.exists() or not session.mixes.exists():
        return None
    weights = shares_of_mixing([session])[session.pk]
    shares = dict(zip(weights, allocate(session.minutes, list(weights.values())), strict=True))
    return shares[None]


def shares_of_mixing(sessions: Iterable[Session]) -> dict[int, Shares]:
    """How the time of each of these sessions is shared, by session. A query for each generation of mixes."""
    lots = {mix.lot_id for session in sessions for mix in session.mixes.all()}
    made, flows = _followed(lots)
    shares = {}
    for session in sessions:
        own = [mix.lot_id for mix in session.mixes.all()]
        weights: dict[int | None, Fraction] = defaultdict(Fraction)
        for lot in own:
            for pour, part in _parts(lot, made, flows).items():
                weights[pour] += part * made[lot]
        weights[None] = sum((made[lot] for lot in own), Fraction(0)) - sum(weights.values())
        scale = lcm(*(weight.denominator for weight in weights.values()))
        shares[session.pk] = {pour: int(weight * scale) for pour, weight in weights.items()}
    return shares


def _followed(lots: set[int]) -> tuple[dict[int, Fraction], dict[int, list[_Flow]]]:
    """What each lot came to, and what left it for pours and for other lots, generation by generation."""
    made: dict[int, Fraction] = defaultdict(Fraction)
    flows: dict[int, list[_Flow]] = defaultdict(list)
    waiting, seen = set(lots), set(lots)
    while waiting:
        destination = Entry.objects.filter(posting=OuterRef("posting"), line=OuterRef("line") + 1)
        rows = (
            Entry.objects.standing()
            .filter(lot__in=waiting, place=Place.LOT)
            .exclude(quantity=0)
            .annotate(
                to_pour=Subquery(destination.values("pour")[:1]),
                to_mix=Subquery(destination.values("mix")[:1]),
                to_lot=Subquery(destination.values("lot")[:1]),
            )
            .values_list("lot_id", "line", "quantity", "to_pour", "to_mix", "to_lot")
        )
        movements = list(rows)
        mixes = {mix for _lot, line, _quantity, _pour, mix, _to in movements if mix and line % 2}
        lot_of = dict(Mix.objects.filter(pk__in=mixes).values_list("pk", "lot_id")) if mixes else {}
        waiting = set()
        for lot, line, quantity, pour, mix, to_lot in movements:
            if line % 2 == 0:  # it is the destination, also where a correction made less of it
                made[lot] += quantity
                continue
            to = lot_of.get(mix, to_lot)
            flows[lot].append((-quantity, pour, to))
            if to and to not in seen:
                waiting.add(to)
        seen |= waiting
    return made, flows


def _parts(lot: int, made: dict[int, Fraction], flows: dict[int, list[_Flow]]) -> dict[int, Fraction]:
    """Which part of a lot each pour has drawn, by itself or through what was mixed of it."""
    parts: dict[int, Fraction] = defaultdict(Fraction)
    for quantity, pour, to in flows[lot]:
        part = quantity / made[lot]
        if pour:
            parts[pour] += part
        elif to:
            for further, share in _parts(to, made, flows).items():
                parts[further] += part * share
    return parts
