"""Where a piece is, in words. Contacts are named only to those who may write."""

from costing.locations.models import Location
from costing.locations.queries import LEFT, LENT, Held, Whereabouts
from costing.pieces.models import Piece
from studio.preferences.formatting import Formatter
from studio.translation import _


def place_name(kind: str, location: Location | None) -> str:
    """The name of a place: a location's own, the studio, or that pieces are lent."""
    if location is not None:
        return location.name
    return _("Lent") if kind == LENT else _("Studio")


def held_name(held: Held) -> str:
    return place_name(held.kind, held.location)


def place_of(piece: Piece, where: Whereabouts) -> str:
    """Where a piece is in a word or two; nothing for one that has left."""
    if where.kind == LEFT:
        return ""
    return place_name(where.kind, where.location)


def where_in_words(where: Whereabouts, formatter: Formatter, *, names_people: bool) -> list[str]:
    """Everything about where a piece is, a line each."""
    if where.kind == LEFT:
        return []
    lines = [_place_line(where, formatter, names_people)]
    if where.placement and where.placement.note:
        lines.append(where.placement.note)
    if where.reservation:
        lines += reservation_lines(where, formatter, names_people)
    return lines


def _place_line(where: Whereabouts, formatter: Formatter, names_people: bool) -> str:
    name = place_name(where.kind, where.location)
    since = formatter.day(where.since) if where.since else ""
    if where.kind != LENT:
        return _("{place}, since {day}", place=name, day=since) if since else name
    if where.lent_to and names_people:
        name = _("Lent to {name}", name=where.lent_to.name)
    if where.until:
        until = formatter.day(where.until)
        return _("{place}, since {day}, until {until}", place=name, day=since, until=until)
    return _("{place}, since {day}", place=name, day=since)


def reservation_lines(where: Whereabouts, formatter: Formatter, names_people: bool) -> list[str]:
    """For whom a piece is reserved and until when, and the note."""
    reservation = where.reservation
    if reservation is None:
        return []
    facts: dict[str, str] = {}
    if reservation.contact and names_people:
        facts["name"] = reservation.contact.name
    if reservation.until:
        facts["day"] = formatter.day(reservation.until)
    if facts.keys() == {"name", "day"}:
        line = _("Reserved for {name} until {day}", **facts)
    elif "name" in facts:
        line = _("Reserved for {name}", **facts)
    elif "day" in facts:
        line = _("Reserved until {day}", **facts)
    else:
        line = _("Reserved")
    return [line, reservation.note] if reservation.note and names_people else [line]
