"""What the shelf adds to the pages that the search finds: tasks, and other words for the pages of its menu."""

from django.utils.translation import gettext_lazy

from studio.accounts.models import User
from studio.search.filters import SearchPage


def may_write(user: User) -> bool:
    return user.may_write


def may_buy(user: User) -> bool:
    return user.may_write and user.sees_money


WORDS = {
    "inventory:stock": gettext_lazy("shelf, inventory, bottles, lots, what is left, how much"),
    "inventory:stock-check": gettext_lazy("paint needed, how much paint, calculate, calculator"),
    "inventory:plans": gettext_lazy("reserve, next pours"),
    "inventory:sessions": gettext_lazy("pours, poured, correct a session"),
    "inventory:comparisons": gettext_lazy("experiment, which is better, trial"),
    "inventory:recipes": gettext_lazy("mix, formula, colour"),
    "inventory:ratios": gettext_lazy("paint to medium, parts, mixing ratio, consistency"),
    "inventory:shopping-list": gettext_lazy("buy, reorder, what is low, running out"),
    "inventory:deliveries": gettext_lazy("invoice, purchases, bought, receive"),
    "inventory:orders": gettext_lazy("ordered, purchase"),
    "inventory:stocktakes": gettext_lazy("count the shelf, differences"),
    "inventory:materials": gettext_lazy("paint, medium, canvas, surface, archive, reorder level, density"),
    "inventory:suppliers": gettext_lazy("shop, lead time, carriage, minimum order"),
    "inventory:alerts": gettext_lazy("low stock, warning, reorder, email"),
    "inventory:postings": gettext_lazy("bookkeeping, entries, undo, reverse, history"),
    "inventory:reasons": gettext_lazy("write off, loss, waste"),
    "inventory:closing": gettext_lazy("close the year, close the month, close the books, lock"),
    "inventory:costing-method": gettext_lazy("FIFO, first in first out, average cost"),
}
PAGES = (
    SearchPage(
        "inventory:opening-stock",
        gettext_lazy("Opening stock"),
        gettext_lazy("What stood on the shelf before you began here."),
        gettext_lazy("begin, start, add my own bottles"),
        may_buy,
    ),
    SearchPage(
        "inventory:stock",
        gettext_lazy("Decant a bottle"),
        gettext_lazy("Choose the material here, then the lot."),
        gettext_lazy("pour over, fill a smaller bottle"),
        may_write,
    ),
    SearchPage(
        "inventory:stock",
        gettext_lazy("Write off stock"),
        gettext_lazy("Choose the material here, then the lot."),
        gettext_lazy("throw away, dried up, spilt, broken, expired, waste"),
        may_write,
    ),
    SearchPage(
        "inventory:session-new",
        gettext_lazy("Log a session"),
        words=gettext_lazy("pour, poured, record"),
        allowed=may_write,
    ),
    SearchPage(
        "inventory:mix-new",
        gettext_lazy("Mix a batch"),
        words=gettext_lazy("make medium, mix paint"),
        allowed=may_write,
    ),
    SearchPage(
        "inventory:delivery-new",
        gettext_lazy("Log a delivery"),
        words=gettext_lazy("invoice, receive, bought, new bottle"),
        allowed=may_buy,
    ),
    SearchPage(
        "inventory:stocktake-new",
        gettext_lazy("Count the shelf"),
        words=gettext_lazy("stocktake, inventory, correct the stock"),
        allowed=may_write,
    ),
    SearchPage(
        "inventory:ledger-value",
        gettext_lazy("What the stock is worth"),
        words=gettext_lazy("inventory value, insurance"),
        allowed=lambda user: user.sees_money,
    ),
    SearchPage(
        "inventory:outcomes",
        gettext_lazy("How pours turned out"),
        words=gettext_lazy("failed, failures, success, which medium, statistics"),
    ),
    SearchPage(
        "inventory:run-off", gettext_lazy("Run-off"), words=gettext_lazy("dripped, lost paint, waste")
    ),
)
