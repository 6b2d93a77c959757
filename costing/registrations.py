"""What the rooms of the price tag bring to the rooms beneath them and to the other floors, when the app starts."""

from typing import Any

from django.apps import AppConfig
from django.db.models import Model
from django.db.models.signals import post_save, pre_delete
from django.urls import reverse
from django.utils import timezone

from costing import archiving, navigation, search_kinds, search_pages
from costing.brought_in.file_import import FINISHED_PIECES
from costing.commissions.actions import clear_words
from costing.commissions.queries import orders_of
from costing.consignments import alerts as consignment_alerts
from costing.consignments.alerts import CONSIGNMENT_OVER
from costing.consignments.erasing import clear_issued
from costing.consignments.models import ConsignmentLine
from costing.consignments.note_paper import NOTE
from costing.contacts.actions import when_erased
from costing.contacts.queries import register_dealings
from costing.cost_sheets.actions import keep_rates
from costing.cost_sheets.book_checks import check_cost_sheets, check_outcomes
from costing.cost_sheets.work_costs import work_costs
from costing.demo.people import PEOPLE
from costing.home import first_steps
from costing.locations import alerts as location_alerts
from costing.locations.actions import clear_notes
from costing.locations.alerts import LOAN_OVERDUE, RESERVATION_EXPIRED
from costing.locations.dealings import loans_and_reservations
from costing.papers.certificates import CERTIFICATE
from costing.pieces import alerts as piece_alerts
from costing.pieces.actions import steps
from costing.pieces.actions.outcomes import piece_against
from costing.pieces.actions.pieces import pieces_made_of, pieces_upon
from costing.pieces.alerts import READY_TO_VARNISH
from costing.pieces.models import Piece
from costing.pieces.queries import names_by_pour
from costing.pricing import alerts as price_alerts
from costing.pricing.alerts import BELOW_COST
from costing.selling.dealings import clear_notes as clear_notes_of_sales
from costing.selling.dealings import purchases
from costing.selling.documents import CREDIT_NOTE, RECEIPT
from costing.selling.file_import import PIECES
from costing.selling.told import PIECE_SOLD
from inventory.alerts import calendars, kinds
from inventory.alerts.actions.refreshing import recheck_after_commit
from inventory.ledger import book_checks, effects, reversal_guards
from inventory.ledger.closing import refuse_closed
from inventory.sessions import onward
from inventory.sessions import work_costs as session_work_costs
from inventory.sessions.actions import corrections, pours
from inventory.sessions.onward import Onward
from inventory.webhooks import events as webhook_events
from inventory.webhooks.actions import when_added
from studio import photos
from studio.accounts import public_passwords
from studio.api.schema import name_choices
from studio.auditing.writing import seal_tables
from studio.imports import kinds as import_kinds
from studio.issued import kinds as issued_kinds
from studio.preferences.context import on_every_page
from studio.search import filters as found_pages
from studio.search import kinds as search
from studio.translation import _


def after_piece_saved(sender: type[Model], instance: Model, created: bool, **kwargs: Any) -> None:
    """An alert about a piece clears as soon as the piece has moved on or has another price."""
    if not created:
        kinds = [kind.code for kind in (READY_TO_VARNISH, BELOW_COST, RESERVATION_EXPIRED, LOAN_OVERDUE)]
        recheck_after_commit(kinds=kinds, key=str(instance.pk), at=timezone.now())


def after_placed(sender: type[Model], instance: Any, **kwargs: Any) -> None:
    """An alert about a loan or a consignment clears as soon as the piece is somewhere else."""
    now = timezone.now()
    recheck_after_commit(kinds=[LOAN_OVERDUE.code], key=str(instance.piece_id), at=now)
    for note in ConsignmentLine.objects.filter(placement=instance.after_id).values_list(
        "consignment", flat=True
    ):
        recheck_after_commit(kinds=[CONSIGNMENT_OVER.code], key=str(note), at=now)


def after_reserved(sender: type[Model], instance: Any, **kwargs: Any) -> None:
    """An alert about an expired reservation clears as soon as it is extended."""
    recheck_after_commit(kinds=[RESERVATION_EXPIRED.code], key=str(instance.step.piece_id), at=timezone.now())


def before_market_deleted(sender: type[Model], instance: Any, **kwargs: Any) -> None:
    """What a market day cost in a closed period stays. Raises ClosedPeriod."""
    refuse_closed(instance.held_on)


def before_terms_deleted(sender: type[Model], instance: Any, **kwargs: Any) -> None:
    """So does a monthly fee, with its channel as well. Raises ClosedPeriod."""
    if instance.monthly_fee:
        refuse_closed(instance.holds_from)


def to_pieces(session: Any) -> Any:
    """From a session to naming, pricing and offering what came of it."""
    return Onward(reverse("costing:pieces-of-session", args=[session.pk]), _("Its pieces"))


def register(app: AppConfig) -> None:
    _connect_signals()
    _guard_and_check()
    _tell_other_floors()
    navigation.register_entries()
    seal_tables(app, without={})
    archiving.describe()
    on_every_page(first_steps.for_pages)
    search.register(*search_kinds.KINDS)
    found_pages.register(*search_pages.PAGES)
    found_pages.register_words(search_pages.WORDS)
    name_choices(
        PieceState="costing.pieces.models.PieceState",
        LocationKind="costing.locations.models.LocationKind",
        CommissionState="costing.commissions.models.CommissionState",
        Payment="costing.pricing.models.Payment",
        PaymentKind="costing.commissions.models.PaymentKind",
        ReturnCondition="costing.selling.models.Condition",
    )


def _connect_signals() -> None:
    post_save.connect(after_piece_saved, sender="costing.Piece")
    post_save.connect(after_placed, sender="costing.Placement")
    post_save.connect(after_reserved, sender="costing.Reservation")
    post_save.connect(when_added(PIECE_SOLD.name, clock=timezone.now), sender="costing.Sale", weak=False)
    pre_delete.connect(before_market_deleted, sender="costing.MarketDay")
    pre_delete.connect(before_terms_deleted, sender="costing.ChannelTerms")


def _guard_and_check() -> None:
    """What a piece forbids to the session beneath it, what follows a piece, and what the books are checked for."""
    reversal_guards.register(pieces_upon)
    corrections.register_guard(pieces_made_of)
    pours.register_guard(piece_against)
    steps.when_it_leaves(keep_rates)
    book_checks.register(check_cost_sheets)
    book_checks.register(check_outcomes)
    for clear in (clear_issued, clear_notes, clear_words, clear_notes_of_sales):
        when_erased(clear)
    for dealings in (orders_of, loans_and_reservations, purchases):
        register_dealings(dealings)


def _tell_other_floors() -> None:
    issued_kinds.register(RECEIPT, CREDIT_NOTE, NOTE, CERTIFICATE)
    effects.register_names_of_pours(names_by_pour)
    session_work_costs.register_reader(work_costs)
    onward.register(to_pieces)
    for rule in (piece_alerts.RULE, price_alerts.RULE, *location_alerts.RULES, consignment_alerts.RULE):
        kinds.register(rule)
    calendars.register(piece_alerts.drying_ends)
    webhook_events.register(PIECE_SOLD)
    import_kinds.register(FINISHED_PIECES, PIECES)
    photos.keep_listed(Piece, "thumbnail")
    public_passwords.register(*(person.phrase for person in PEOPLE))
