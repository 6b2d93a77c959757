"""What the rooms of the shelf bring to the rooms beneath them and to the ground floor, when the app starts."""

from datetime import datetime
from typing import Any

from django.apps import AppConfig
from django.conf import settings
from django.core.checks import register as register_check
from django.db.models import Model
from django.db.models.signals import post_migrate, post_save, pre_delete
from django.utils import timezone
from django.utils.translation import gettext_lazy

from inventory import archiving, navigation, search_kinds, search_pages, starter_rows
from inventory.alerts import kinds as alert_kinds
from inventory.alerts.actions.refreshing import (
    alerts_raised,
    clear_alerts_of,
    recheck_after_commit,
    refresh_changed,
)
from inventory.alerts.rules import RULES
from inventory.comparisons.queries.counting import counted_on
from inventory.comparisons.queries.progress import compared_in
from inventory.ledger import account_names, book_checks, database_rules, reversal_guards
from inventory.ledger.backup_totals import LEDGER_PROOF
from inventory.ledger.corrections import standing_corrections
from inventory.ledger.models import Posting, PostingKind
from inventory.ledger.reversals import posting_reversed
from inventory.ledger.stock_changes import announce_after_commit, batched, history_changed, stock_changed
from inventory.ledger.system_checks import database_rules_in_place
from inventory.materials.actions import mixing_facts_changed, reorder_facts_changed
from inventory.materials.file_import.kind import MATERIALS
from inventory.materials.models import Material
from inventory.plans.actions import reserved_materials
from inventory.purchasing.actions.corrections import take_back_correction
from inventory.purchasing.actions.settling import settle_after_reversal
from inventory.purchasing.book_checks import check_deliveries
from inventory.purchasing.file_import.columns import DELIVERY_PAGE
from inventory.purchasing.order_documents import ORDER
from inventory.recipes.actions.recipes import refresh_made_from
from inventory.recipes.file_import import RECIPES
from inventory.reordering.keeping import let_fall
from inventory.sessions.actions import corrections, photos
from inventory.sessions.book_checks import check_thrown_away
from inventory.sessions.file_import import SESSIONS
from inventory.sessions.queries.pours import labels_of, poured_over, session_corrected
from inventory.shopping.actions import clear_received
from inventory.stock.actions.opening_stock import redate_opening
from inventory.stock.file_import import OPENING_STOCK
from inventory.webhooks import alerts as webhook_alerts
from inventory.webhooks import events as webhook_events
from inventory.webhooks.actions import when_added, write_messages
from studio.api.schema import name_choices
from studio.auditing.writing import seal_tables
from studio.backups import verification
from studio.imports import actions as import_actions
from studio.imports import kinds as import_kinds
from studio.issued import kinds as issued_kinds
from studio.preferences.context import on_every_page
from studio.search import filters as found_pages
from studio.search import kinds as search
from studio.translation import noop

# Which document stands beside which kind of posting, and what a check of the books says when it does not.
DOCUMENTS = (
    ("delivery", PostingKind.DELIVERY, noop("its delivery is missing")),
    ("session", PostingKind.SESSION, noop("its session is missing")),
    ("mixes", PostingKind.MIX, noop("its mix is missing")),
    ("stocktake", PostingKind.STOCKTAKE, noop("its stocktake is missing")),
)

# What the chain of the change log does not hold, and why.
SENDING = "How far its sending has come."
UNSEALED = {
    "Entry": "Sealed by its posting, in a chain of their own.",
    "Posting": "Sealed in a chain of its own.",
    "LotBalance": "The sum of entries, which a check of the books adds up.",
    "MonthEnd": "The sum of entries, which a check of the books adds up.",
    "Books.last_number": "Its last posting, which a check of the books reads.",
    "Books.last_hash": "Its last posting, which a check of the books reads.",
    "Books.last_recorded_at": "Its last posting, which a check of the books reads.",
    "KeptUse": "Worked out for one day.",
    "AlertCheck": "When alerts were last worked out.",
    "Digest.claimed_at": SENDING,
    "Digest.sent_at": SENDING,
    "Digest.problem": SENDING,
    "WebhookMessage.due_at": SENDING,
    "WebhookMessage.claimed_at": SENDING,
    "WebhookMessage.attempts": SENDING,
    "WebhookMessage.status": SENDING,
    "WebhookMessage.problem": SENDING,
    "WebhookMessage.sent_at": SENDING,
    "WebhookMessage.given_up_at": SENDING,
    "Webhook.failures": "How often in turn nobody answered.",
}


def after_migrate(sender: AppConfig, using: str, **kwargs: Any) -> None:
    """Put the canonical rules (and the first reference rows) in place after every migration."""
    database_rules.install(using)
    starter_rows.ensure(using)


def after_studio_saved(sender: type[Model], instance: Model, raw: bool, **kwargs: Any) -> None:
    """First rows that nobody has renamed follow the studio's language, and alerts its service level."""
    if not raw:
        starter_rows.speak(getattr(instance, "language", settings.LANGUAGE_CODE))
        announce_after_commit(Material.objects.values_list("pk", flat=True), at=timezone.now())


