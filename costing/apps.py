"""The price tag's app."""

from typing import Any

from django.apps import AppConfig
from django.db.models import Model
from django.db.models.signals import post_save
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy

from studio.translation import _


def after_piece_saved(sender: type[Model], instance: Model, created: bool, **kwargs: Any) -> None:
    """An alert about a piece clears as soon as the piece has moved on or has another price."""
    from costing.locations.alerts import LOAN_OVERDUE, RESERVATION_EXPIRED
    from costing.pieces.alerts import READY_TO_VARNISH
    from costing.pricing.alerts import BELOW_COST
    from inventory.alerts.actions.refreshing import recheck_after_commit

    if not created:
        kinds = [kind.code for kind in (READY_TO_VARNISH, BELOW_COST, RESERVATION_EXPIRED, LOAN_OVERDUE)]
        recheck_after_commit(kinds=kinds, key=str(instance.pk), at=timezone.now())


def after_placed(sender: type[Model], instance: Any, **kwargs: Any) -> None:
    """An alert about a loan or a consignment clears as soon as the piece is somewhere else."""
    from costing.consignments.alerts import CONSIGNMENT_OVER
    from costing.consignments.models import ConsignmentLine
    from costing.locations.alerts import LOAN_OVERDUE
    from inventory.alerts.actions.refreshing import recheck_after_commit

    now = timezone.now()
    recheck_after_commit(kinds=[LOAN_OVERDUE.code], key=str(instance.piece_id), at=now)
    for note in ConsignmentLine.objects.filter(placement=instance.after_id).values_list(
        "consignment", flat=True
    ):
        recheck_after_commit(kinds=[CONSIGNMENT_OVER.code], key=str(note), at=now)


def after_reserved(sender: type[Model], instance: Any, **kwargs: Any) -> None:
    """An alert about an expired reservation clears as soon as it is extended."""
    from costing.locations.alerts import RESERVATION_EXPIRED
    from inventory.alerts.actions.refreshing import recheck_after_commit

    recheck_after_commit(kinds=[RESERVATION_EXPIRED.code], key=str(instance.step.piece_id), at=timezone.now())


def after_sold(sender: type[Model], instance: Any, created: bool, **kwargs: Any) -> None:
    """Webhooks are told of sales."""
    from costing.selling.told import PIECE_SOLD
    from inventory.webhooks.actions import write_messages

    if created and not kwargs["raw"]:
        write_messages(PIECE_SOLD.name, [instance.pk], at=timezone.now())


def to_pieces(session: Any) -> Any:
    """From a session to naming, pricing and offering what came of it."""
    from inventory.sessions.onward import Onward

    return Onward(reverse("costing:pieces-of-session", args=[session.pk]), _("Its pieces"))


class CostingConfig(AppConfig):
    name = "costing"
    verbose_name = gettext_lazy("Pieces and prices")
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from costing import archiving, navigation, search_kinds
        from costing.commissions.actions import clear_words
        from costing.commissions.queries import orders_of
        from costing.consignments import alerts as consignment_alerts
        from costing.consignments.erasing import clear_issued
        from costing.consignments.note_paper import NOTE
        from costing.contacts.actions import when_erased
        from costing.contacts.queries import register_dealings
        from costing.cost_sheets.actions import keep_rates
        from costing.cost_sheets.book_checks import check_cost_sheets, check_outcomes
        from costing.demo.people import PEOPLE
        from costing.home import first_steps
        from costing.locations import alerts as location_alerts
        from costing.locations.actions import clear_notes
        from costing.locations.dealings import loans_and_reservations
        from costing.papers.certificates import CERTIFICATE
        from costing.pieces import alerts as piece_alerts
        from costing.pieces.actions import steps
        from costing.pieces.actions.outcomes import piece_against
        from costing.pieces.actions.pieces import pieces_made_of, pieces_upon
        from costing.pieces.queries import names_by_pour
        from costing.pricing import alerts as price_alerts
        from costing.selling.dealings import clear_notes as clear_notes_of_sales
        from costing.selling.dealings import purchases
        from costing.selling.documents import CREDIT_NOTE, RECEIPT
        from costing.selling.file_import import PIECES
        from costing.selling.told import PIECE_SOLD
        from inventory.alerts import calendars, kinds
        from inventory.ledger import book_checks, effects, reversal_guards
        from inventory.sessions import onward
        from inventory.sessions.actions import corrections, pours
        from inventory.webhooks import events as webhook_events
        from studio.accounts import public_passwords
        from studio.api.schema import name_choices
        from studio.imports import kinds as import_kinds
        from studio.issued import kinds as issued_kinds
        from studio.preferences.context import on_every_page
        from studio.search import kinds as search

        issued_kinds.register(RECEIPT, CREDIT_NOTE, NOTE, CERTIFICATE)
        when_erased(clear_issued)
        reversal_guards.register(pieces_upon)
        steps.when_it_leaves(keep_rates)
        corrections.register_guard(pieces_made_of)
        effects.register_names_of_pours(names_by_pour)
        pours.register_guard(piece_against)
        onward.register(to_pieces)
        book_checks.register(check_cost_sheets)
        book_checks.register(check_outcomes)
        kinds.register(piece_alerts.RULE)
        kinds.register(price_alerts.RULE)
        for rule in location_alerts.RULES:
            kinds.register(rule)
        kinds.register(consignment_alerts.RULE)
        when_erased(clear_notes)
        register_dealings(orders_of)
        when_erased(clear_words)
        register_dealings(loans_and_reservations)
        register_dealings(purchases)
        when_erased(clear_notes_of_sales)
        calendars.register(piece_alerts.drying_ends)
        post_save.connect(after_piece_saved, sender="costing.Piece")
        post_save.connect(after_placed, sender="costing.Placement")
        post_save.connect(after_reserved, sender="costing.Reservation")
        post_save.connect(after_sold, sender="costing.Sale")
        webhook_events.register(PIECE_SOLD)
        import_kinds.register(PIECES)
        public_passwords.register(*(person.phrase for person in PEOPLE))
        navigation.register_entries()
        archiving.describe()
        on_every_page(first_steps.for_pages)
        search.register(*search_kinds.KINDS)
        name_choices(
            PieceState="costing.pieces.models.PieceState",
            LocationKind="costing.locations.models.LocationKind",
            CommissionState="costing.commissions.models.CommissionState",
            Payment="costing.pricing.models.Payment",
            PaymentKind="costing.commissions.models.PaymentKind",
            ReturnCondition="costing.selling.models.Condition",
        )
