"""What is in a jar: everything that was mixed into a lot, through every generation of mixes and decanted jars."""

from collections import defaultdict
from collections.abc import Iterable, Mapping

from inventory.ledger.models import Entry, Lot, Place
from inventory.ledger.movements import incoming, source_lot_of, with_source_lot
from inventory.materials.models import Material

# A material, none where a jar was filled from another; and the lot that it came from, none for what is free.
Drawn = set[tuple[int | None, int | None]]


def parts_in(lots: Iterable[int]) -> dict[int, list[Material]]:
    """The materials that were mixed into each of these lots, by name; none for what was bought as it is.

    Two queries for each generation of mixes, however many lots.
    """
    wanted = set(lots)
    known: dict[int, Drawn] = {}
    waiting = set(wanted)
    while waiting:
        known |= _drawn_by(waiting)
        waiting = {source for drawn in known.values() for _material, source in drawn if source} - known.keys()
    found = {lot: _all_in(lot, known) for lot in wanted}
    materials = Material.objects.filter(pk__in=set().union(*found.values())).order_by("name")
    by_name = list(materials) if any(found.values()) else []
    return {lot: [material for material in by_name if material.pk in parts] for lot, parts in found.items()}


def _drawn_by(lots: set[int]) -> dict[int, Drawn]:
    """What each of these lots was mixed or filled from, as corrected."""
    drawn: dict[int, Drawn] = {lot: set() for lot in lots}
    jars = Lot.objects.filter(pk__in=lots, decanted_from__isnull=False)
    for jar, source in jars.values_list("pk", "decanted_from"):
        drawn[jar].add((None, source))
    amounts: dict[tuple[int, int, int | None], int] = defaultdict(int)
    in_cups = incoming(Entry.objects.standing().filter(place=Place.MIX, mix__lot__in=lots))
    for entry in with_source_lot(in_cups).select_related("mix"):
        if entry.mix is not None:
            amounts[entry.mix.lot_id, entry.material_id, source_lot_of(entry)] += entry.quantity
    for (lot, material, source), quantity in amounts.items():
        if quantity > 0:
            drawn[lot].add((material, source))
    return drawn


def _all_in(lot: int, known: Mapping[int, Drawn]) -> set[int]:
    """What went into a lot, by itself or with something that was mixed before."""
    found: set[int] = set()
    to_open, seen = [lot], {lot}
    while to_open:
        for material, source in known[to_open.pop()]:
            if material:
                found.add(material)
            if source and source not in seen:
                seen.add(source)
                to_open.append(source)
    return found
