"""What can be done on a page, a program can do: each page that writes, and the API address that does the same."""

import pytest

from tests.address_roles import NOBODY
from tests.address_table import TABLE
from tests.address_table_api import API

SIGNING_IN = (
    "signing in and who may do so is a person's own affair: a stolen token must not make itself at home"
)
OWN_DEVICE = "of one person's own browser or address: no data of the studio"
ON_THE_MACHINE = (
    "kept for people: it hands out everything, or loads the machine; programs on the machine have commands"
)
WRITES_NOTHING = "writes nothing"
FIRST_STEPS = "walks somebody through what its own addresses do; before the first owner nobody has a token"

# A page's address, and that of the API (without "api-"), or why programs have none.
SAME: dict[str, str] = {
    "import-materials": "imports-list",
    "import-finished-pieces": "imports-list",
    "import-opening-stock": "imports-list",
    "import-sessions": "imports-list",
    "import-pieces": "imports-list",
    "import-recipes": "imports-list",
    "studio-settings": "studio-settings-list",
    "logo": "logo-list",
    "rates-new": "rates-list",
    "rates-edit": "rates-change",
    "rates-delete": "rates-remove",
    "inventory:costing-method": "books-list",
    "inventory:closing": "books-list",
    "costing:channel-new": "sales-channels-list",
    "costing:channel-edit": "sales-channels-change",
    "costing:channel-activity": "sales-channels-change",
    "costing:channel-delete": "sales-channels-remove",
    "costing:terms-new": "channel-terms-list",
    "costing:terms-edit": "channel-terms-change",
    "costing:terms-delete": "channel-terms-remove",
    "costing:overhead-new": "overhead-list",
    "costing:overhead-edit": "overhead-change",
    "costing:overhead-delete": "overhead-remove",
    "costing:overhead-rate": "overhead-rate",
    "costing:overhead-line-new": "overhead-lines-list",
    "costing:overhead-line-edit": "overhead-lines-change",
    "costing:overhead-line-delete": "overhead-lines-remove",
    "inventory:material-new": "materials-list",
    "inventory:material-edit": "materials-change",
    "inventory:material-density": "materials-density",
    "inventory:pour": "pours-change",
    "inventory:material-archive": "materials-change",
    "inventory:material-delete": "materials-remove",
    "inventory:supplier-new": "suppliers-list",
    "inventory:supplier-edit": "suppliers-change",
    "inventory:supplier-delete": "suppliers-remove",
    "inventory:pack-new": "packs-list",
    "inventory:pack-edit": "packs-change",
    "inventory:pack-delete": "packs-remove",
    "inventory:technique-new": "techniques-list",
    "inventory:technique-edit": "techniques-change",
    "inventory:technique-delete": "techniques-remove",
    "inventory:reason-new": "reasons-list",
    "inventory:reason-edit": "reasons-change",
    "inventory:flaw-new": "flaws-list",
    "inventory:flaw-edit": "flaws-change",
    "inventory:flaw-delete": "flaws-remove",
    "inventory:lot-edit": "lots-change",
    "inventory:write-off": "write-offs-list",
    "inventory:decant": "lots-decant",
    "inventory:stocktake-new": "stocktakes-list",
    "inventory:opening-stock": "imports-list",
    "inventory:opening-stock-correct": "opening-stock-corrections",
    "inventory:plan-new": "plans-list",
    "inventory:plan-repeat": "repeats-list",
    "inventory:plan-edit": "plans-change",
    "inventory:plan-copy": "plans-copy",
    "inventory:plan-delete": "plans-remove",
    "inventory:session-new": "sessions-list",
    "inventory:session-throw-away": "pour-write-offs-list",
    "inventory:session-set": "sessions-keep-set",
    "inventory:session-correct": "sessions-corrections",
    "inventory:session-judge": "pours-judge",
    "inventory:session-weigh": "sessions-weighings",
    "inventory:session-photo-add": "session-photos-list",
    "inventory:session-photo-remove": "session-photos-remove",
    "inventory:comparison-new": "comparisons-list",
    "inventory:comparison-edit": "comparisons-change",
    "inventory:comparison-pours": "comparisons-pours",
    "inventory:comparison-score": "comparisons-scores",
    "inventory:comparison-finish": "comparisons-finish",
    "inventory:comparison-open": "comparisons-open",
    "inventory:comparison-discard": "comparisons-remove",
    "inventory:comparison-piece-count": "photo-counts-list",
    "inventory:comparison-count-marks": "photo-counts-marks",
    "inventory:comparison-count-finish": "photo-counts-finish",
    "inventory:mix-new": "mixes-list",
    "inventory:ratio-new": "ratios-list",
    "inventory:ratio-edit": "ratios-change",
    "inventory:recipe-new": "recipes-list",
    "inventory:recipe-keep": "recipes-keep",
    "inventory:recipe-favourite": "recipes-favourite",
    "inventory:recipe-version": "recipes-versions",
    "inventory:recipe-duplicate": "recipes-duplicate",
    "inventory:recipe-for-paints": "recipes-for-paints",
    "inventory:recipe-colour": "recipes-colour",
    "inventory:shopping-add": "shopping-list-list",
    "inventory:shopping-tick": "shopping-ticks-list",
    "inventory:shopping-clear": "shopping-clearing-list",
    "inventory:shopping-remove": "shopping-removals-list",
    "inventory:shopping-order": "shopping-orders-list",
    "inventory:shopping-choose": "shopping-choices-list",
    "inventory:shopping-cheapest": "shopping-choices-list",
    "inventory:delivery-new": "deliveries-list",
    "inventory:delivery-file": "deliveries-list",
    "inventory:delivery-correct": "deliveries-corrections",
    "inventory:delivery-pack-prices": "deliveries-pack-prices",
    "inventory:order-new": "orders-list",
    "inventory:order-edit": "orders-change",
    "inventory:order-chase": "orders-chase",
    "inventory:order-sent": "orders-sent",
    "inventory:order-close": "orders-close",
    "inventory:order-reopen": "orders-reopen",
    "inventory:alerts-refresh": "alerts-check",
    "inventory:alert-acknowledge": "alerts-acknowledge",
    "inventory:alert-snooze": "alerts-snooze",
    "inventory:alert-show-again": "alerts-show-again",
    "inventory:posting-reverse": "postings-reverse",
    "inventory:posting-undo": "postings-reverse",
    "costing:piece-new": "pieces-list",
    "costing:pieces-of-session": "pieces-together",
    "costing:prices": "prices-list",
    "costing:price-rules": "price-rules-list",
    "costing:piece-edit": "pieces-about",
    "costing:piece-step": "pieces-status",
    "costing:piece-price": "pieces-price",
    "costing:piece-minutes": "pieces-minutes",
    "costing:piece-finish": "pieces-finish",
    "costing:piece-pack": "pieces-pack",
    "costing:piece-give": "pieces-give",
    "costing:piece-write-off": "pieces-write-off",
    "costing:piece-scrape": "pieces-scrape",
    "costing:piece-bring-back": "pieces-bring-back",
    "costing:piece-photo-change": "pieces-photo",
    "costing:piece-photo-remove": "pieces-remove-photo",
    "costing:piece-photo-adopt": "pieces-photo",
    "costing:piece-split": "pieces-split",
    "costing:consignment-new": "consignments-list",
    "costing:consignment-sold": "consignments-sales",
    "costing:consignment-returned": "consignments-returns",
    "costing:contact-new": "contacts-list",
    "costing:contact-edit": "contacts-change",
    "costing:contact-erase": "contacts-erase",
    "costing:commission-new": "commissions-list",
    "costing:commission-edit": "commissions-change",
    "costing:commission-pay": "commissions-payments",
    "costing:commission-cancel": "commissions-cancel",
    "costing:commission-reopen": "commissions-reopen",
    "costing:commission-payment-reverse": "commissions-reversals",
    "costing:location-new": "locations-list",
    "costing:location-edit": "locations-change",
    "costing:location-activity": "locations-change",
    "costing:location-delete": "locations-remove",
    "costing:pieces-bring-in": "pieces-bring-in",
    "costing:pieces-move": "placements-list",
    "costing:piece-lend": "loans-list",
    "costing:piece-reserve": "reservations-list",
    "costing:write-downs": "write-downs-list",
    "costing:sale-new": "sales-list",
    "costing:sell": "sales-list",
    "costing:sale-return": "sales-take-back",
    "costing:sale-return-undo": "sales-undo-return",
    "costing:sale-refund": "sales-refund",
    "costing:sale-correct": "sales-corrections",
    "costing:sale-undo": "market-days-undo",
    "costing:market-new": "market-days-list",
    "costing:market-edit": "market-days-change",
    "costing:market-delete": "market-days-remove",
    "costing:market-packing": "market-days-packing",
    "costing:market-home": "market-days-bring-home",
    "costing:packed-unpack": "market-days-unpack",
    "costing:packed-missing": "market-days-missing",
    "costing:market-cash": "market-days-cash-counts",
    "costing:price-list-keep": "printed-lists-list",
    "issue-paper": "issued-papers-list",
    "inventory:webhook-new": "webhooks-list",
    "inventory:webhook-edit": "webhooks-change",
    "inventory:webhook-delete": "webhooks-remove",
    "inventory:webhook-secret": "webhooks-secret",
    "inventory:webhook-switch": "webhooks-switch",
    "inventory:webhook-retry": "webhook-messages-retry",
}
NOT_FOR_PROGRAMS: dict[str, str] = {
    **dict.fromkeys(
        (
            "login", "login-code", "logout", "password_change", "two-factor-begin", "two-factor-confirm",
            "two-factor-recovery", "two-factor-off", "person-new", "person", "person-password", "person-activity",
            "person-two-factor-off", "person-unlock",
        ),
        SIGNING_IN,
    ),
    **dict.fromkeys(
        ("language", "own-pages", "inventory:alert-email", "inventory:calendar-renew", "inventory:calendar-off"),
        OWN_DEVICE,
    ),
    **dict.fromkeys(("backup-now", "archive-download"), ON_THE_MACHINE),
    **dict.fromkeys(("first-owner", "begin", "begin-materials", "begin-stock"), FIRST_STEPS),
    **dict.fromkeys(("codes", "inventory:session-figures"), WRITES_NOTHING),
}  # fmt: skip


def test_every_page_that_writes_has_an_address_for_programs_or_a_reason_why_not() -> None:
    pages = {name for name, (_get, post) in TABLE.items() if post != NOBODY and not name.startswith("api-")}
    assert pages == SAME.keys() | NOT_FOR_PROGRAMS.keys()
    assert not SAME.keys() & NOT_FOR_PROGRAMS.keys()


# Where a program's address does more than one page does, it looks at who may do which.
WIDER = {"imports-list", "postings-reverse", "placements-list"}


@pytest.mark.parametrize("page", SAME)
def test_a_program_may_do_what_its_person_may_do_on_the_page(page: str) -> None:
    by_page, by_program = TABLE[page][1], API[f"api-{SAME[page]}"][1]
    assert by_program, "it takes a POST"
    if SAME[page] in WIDER:
        assert set(by_page) <= set(by_program)
    else:
        assert set(by_page) == set(by_program)