def after_mixing_facts_changed(sender: type[Model], material: Any, **kwargs: Any) -> None:
    """What is made from a material follows its density and its share of water."""
    refresh_made_from(material)


def after_reorder_facts_changed(
    sender: type[Model], materials: list[int], at: datetime, **kwargs: Any
) -> None:
    """Alerts follow levels, lead times and packs as they follow the stock."""
    announce_after_commit(materials, at=at)


def before_plan_deleted(sender: type[Model], **kwargs: Any) -> None:
    """Alerts follow what plans reserve: once a plan is gone, its materials are looked at again."""
    now = timezone.now()
    announce_after_commit(reserved_materials(timezone.localdate(now)), at=now)


def before_material_deleted(sender: type[Model], instance: Material, **kwargs: Any) -> None:
    """Alerts outlive their material, cleared: what happened to them is kept."""
    clear_alerts_of(material=instance.pk, at=timezone.now())


def after_reversal(sender: None, posting: Posting, **kwargs: Any) -> None:
    """What a room keeps beside a posting follows its reversal."""
    take_back_correction(posting)
    redate_opening(posting)
    settle_after_reversal(posting)


def after_alerts_raised(sender: None, alerts: list[Any], at: datetime, **kwargs: Any) -> None:
    """Webhooks are told of alerts."""
    write_messages(webhook_events.ALERT_RAISED, [alert.pk for alert in alerts], at=at)


def after_webhook_saved(sender: type[Model], instance: Model, **kwargs: Any) -> None:
    """The alert about a webhook that was stopped clears as soon as it is on again, or gone."""
    recheck_after_commit(kinds=[webhook_alerts.WEBHOOK_STOPPED.code], key=str(instance.pk), at=timezone.now())


def register(app: AppConfig) -> None:
    _connect_signals(app)
    _guard_and_check()
    _tell_the_ground_floor()
    seal_tables(app, without=UNSEALED)
    archiving.describe()
    navigation.register_entries()
    navigation.register_settings()
    on_every_page(navigation.open_alerts)
    search.register(*search_kinds.KINDS)
    found_pages.register(*search_pages.PAGES)
    found_pages.register_words(search_pages.WORDS)
    name_choices(
        AlertHappening="inventory.alerts.models.AlertHappening",
        AlertState="inventory.alerts.models.AlertState",
        ReasonKind="inventory.ledger.models.Reason.Kind",
        MaterialKind="inventory.materials.models.Kind",
        PostingKind="inventory.ledger.models.PostingKind",
    )


def _connect_signals(app: AppConfig) -> None:
    post_migrate.connect(after_migrate, sender=app)
    post_save.connect(after_studio_saved, sender="studio.Studio")
    post_save.connect(
        when_added(webhook_events.SESSION_LOGGED, clock=timezone.now), sender="inventory.Session", weak=False
    )
    pre_delete.connect(before_plan_deleted, sender="inventory.Plan")
    pre_delete.connect(before_material_deleted, sender="inventory.Material")
    for signal in (post_save, pre_delete):
        signal.connect(after_webhook_saved, sender="inventory.Webhook")
    mixing_facts_changed.connect(after_mixing_facts_changed)
    reorder_facts_changed.connect(after_reorder_facts_changed)
    for follow in (refresh_changed, clear_received):
        stock_changed.connect(follow)
    history_changed.connect(let_fall)
    posting_reversed.connect(after_reversal)
    alerts_raised.connect(after_alerts_raised)


def _guard_and_check() -> None:
    """What forbids a reversal or a correction, and what the books are checked for."""
    for guard in (poured_over, session_corrected, standing_corrections):
        reversal_guards.register(guard)
    corrections.register_guard(compared_in)
    photos.register_guard(counted_on)
    book_checks.register(check_deliveries)
    book_checks.register(check_thrown_away)
    for document, kind, missing in DOCUMENTS:
        book_checks.register(book_checks.every_posting_has_its(document, kind, missing=missing))
    register_check(database_rules_in_place, "database")
    verification.register(LEDGER_PROOF)


def _tell_the_ground_floor() -> None:
    account_names.register_labels_of_pours(labels_of)
    for rule in (*RULES, webhook_alerts.RULE):
        alert_kinds.register(rule)
    webhook_events.register(
        webhook_events.Event(
            webhook_events.ALERT_RAISED, gettext_lazy("An alert was raised"), webhook_events.alert_raised
        ),
        webhook_events.Event(
            webhook_events.SESSION_LOGGED, gettext_lazy("A session was logged"), webhook_events.session_logged
        ),
    )
    import_kinds.register(MATERIALS, OPENING_STOCK, RECIPES, SESSIONS)
    import_kinds.register_page(DELIVERY_PAGE)
    import_actions.register(batched)
    issued_kinds.register(ORDER)
