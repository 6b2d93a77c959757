"""Which media pours were made with."""

from collections import defaultdict
from collections.abc import Iterable

from inventory.ledger.models import Entry, EntryRole, Place
from inventory.ledger.movements import recorded_movements
from inventory.materials.models import Kind
from inventory.sessions.models import Pour


def media_of(pours: Iterable[Pour]) -> dict[int, str]:
    """The media in each pour, by its key: those poured as they are, and those in its mixes. Tap water is none."""
    poured = recorded_movements(
        Entry.objects.standing()
        .filter(pour__in=[pour.pk for pour in pours], role=EntryRole.POURED, quantity__gt=0)
        .order_by("posting_id", "line")
    )
    lots = {each.source_lot.pk for each in poured if each.source_lot is not None}
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
    for each in poured:
        if each.destination.pour is None:
            continue
        if each.material.kind == Kind.MEDIUM:
            media[each.destination.pour].add(each.material.name)
        elif each.source_lot is not None:
            media[each.destination.pour] |= mixed.get(each.source_lot.pk, set())
    return {pour: " + ".join(sorted(names)) for pour, names in media.items()}
