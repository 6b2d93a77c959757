"""Who is served where: every address of the URL configuration, by every method, for everybody.

The table is the only place that says who may; an address that is missing from it fails, and so does one that
serves anybody else.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cache as cache_calls
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.core.cache import cache
from django.db import connection, transaction
from django.test import Client, override_settings
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from PIL import Image
from rest_framework.throttling import UserRateThrottle

from costing.overhead.models import OverheadLine, OverheadYear
from costing.papers.certificates import CERTIFICATE
from costing.pieces.actions.photos import store_photo
from costing.pricing.models import ChannelTerms
from inventory.alerts.actions.calendar_feeds import renew_calendar
from inventory.alerts.calendars import secret_of
from inventory.alerts.models import Alert, CalendarFeed
from inventory.comparisons.models import PhotoCount
from inventory.ledger.models import Reason
from inventory.sessions.actions.photos import add_photo
from inventory.sessions.models import Flaw, SessionPhoto
from inventory.shopping.models import ShoppingEntry
from studio.accounts.models import User
from studio.backups import views as studio_views
from studio.backups.archive import BackupError
from studio.backups.models import Backup
from studio.issued.actions import issue
from studio.operations.health import record_book_check
from studio.preferences.models import Rates
from studio.setup.actions import store_logo
from tests.address_roles import ANYBODY, NOBODY
from tests.address_table import TABLE
from tests.addresses import Address, addresses
from tests.asking import Answer, asked, signed_in
from tests.costing.commissions.stories import order_of
from tests.costing.consignments.stories import a_note
from tests.costing.selling.stories import a_correctable_sale, a_refund
from tests.inventory.comparisons.photo_counts import begin_a_count, counted_piece
from tests.inventory.webhooks.hooks import some_message, some_webhook
from tests.making import (
    make_bookkeeper,
    make_helper,
    make_material,
    make_opening,
    make_owner,
    make_submission,
    money,
    units,
)
from tests.small_studio import FIGURES, SmallStudio, small_studio

pytestmark = (
    pytest.mark.django_db
)  # without it no test database is made, and this would be tried on real books
METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE")
WRITES = ("INSERT", "UPDATE", "DELETE")
# Django's form views take a PUT for a form sent empty: it changes nothing and shows the form again. And the door sends
# whoever is inside already on to the front page, whatever the method.
PUT_SHOWS_THE_FORM = {"password_change"}
SENDS_ON = {"login"}

FOUND = addresses()
PEOPLE = {
    "O": make_owner,
    "T": lambda: make_helper(may_see_money=True),
    "H": make_helper,
    "B": make_bookkeeper,
}


def numbers(studio: SmallStudio) -> dict[str, int]:
    """Which row each address is asked for, by the noun in its name."""
    taken, count = SessionPhoto.objects.first(), PhotoCount.objects.first()
    return {
        "alert": Alert.objects.standing().order_by("pk")[0].pk,
        "material": studio.paint.pk,
        "reorder-levels": studio.paint.pk,
        "webhook": some_webhook().pk,
        "webhooks": some_webhook().pk,
        "webhook-retry": some_message().pk,
        "webhook-messages": some_message().pk,
        "supplier": studio.supplier.pk,
        "shopping-choose": studio.varnish.pk,
        "shopping-cheapest": studio.varnish.pk,
        "shopping-remove": ShoppingEntry.objects.get(text="").pk,
        "pack": studio.supply.pk,
        "technique": studio.loose.technique_id,
        "reason": Reason.objects.get(code="spilled").pk,
        "opening-stock": make_opening(lines=[(make_material(), units(100), money(1))]).number,
        "deliveries": studio.delivery.pk,
        "mixes": studio.batch.pk,
        "cost-sheet": studio.for_sale.pk,
        "lot": studio.lot.pk,
        "write-off": studio.lot.pk,
        "decant": studio.lot.pk,
        "stocktake": studio.stocktake.pk,
        "session": studio.session.pk,
        "session-photo-add": studio.session.pk,
        "session-photo": taken.pk if taken else 1,
        "session-thumbnail": taken.pk if taken else 1,
        "pour": studio.loose.pk,
        "comparison": studio.comparison.pk,
        "comparison-piece": counted_piece(studio).pk,
        "comparison-count": count.pk if count else 1,
        "photo-counts": count.pk if count else 1,
        "flaw": Flaw.objects.all()[0].pk,
        "mix": studio.batch.pk,
        "recipe": studio.recipe.pk,
        "ratio": studio.ratio.pk,
        "ratios": studio.ratio.pk,
        "cup": studio.recipe.pk,
        "delivery": studio.delivery.pk,
        "order": studio.order.pk,
        "orders": studio.order.pk,
        "plan": studio.plan.pk,
        "plans": studio.plan.pk,
        "bench": studio.plan.pk,
        "benches": studio.plan.pk,
        "mixing-sheet": studio.plan.pk,
        "posting": studio.stocktake.posting_id or 0,
        "pieces-of-session": studio.session.pk,
        "piece": studio.for_sale.pk,
        "issue-paper": studio.for_sale.pk,
        "issued-paper": issue(kind=CERTIFICATE, about=studio.for_sale.pk, submission=make_submission()).pk,
        "papers-numbered": studio.for_sale.pk,
        "piece-certificate": studio.for_sale.pk,
        "sell": studio.for_sale.pk,
        "sale": studio.sale.pk,
        "sale-return": studio.sale.lines.get().pk,
        "sale-return-undo": studio.sale.lines.get().pk,
        "sale-refund": studio.sale.lines.get().pk,
        "sale-correct": a_correctable_sale(studio).pk,
        "refund": a_refund(studio.sale).pk,
        "backup": Backup.objects.get().pk,
        "channel": studio.channel.pk,
        "sales-channels": studio.channel.pk,
        "channel-terms": ChannelTerms.objects.filter(channel=studio.channel)[0].pk,
        "terms": ChannelTerms.objects.filter(channel=studio.channel)[0].pk,
        "rates": Rates.objects.all()[0].pk,
        "overhead": OverheadYear.objects.all()[0].pk,
        "overhead-line": OverheadLine.objects.all()[0].pk,
        "market": studio.market.pk,
        "packed": studio.market.packed.get().pk,
        "price-floors": studio.for_sale.pk,
        "suppliers": studio.order.supplier_id,
        "person": make_bookkeeper().pk,
        "consignment": a_note().pk,
        "consignments": a_note().pk,
        "location": studio.box.pk,
        "locations": studio.box.pk,
        "commission-payment": order_of(studio).payments.order_by("pk")[0].pk,
        "commission": order_of(studio).pk,
        "contact": studio.contact.pk,
        "contacts": studio.contact.pk,
    }


@pytest.fixture(scope="module")
def served(
    django_db_setup: None, django_db_blocker: Any, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[dict[str, str]]:
    """A small studio with a photo and a backup, and the path of every address in it."""
    folder = tmp_path_factory.mktemp("files")
    with django_db_blocker.unblock(), transaction.atomic(), everything_to_serve(folder) as studio:
        rows = numbers(studio)
        yield {address.route: path_of(address, rows) for address in FOUND}
        transaction.set_rollback(True)


@contextmanager
def everything_to_serve(folder: Path) -> Iterator[SmallStudio]:
    """A small studio with a photo, a count on it and a backup; nobody is slowed down, and no backup is made."""
    (folder / "made.zip").write_bytes(b"a backup")
    changed = override_settings(MEDIA_ROOT=folder, BACKUPS=folder)
    with changed, pytest.MonkeyPatch.context() as patch:
        patch.setattr(UserRateThrottle, "get_rate", lambda self: "1000000/min")
        patch.setattr(studio_views, "backup_into", _no_backup)
        cache.clear()
        studio = small_studio()
        record_book_check(ok=True, at=timezone.now())
        store_photo(piece=studio.for_sale, upload=_picture(), submission=make_submission())
        store_logo(upload=_picture(), submission=make_submission())
        add_photo(session=studio.session, upload=_picture(), submission=make_submission(at=timezone.now()))
        begin_a_count(counted_piece(studio))
        Backup.objects.create(made_at=timezone.now(), path=str(folder.resolve() / "made.zip"), ok=True)
        yield studio


def _no_backup(folder: Path, **facts: object) -> None:
    raise BackupError("No backup is made while the addresses are tried.")


def _picture() -> BytesIO:
    out = BytesIO()
    Image.new("RGB", (8, 8), (90, 120, 130)).save(out, "PNG")
    out.seek(0)
    return out


def path_of(address: Address, rows: dict[str, int]) -> str:
    noun = address.name.rpartition(":")[2].removeprefix("api-")
    row = next((rows[known] for known in sorted(rows, key=len, reverse=True) if noun.startswith(known)), 1)
    paper = {
        "name": "certificate" if "of" in address.route else "shopping-list",
        "kind": "certificate",
        "of": row,
    }
    return address.path({"pk": row, "number": row, **paper, **_calendar_address(address)})


def _calendar_address(address: Address) -> dict[str, str]:
    """The parts of somebody's calendar address; of no other."""
    if "secret" not in address.route:
        return {}
    feed = CalendarFeed.objects.first() or renew_calendar(person=make_owner(), at=timezone.now())
    return {"name": feed.name, "secret": secret_of(feed)}


