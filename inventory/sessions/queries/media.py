"""Which media pours were made with."""

from collections import defaultdict
from collections.abc import Iterable

from inventory.ledger.models import Entry, EntryRole, Place
from inventory.ledger.movements import incoming, with_source_lot
from inventory.materials.models import Kind
from inventory.sessions.models import Pour


def media_of(pours: Iterable[Pour]) -> dict[int, str]:
    """The media in each pour, by its key: those poured as they are, and those in its mixes. Tap water is none."""
    entries = Entry.objects.standing().filter(
        pour__in=[pour.pk for pour in pours], role=EntryRole.POURED, quantity__gt=0
    )
    facts = ("pour_id", "material__kind", "material__name", "source_lot_id")
    poured = set(with_source_lot(incoming(entries)).order_by().values_list(*facts))
    lots = {lot for *_material, lot in poured if lot is not None}
    mixed: dict[int, set[str]] = defaultdict(set)
    went_in = Entry.objects.filter(
        place=Place.MIX,
        mix__lot__in=lots,
        material__kind=Kind.MEDIUM,
        material__is_free=False,
        quantity__gt=0,
    )
    for lot, name in went_in.order_by().values_list("mix__lot", "material__name"):
        mixed[lot].add(name)
    media: dict[int, set[str]] = defaultdict(set)
    for pour, kind, name, lot in poured:
        if kind == Kind.MEDIUM:
            media[pour].add(name)
        elif lot is not None:
            media[pour] |= mixed.get(lot, set())
    return {pour: " + ".join(sorted(names)) for pour, names in media.items()}
