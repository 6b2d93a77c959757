"""What the rooms of the price tag let be found by the search: names and numbers, no money."""

from typing import Any

from django.db.models import Q, QuerySet
from django.urls import reverse
from django.utils.translation import gettext_lazy

from costing.commissions.filters import CommissionFilter
from costing.commissions.models import Commission
from costing.consignments.models import Consignment, ConsignmentLine
from costing.contacts.filters import ContactFilter
from costing.contacts.models import Contact
from costing.locations.models import Location
from costing.markets.models import MarketDay
from costing.pieces.filters import PieceFilter
from costing.pieces.models import Piece
from costing.pieces.queries import on_canvas
from costing.selling.filters import SaleFilter
from costing.selling.models import Refund, Sale
from costing.selling.receipts import credit_note_title, receipt_title
from studio.pages.filters import search_of
from studio.preferences.formatting import Formatter
from studio.search.kinds import Hit, SearchKind
from studio.search.matching import contains, numbered


def _joined(*facts: Any) -> str:
    return ", ".join(str(fact) for fact in facts if fact)


def _on_back(text: str) -> Q | None:
    pieces = on_canvas(text)
    return None if pieces.query.is_empty() else Q(pk__in=pieces.values("pk"))


def _pieces() -> QuerySet[Piece]:
    return Piece.objects.prefetch_related("parts__pour")


def _piece(row: Piece, formatter: Formatter) -> Hit:
    note = _joined(row.label, row.get_state_display(), row.place_in_series)
    return Hit(row.pk, row.title, reverse("costing:piece", args=[row.pk]), note)


def _sale(row: Sale, formatter: Formatter) -> Hit:
    titles = [line.piece.title for line in row.lines.all()]
    note = _joined(formatter.day(row.sold_on), row.channel, *titles)
    return Hit(
        row.pk, receipt_title(row) if row.number else str(row), reverse("costing:sale", args=[row.pk]), note
    )


def _credit_note(row: Refund, formatter: Formatter) -> Hit:
    note = _joined(formatter.day(row.on), row.line.piece.title)
    return Hit(row.pk, credit_note_title(row), reverse("costing:sale", args=[row.line.sale_id]), note)


def _commission(row: Commission, formatter: Formatter) -> Hit:
    note = _joined(formatter.day(row.agreed_on), row.get_state_display())
    return Hit(row.pk, row.title, reverse("costing:commission", args=[row.pk]), note)


def _contact(row: Contact, formatter: Formatter) -> Hit:
    return Hit(row.pk, row.name, reverse("costing:contact", args=[row.pk]), " ".join(row.reach.split()))


def _location(row: Location, formatter: Formatter) -> Hit:
    return Hit(row.pk, row.name, reverse("costing:location", args=[row.pk]), row.get_kind_display())


def _fits_consignment(word: str) -> Q:
    lines = ConsignmentLine.objects.filter(contains(word, "placement__piece__title"))
    return contains(word, "gallery__name", "note") | Q(pk__in=lines.values("consignment"))


def _consignment(row: Consignment, formatter: Formatter) -> Hit:
    note = _joined(row.gallery, formatter.day(row.on))
    return Hit(row.pk, str(row), reverse("costing:consignment", args=[row.pk]), note)


def _market(row: MarketDay, formatter: Formatter) -> Hit:
    note = _joined(formatter.day(row.held_on), row.place)
    return Hit(row.pk, row.name, reverse("costing:market", args=[row.pk]), note)


KINDS = (
    SearchKind(
        "pieces", gettext_lazy("Pieces"), "piece", _pieces, search_of(PieceFilter), _piece, has_code=_on_back
    ),
    SearchKind(
        "sales",
        gettext_lazy("Sales"),
        "good",
        lambda: Sale.objects.select_related("channel").prefetch_related("lines__piece"),
        search_of(SaleFilter),
        _sale,
        has_code=numbered("number", gettext_lazy("Receipt")),
    ),
    SearchKind(
        "credit-notes",
        gettext_lazy("Credit notes"),
        "good",
        lambda: Refund.objects.exclude(number=None).select_related("line__piece").order_by("-on", "-pk"),
        lambda word: contains(word, "line__piece__title"),
        _credit_note,
        has_code=numbered("number", gettext_lazy("Credit note")),
    ),
    SearchKind(
        "commissions",
        gettext_lazy("Commissions"),
        "plan",
        Commission.objects.all,
        search_of(CommissionFilter),
        _commission,
    ),
    SearchKind(
        "consignments",
        gettext_lazy("Consignment notes"),
        "delivery",
        lambda: Consignment.objects.select_related("gallery").order_by("-on", "-pk"),
        _fits_consignment,
        _consignment,
        has_code=numbered("number", gettext_lazy("Consignment note")),
    ),
    SearchKind(
        "markets",
        gettext_lazy("Market days"),
        "delivery",
        MarketDay.objects.all,
        lambda word: contains(word, "name", "place", "notes"),
        _market,
    ),
    SearchKind(
        "locations",
        gettext_lazy("Locations"),
        "stock",
        Location.objects.all,
        lambda word: contains(word, "name"),
        _location,
    ),
    SearchKind(
        "contacts",
        gettext_lazy("Contacts"),
        "words",
        Contact.objects.all,
        search_of(ContactFilter),
        _contact,
        allowed=lambda user: user.may_write,
    ),
)