def methods(address: Address, who: str) -> tuple[str, ...]:
    """All of them for the owner and for programs. A page refuses the others before it looks at who asks, so what the
    owner is refused nobody else need ask for.
    """
    return METHODS if who in ("O", "stranger") or address.name.startswith("api-") else ("GET", "POST")


def may(address: Address, method: str, role: str) -> bool:
    get, post = TABLE[address.name]
    allowed = {"GET": get, "POST": post}.get(method, NOBODY)
    return allowed == ANYBODY or role in allowed


def test_every_address_is_in_the_table_and_the_table_names_no_other() -> None:
    assert {address.name for address in FOUND} == set(TABLE)


def test_no_two_addresses_share_a_name() -> None:
    names = [address.name for address in FOUND]
    assert sorted(set(names)) == sorted(names)


@dataclass(frozen=True, slots=True)
class Told:
    """What one request was answered, the money on it, and what it wrote before that was undone."""

    address: Address
    method: str
    path: str
    answer: Answer
    money: frozenset[str]
    wrote: list[str]

    def is_as_said(self, role: str) -> bool:
        if self.address.name in SENDS_ON:
            return (self.answer.status, self.answer.to) == (302, "/")
        if self.method == "PUT" and self.address.name in PUT_SHOWS_THE_FORM:
            return self.answer.status == 200
        if may(self.address, self.method, role):
            served = self.answer.status not in (404, 429) and self.answer.status < 500
            return served and not self.answer.is_refusal
        return self.answer.is_refusal


