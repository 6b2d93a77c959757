"""What the price tag adds to the menu and the bottom bar."""

from django.utils.translation import gettext_lazy, pgettext_lazy

from studio.pages.navigation import FIRST, Group, MenuEntry, register, register_bar
from studio.setup import menu as settings

SELLING = Group(gettext_lazy("Selling"), 20)
TODAY = MenuEntry(gettext_lazy("Today"), "home", "today", key="t")
PIECES = MenuEntry(gettext_lazy("Pieces"), "costing:pieces", "piece", key="w")
SELL = MenuEntry(
    pgettext_lazy("in the bottom bar", "Sell"),
    "costing:sale-new",
    "price",
    lambda user: user.may_write,
    key="v",
)
PRICE_LIST = MenuEntry(
    gettext_lazy("Price list"), "costing:price-list", "price", lambda user: user.sees_money
)


def register_entries() -> None:
    sales = MenuEntry(gettext_lazy("Sales"), "costing:sales", "good")
    register(FIRST, TODAY)
    prices = MenuEntry(
        gettext_lazy("Prices"), "costing:prices", "price", lambda user: user.sees_money and user.may_write
    )
    markets = MenuEntry(gettext_lazy("Market days"), "costing:markets", "delivery")
    stall = MenuEntry(
        gettext_lazy("Quick sale"), "costing:stall", "good", lambda user: user.may_write, key="q"
    )
    locations = MenuEntry(gettext_lazy("Locations"), "costing:locations", "stock")
    contacts = MenuEntry(gettext_lazy("Contacts"), "costing:contacts", "words", lambda user: user.may_write)
    consignments = MenuEntry(gettext_lazy("Consignment notes"), "costing:consignments", "delivery")
    commissions = MenuEntry(gettext_lazy("Commissions"), "costing:commissions", "plan")
    earned = MenuEntry(
        gettext_lazy("What it earned"), "costing:earnings", "earned", lambda user: user.sees_money
    )
    year_end = MenuEntry(
        gettext_lazy("Year end"), "costing:year-end", "stocktake", lambda user: user.sees_money
    )
    register(SELLING, PIECES, stall, locations, consignments, markets)
    register(SELLING, prices, sales, commissions, earned, year_end, PRICE_LIST, contacts)
    register_bar(1, TODAY)
    register_bar(4, SELL, sales)
    settings.register(
        settings.SettingsPage(
            "costing:overhead",
            gettext_lazy("Overhead"),
            gettext_lazy("What rent and the like cost an hour, and whether your work paid for them."),
            icon="price",
        ),
        settings.SettingsPage(
            "costing:channels",
            gettext_lazy("Sales channels"),
            gettext_lazy("Where you sell, and what each channel takes of a price."),
            icon="price",
        ),
        settings.SettingsPage(
            "costing:price-rules",
            gettext_lazy("Ways to a price"),
            gettext_lazy("Markup, margin, wage, price by size, and how prices end."),
            icon="price",
        ),
        settings.SettingsPage(
            "api-start",
            gettext_lazy("Start with the API"),
            gettext_lazy("A first program to copy and run, and every address that programs can use."),
        ),
    )
