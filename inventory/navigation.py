"""What the shelf adds to the menu and the bottom bar, and to the context of every page."""

from typing import Any

from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext_lazy, pgettext_lazy

from inventory.alerts.queries import alerts_for
from inventory.ledger.closing import anything_posted
from studio.accounts.roles import current_user
from studio.pages.navigation import RECORDS, SET_UP, Group, MenuEntry, register, register_bar
from studio.setup import menu as settings
from studio.setup.actions import keep_currency_once
from studio.setup.menu import SettingsPage

STOCK = Group(gettext_lazy("Stock"), 10)
SHELF = MenuEntry(gettext_lazy("Stock"), "inventory:stock", "stock", key="s")
SESSIONS = MenuEntry(gettext_lazy("Sessions"), "inventory:sessions", "session", key="o")
PLAN = MenuEntry(pgettext_lazy("in the bottom bar", "Plan"), "inventory:plans", "plan", key="p")
LOG = MenuEntry(
    pgettext_lazy("in the bottom bar", "Log"),
    "inventory:session-new",
    "session",
    lambda user: user.may_write,
    key="l",
)


def register_entries() -> None:
    register(
        STOCK,
        SHELF,
        MenuEntry(gettext_lazy("Do I have enough?"), "inventory:stock-check", "stock-check", key="e"),
        MenuEntry(gettext_lazy("Plans"), "inventory:plans", "plan", key="p"),
        SESSIONS,
        MenuEntry(gettext_lazy("Comparisons"), "inventory:comparisons", "comparison"),
        MenuEntry(gettext_lazy("Recipes"), "inventory:recipes", "recipe", key="r"),
        MenuEntry(gettext_lazy("Ratios"), "inventory:ratios", "ratio"),
        MenuEntry(gettext_lazy("Shopping list"), "inventory:shopping-list", "good", key="b"),
        MenuEntry(gettext_lazy("Deliveries"), "inventory:deliveries", "delivery", key="d"),
        MenuEntry(gettext_lazy("Orders"), "inventory:orders", "order"),
        MenuEntry(gettext_lazy("Stocktakes"), "inventory:stocktakes", "stocktake"),
        MenuEntry(gettext_lazy("Materials"), "inventory:materials", "material"),
        MenuEntry(gettext_lazy("Suppliers"), "inventory:suppliers", "supplier"),
    )
    register(
        RECORDS,
        MenuEntry(
            gettext_lazy("Alerts"),
            "inventory:alerts",
            "alert",
            count="open_alerts",
            count_words=pgettext_lazy("alerts", "open"),
            key="a",
        ),
        MenuEntry(gettext_lazy("Calendar"), "inventory:calendar", "plan"),
        MenuEntry(gettext_lazy("Ledger"), "inventory:postings", "ledger"),
    )
    register(
        SET_UP,
        MenuEntry(gettext_lazy("Techniques"), "inventory:techniques", "technique"),
        MenuEntry(gettext_lazy("Flaws"), "inventory:flaws", "caution"),
        MenuEntry(gettext_lazy("Reasons"), "inventory:reasons", "reason"),
    )
    register_bar(2, PLAN)
    register_bar(3, LOG, SESSIONS)


def register_settings() -> None:
    keep_currency_once(anything_posted)
    settings.register(
        SettingsPage(
            "inventory:techniques",
            gettext_lazy("Techniques"),
            gettext_lazy("How you pour, and how much paint each takes for its area."),
            icon="technique",
        ),
        SettingsPage(
            "inventory:flaws",
            gettext_lazy("Flaws"),
            gettext_lazy("What can go wrong with a pour, for judging it."),
            icon="caution",
        ),
        SettingsPage(
            "inventory:reasons",
            gettext_lazy("Reasons"),
            gettext_lazy("Why material or work leaves other than by a sale."),
            icon="reason",
        ),
        SettingsPage(
            "inventory:costing-method",
            gettext_lazy("Costing method"),
            gettext_lazy(
                "How paint is costed as it is used. It cannot be changed once anything has been recorded."
            ),
            icon="price",
        ),
        SettingsPage(
            "inventory:webhooks",
            gettext_lazy("Webhooks"),
            gettext_lazy("Tell another program what happens here."),
            icon="export",
        ),
        SettingsPage(
            "inventory:closing",
            gettext_lazy("Close a period"),
            gettext_lazy("Nothing more can be recorded on or before the closing day."),
            icon="ledger",
        ),
    )


def open_alerts(request: HttpRequest) -> dict[str, Any]:
    """How many alerts are open, for the badge beside them."""
    return {"open_alerts": alerts_for(current_user(request)).waiting(timezone.localdate()).count()}