@pytest.fixture(scope="module")
def told(served: dict[str, str]) -> Callable[[str], list[Told]]:
    """What a role is told at every address by every method: asked once, since a round takes half a minute."""
    return cache_calls(lambda role: list(everything_told(served, role)))


def everything_told(served: dict[str, str], role: str) -> Iterator[Told]:
    user = PEOPLE[role]()
    client = signed_in(user)
    for address in FOUND:
        for method in methods(address, role):
            leaving = signed_in(user) if address.name == "logout" else client
            watched = role == "O" and method == "GET"
            with writes(watched) as wrote:
                answer = asked(leaving, method, served[address.route])
            money = money_on(answer)
            yield Told(address, method, served[address.route], replace(answer, body=""), money, wrote)


@contextmanager
def writes(watched: bool) -> Iterator[list[str]]:
    """The statements that write, once they were run; none where nobody watches, since watching takes time."""
    wrote: list[str] = []
    if not watched:
        yield wrote
        return
    with CaptureQueriesContext(connection) as ran:
        yield wrote
    wrote += [query["sql"] for query in ran if query["sql"].startswith(WRITES)]


def money_on(answer: Answer) -> frozenset[str]:
    """Currency signs and known figures in what was answered."""
    return frozenset(sign for sign in ("£", "&pound;", *FIGURES) if sign in answer.body)


@pytest.mark.parametrize("role", PEOPLE)
def test_everybody_is_served_where_the_table_says_and_nowhere_else(
    told: Callable[[str], list[Told]], role: str
) -> None:
    wrong = [each for each in told(role) if not each.is_as_said(role)]
    assert [f"{each.method} {each.path} answers {each.answer.status}" for each in wrong] == []


@pytest.mark.parametrize("who", ["stranger", "deactivated"])
def test_whoever_is_not_signed_in_gets_no_further_than_the_door(served: dict[str, str], who: str) -> None:
    owner = make_owner()
    client = signed_in(owner) if who == "deactivated" else Client()
    User.objects.filter(pk=owner.pk).update(is_active=who == "stranger")
    wrong = []
    for address in FOUND:
        for method in methods(address, who):
            if ANYBODY in TABLE[address.name]:
                continue
            answer = asked(client, method, served[address.route])
            if not answer.is_refusal:
                wrong.append(f"{method} {served[address.route]} answers {answer.status}")
    User.objects.filter(pk=owner.pk).update(is_active=True)
    assert wrong == []


def test_looking_at_an_address_writes_nothing(told: Callable[[str], list[Told]]) -> None:
    """OWASP ASVS 5.0, 3.5.3. RFC 9110, section 9.2.1: GET is safe."""
    assert {each.address.name: each.wrote for each in told("O") if each.method == "GET" and each.wrote} == {}


# Whoever sells must know what is asked for what is for sale and what was paid, and how money is written. No cost, fee
# or profit is among it.
ASKED, PAID = {"£", "61.77"}, {"£", "83.29"}
SHOWN_TO_SELL = {
    "costing:stall": ASKED,
    "costing:sell": ASKED,
    "costing:sale-new": ASKED,
    "costing:sale": PAID,
    "costing:commissions": {"£"},
    "costing:commission": {"£"},
    "costing:commission-edit": {"£"},
    "costing:commission-pay": {"£"},
    "costing:commission-cancel": {"£"},
    "costing:commission-payment-reverse": {"£"},
    "costing:sale-receipt": PAID,
    "costing:commission-paper": {"£"},
    "costing:refund-credit-note": {"£"},
    "costing:sale-return": PAID,
    "costing:sale-return-undo": PAID,
    "costing:sale-refund": PAID,
    "costing:sale-correct": PAID,
    "api-sales-list": PAID,
    "api-sales-detail": PAID,
    "api-sales-receipt": PAID,
}


def test_a_helper_finds_no_money_anywhere(told: Callable[[str], list[Told]]) -> None:
    seen = {
        f"{each.method} {each.path}": sorted(money)
        for each in told("H")
        if not each.answer.kind.startswith("image/")
        and (money := each.money - SHOWN_TO_SELL.get(each.address.name, set()))
    }
    assert seen == {}


def test_the_search_for_money_finds_it_on_the_owners_pages(told: Callable[[str], list[Told]]) -> None:
    looked = [each.money for each in told("O") if each.method == "GET"]
    assert frozenset[str]().union(*looked) >= {"£", *FIGURES}
