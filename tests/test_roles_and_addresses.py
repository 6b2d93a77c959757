"""Who is served where: every address of the URL configuration, by every method, for everybody.

The table below is the only place that says who may; an address that is missing from it fails, and so does one that
serves anybody else. The settings pages are the owner's, all of them, under one rule.
"""

from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.core.cache import cache
from django.db import transaction
from django.test import Client, override_settings
from django.utils import timezone
from PIL import Image
from rest_framework.throttling import UserRateThrottle

from costing.pieces.actions.photos import store_photo
from inventory.ledger.models import Reason
from inventory.sessions.actions.photos import add_photo
from inventory.sessions.models import SessionPhoto
from studio.accounts.models import User
from studio.backups import views as studio_views
from studio.backups.archive import BackupError
from studio.backups.models import Backup
from studio.operations.health import record_book_check
from tests.addresses import Address, addresses
from tests.asking import Answer, asked, signed_in
from tests.making import make_bookkeeper, make_helper, make_owner, make_submission
from tests.small_studio import FIGURES, SmallStudio, small_studio

pytestmark = (
    pytest.mark.django_db
)  # without it no test database is made, and this would be tried on real books
METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE")
NOBODY, EVERYONE = "", "OTHB"  # owner, helper trusted with money, helper, bookkeeper
WORKERS, WORKERS_WITH_MONEY = "OTH", "OT"
WHO_SEES_MONEY, READERS, OWNER = "OTB", "OB", "O"
ANYBODY = "anybody, signed in or not"

# Name of the address: who may GET it, who may POST to it. Nobody is served by any other method.
TABLE: dict[str, tuple[str, str]] = {
    "login": (ANYBODY, ANYBODY),
    "login-code": (ANYBODY, ANYBODY),  # without a right password before it, it sends back to the door
    "logout": (NOBODY, EVERYONE),
    "password_change": (EVERYONE, EVERYONE),
    "password_change_done": (EVERYONE, NOBODY),
    "language": (EVERYONE, EVERYONE),
    "words": (EVERYONE, NOBODY),
    "favicon": (ANYBODY, NOBODY),
    "codes": (EVERYONE, NOBODY),
    "codes-begin": (NOBODY, EVERYONE),
    "codes-confirm": (NOBODY, EVERYONE),
    "codes-recovery": (NOBODY, EVERYONE),
    "codes-off": (NOBODY, EVERYONE),
    "health-live": (ANYBODY, NOBODY),
    "health-ready": (ANYBODY, NOBODY),
    "home": (EVERYONE, NOBODY),
    "backups": (OWNER, NOBODY),
    "backup-now": (NOBODY, OWNER),
    "backup-download": (OWNER, NOBODY),
    "audit": (READERS, NOBODY),
    "inventory:materials": (EVERYONE, NOBODY),
    "inventory:material-new": (OWNER, OWNER),
    "inventory:material-edit": (OWNER, OWNER),
    "inventory:material-archive": (NOBODY, OWNER),
    "inventory:material-delete": (OWNER, OWNER),
    "inventory:suppliers": (EVERYONE, NOBODY),
    "inventory:supplier": (EVERYONE, NOBODY),
    "inventory:supplier-new": (OWNER, OWNER),
    "inventory:supplier-edit": (OWNER, OWNER),
    "inventory:supplier-delete": (OWNER, OWNER),
    "inventory:pack-new": (OWNER, OWNER),
    "inventory:pack-edit": (OWNER, OWNER),
    "inventory:pack-delete": (OWNER, OWNER),
    "inventory:techniques": (EVERYONE, NOBODY),
    "inventory:technique-new": (OWNER, OWNER),
    "inventory:technique-edit": (OWNER, OWNER),
    "inventory:technique-delete": (OWNER, OWNER),
    "inventory:reasons": (EVERYONE, NOBODY),
    "inventory:reason-new": (OWNER, OWNER),
    "inventory:reason-edit": (OWNER, OWNER),
    "inventory:stock": (EVERYONE, NOBODY),
    "inventory:material": (EVERYONE, NOBODY),
    "inventory:lot": (EVERYONE, NOBODY),
    "inventory:lot-edit": (WORKERS, WORKERS),
    "inventory:write-off": (WORKERS, WORKERS),
    "inventory:decant": (WORKERS, WORKERS),
    "inventory:stocktakes": (EVERYONE, NOBODY),
    "inventory:stocktake-new": (WORKERS, WORKERS),
    "inventory:stocktake": (EVERYONE, NOBODY),
    "inventory:opening-stock": (WORKERS_WITH_MONEY, WORKERS_WITH_MONEY),
    "inventory:stock-check": (EVERYONE, NOBODY),
    "inventory:sessions": (EVERYONE, NOBODY),
    "inventory:session-new": (WORKERS, WORKERS),
    "inventory:session-figures": (NOBODY, WORKERS),  # writes nothing
    "inventory:session": (EVERYONE, NOBODY),
    "inventory:session-photo-add": (NOBODY, WORKERS),
    "inventory:session-photo": (EVERYONE, NOBODY),
    "inventory:session-thumbnail": (EVERYONE, NOBODY),
    "inventory:session-photo-remove": (NOBODY, WORKERS),
    "inventory:pour": (EVERYONE, WORKERS),
    "inventory:mix-new": (WORKERS, WORKERS),
    "inventory:recipes": (EVERYONE, NOBODY),
    "inventory:recipe": (EVERYONE, NOBODY),
    "inventory:recipe-new": (WORKERS, WORKERS),
    "inventory:recipe-version": (WORKERS, WORKERS),
    "inventory:deliveries": (EVERYONE, NOBODY),
    "inventory:delivery-new": (WORKERS_WITH_MONEY, WORKERS_WITH_MONEY),
    "inventory:delivery": (EVERYONE, NOBODY),
    "inventory:delivery-file": (WORKERS_WITH_MONEY, WORKERS_WITH_MONEY),
    "inventory:delivery-file-example": (WORKERS_WITH_MONEY, NOBODY),
    "inventory:delivery-correct": (OWNER, OWNER),
    "inventory:orders": (EVERYONE, NOBODY),
    "inventory:order-new": (WORKERS, WORKERS),
    "inventory:order": (EVERYONE, NOBODY),
    "inventory:order-close": (NOBODY, WORKERS),
    "inventory:alerts": (EVERYONE, NOBODY),
    "inventory:alerts-refresh": (NOBODY, WORKERS),
    "inventory:postings": (EVERYONE, NOBODY),
    "inventory:ledger-value": (WHO_SEES_MONEY, NOBODY),
    "inventory:posting": (EVERYONE, NOBODY),
    "inventory:posting-reverse": (WORKERS, WORKERS),
    "inventory:posting-undo": (NOBODY, WORKERS),
    "costing:pieces": (EVERYONE, NOBODY),
    "costing:piece-new": (WORKERS, WORKERS),
    "costing:pieces-of-session": (NOBODY, WORKERS),
    "costing:piece": (EVERYONE, NOBODY),
    "costing:piece-step": (NOBODY, WORKERS),
    "costing:piece-price": (NOBODY, WORKERS_WITH_MONEY),
    "costing:piece-minutes": (NOBODY, WORKERS),
    "costing:piece-finish": (WORKERS, WORKERS),
    "costing:piece-pack": (WORKERS, WORKERS),
    "costing:piece-give": (WORKERS_WITH_MONEY, WORKERS_WITH_MONEY),
    "costing:piece-write-off": (WORKERS, WORKERS),
    "costing:piece-bring-back": (WORKERS, WORKERS),
    "costing:piece-photo": (EVERYONE, NOBODY),
    "costing:piece-thumbnail": (EVERYONE, NOBODY),
    "costing:piece-photo-change": (NOBODY, WORKERS),
    "costing:piece-photo-remove": (NOBODY, WORKERS),
    "costing:piece-photo-adopt": (NOBODY, WORKERS),
    "costing:piece-split": (NOBODY, WORKERS),
    "costing:sales": (WHO_SEES_MONEY, NOBODY),
    "costing:sales-export": (WHO_SEES_MONEY, NOBODY),
    "costing:sell": (WORKERS_WITH_MONEY, WORKERS_WITH_MONEY),
    "costing:sale-return": (WORKERS_WITH_MONEY, WORKERS_WITH_MONEY),
    "costing:sale-undo": (NOBODY, WORKERS_WITH_MONEY),
    "costing:price-list": (WHO_SEES_MONEY, NOBODY),
    "costing:price-list-paper": (WHO_SEES_MONEY, NOBODY),
    "costing:price-labels": (WHO_SEES_MONEY, NOBODY),
    "schema": (EVERYONE, NOBODY),
    "api-materials": (EVERYONE, NOBODY),
    "api-material": (EVERYONE, NOBODY),
    "api-lots": (EVERYONE, NOBODY),
    "api-lot": (EVERYONE, NOBODY),
    "api-enough": (NOBODY, EVERYONE),  # writes nothing
    "api-deliveries": (EVERYONE, WORKERS_WITH_MONEY),
    "api-delivery": (EVERYONE, NOBODY),
    "api-recipes": (EVERYONE, NOBODY),
    "api-recipe": (EVERYONE, NOBODY),
    "api-mixes": (EVERYONE, WORKERS),
    "api-mix": (EVERYONE, NOBODY),
    "api-sessions": (EVERYONE, WORKERS),
    "api-session": (EVERYONE, NOBODY),
    "api-pours": (EVERYONE, NOBODY),
    "api-pour": (EVERYONE, NOBODY),
    "api-stocktakes": (EVERYONE, WORKERS),
    "api-stocktake": (EVERYONE, NOBODY),
    "api-write-offs": (NOBODY, WORKERS),
    "api-postings": (EVERYONE, NOBODY),
    "api-posting": (EVERYONE, NOBODY),
    "api-posting-reverse": (NOBODY, WORKERS),
    "api-alerts": (EVERYONE, NOBODY),
    "api-suppliers": (EVERYONE, NOBODY),
    "api-techniques": (EVERYONE, NOBODY),
    "api-reasons": (EVERYONE, NOBODY),
    "api-pieces": (EVERYONE, WORKERS),
    "api-piece": (EVERYONE, NOBODY),
    "api-piece-move-on": (NOBODY, WORKERS),
    "api-piece-price": (WHO_SEES_MONEY, WORKERS_WITH_MONEY),
    "api-sales": (WHO_SEES_MONEY, WORKERS_WITH_MONEY),
    "api-sale": (WHO_SEES_MONEY, NOBODY),
    "api-selling-channels": (WHO_SEES_MONEY, NOBODY),
    "api-price-list": (WHO_SEES_MONEY, NOBODY),
}
# Django's form views take a PUT for a form sent empty: it changes nothing and shows the form again. And the door sends
# whoever is inside already on to the front page, whatever the method.
PUT_SHOWS_THE_FORM = {"password_change"}
SENDS_ON = {"login"}

FOUND = addresses()
OURS = [address for address in FOUND if not address.is_settings]
PEOPLE = {
    "O": make_owner,
    "T": lambda: make_helper(may_see_money=True),
    "H": make_helper,
    "B": make_bookkeeper,
}


def numbers(studio: SmallStudio) -> dict[str, int]:
    """Which row each address is asked for, by the noun in its name."""
    taken = SessionPhoto.objects.first()
    return {
        "material": studio.paint.pk,
        "supplier": studio.supplier.pk,
        "pack": studio.supply.pk,
        "technique": studio.loose.technique_id,
        "reason": Reason.objects.get(code="spilled").pk,
        "lot": studio.lot.pk,
        "write-off": studio.lot.pk,
        "decant": studio.lot.pk,
        "stocktake": studio.stocktake.pk,
        "session": studio.session.pk,
        "session-photo-add": studio.session.pk,
        "session-photo": taken.pk if taken else 1,
        "session-thumbnail": taken.pk if taken else 1,
        "pour": studio.loose.pk,
        "mix": studio.batch.pk,
        "recipe": studio.recipe.pk,
        "delivery": studio.delivery.pk,
        "order": studio.order.pk,
        "posting": studio.stocktake.posting_id or 0,
        "pieces-of-session": studio.session.pk,
        "piece": studio.for_sale.pk,
        "sell": studio.for_sale.pk,
        "sale": studio.sale.pk,
        "backup": Backup.objects.get().pk,
    }


@pytest.fixture(scope="module")
def served(
    django_db_setup: None, django_db_blocker: Any, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[dict[str, str]]:
    """A small studio with a photo and a backup, and the path of every address in it."""
    folder = tmp_path_factory.mktemp("files")
    (folder / "made.zip").write_bytes(b"a backup")
    changed = override_settings(MEDIA_ROOT=folder, BACKUPS=folder)
    with django_db_blocker.unblock(), changed, pytest.MonkeyPatch.context() as patch, transaction.atomic():
        patch.setattr(UserRateThrottle, "get_rate", lambda self: "1000000/min")
        patch.setattr(studio_views, "backup_into", _no_backup)
        cache.clear()
        studio = small_studio()
        record_book_check(ok=True, at=timezone.now())
        store_photo(piece=studio.for_sale, upload=_picture(), submission=make_submission())
        add_photo(session=studio.session, upload=_picture(), submission=make_submission(at=timezone.now()))
        Backup.objects.create(made_at=timezone.now(), path=str(folder.resolve() / "made.zip"), ok=True)
        yield {address.route: path_of(address, numbers(studio)) for address in FOUND}
        transaction.set_rollback(True)


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
    return address.path(
        {"pk": row, "number": row, "object_id": 1, "id": 1, "app_label": "studio", "content_type_id": 1}
    )


def may(address: Address, method: str, role: str) -> bool:
    get, post = TABLE[address.name]
    allowed = {"GET": get, "POST": post}.get(method, NOBODY)
    return allowed == ANYBODY or role in allowed


def test_every_address_is_in_the_table_and_the_table_names_no_other() -> None:
    assert {address.name for address in OURS} == set(TABLE)


def test_no_two_addresses_share_a_name() -> None:
    names = [address.name for address in OURS]
    assert sorted(set(names)) == sorted(names)


@pytest.mark.parametrize("role", PEOPLE)
def test_everybody_is_served_where_the_table_says_and_nowhere_else(served: dict[str, str], role: str) -> None:
    user = PEOPLE[role]()
    client = signed_in(user)
    wrong = []
    for address in OURS:
        for method in METHODS:
            leaving = signed_in(user) if address.name == "logout" else client
            answer = asked(leaving, method, served[address.route])
            if address.name in SENDS_ON:
                as_said = (answer.status, answer.to) == (302, "/")
            elif method == "PUT" and address.name in PUT_SHOWS_THE_FORM:
                as_said = answer.status == 200
            elif may(address, method, role):
                as_said = not answer.is_refusal and answer.status not in (404, 429) and answer.status < 500
            else:
                as_said = answer.is_refusal
            if not as_said:
                wrong.append(f"{method} {served[address.route]} answers {answer.status}")
    assert wrong == []


@pytest.mark.parametrize("who", ["stranger", "deactivated"])
def test_whoever_is_not_signed_in_gets_no_further_than_the_door(served: dict[str, str], who: str) -> None:
    owner = make_owner()
    client = signed_in(owner) if who == "deactivated" else Client()
    User.objects.filter(pk=owner.pk).update(is_active=who == "stranger")
    wrong = []
    for address in OURS:
        for method in METHODS:
            if ANYBODY in TABLE[address.name]:
                continue
            answer = asked(client, method, served[address.route])
            if not answer.is_refusal:
                wrong.append(f"{method} {served[address.route]} answers {answer.status}")
    User.objects.filter(pk=owner.pk).update(is_active=True)
    assert wrong == []


@pytest.mark.parametrize("role", ["stranger", "T", "H", "B"])
def test_the_settings_pages_are_the_owners_alone(served: dict[str, str], role: str) -> None:
    client = Client() if role == "stranger" else signed_in(PEOPLE[role]())
    wrong = []
    for address in FOUND:
        for method in METHODS if address.is_settings else ():
            answer = asked(client, method, served[address.route])
            if answer.status not in (302, 403, 404, 405):
                wrong.append(f"{method} {served[address.route]} answers {answer.status}")
    assert wrong == []


def test_the_settings_pages_open_to_the_owner(served: dict[str, str]) -> None:
    client = signed_in(make_owner())
    found = {
        served[address.route]: asked(client, "GET", served[address.route]).status
        for address in FOUND
        if address.is_settings
    }
    assert {path: status for path, status in found.items() if status >= 500} == {}
    assert found["/settings/"] == 200


def money_on(answer: Answer) -> list[str]:
    """Currency signs and known figures in what was answered."""
    return [sign for sign in ("£", "&pound;", *FIGURES) if sign in answer.body]


def test_a_helper_finds_no_money_anywhere(served: dict[str, str]) -> None:
    client = signed_in(make_helper())
    seen = {}
    for address in OURS:
        for method in ("GET", "POST"):
            if may(address, method, "H") and address.name != "logout":
                answer = asked(client, method, served[address.route])
                if not answer.kind.startswith("image/"):
                    seen[f"{method} {served[address.route]}"] = money_on(answer)
    assert {path: signs for path, signs in seen.items() if signs} == {}


def test_the_search_for_money_finds_it_on_the_owners_pages(served: dict[str, str]) -> None:
    client = signed_in(make_owner())
    seen: set[str] = set()
    for address in OURS:
        if may(address, "GET", "O"):
            seen |= set(money_on(asked(client, "GET", served[address.route])))
    assert seen >= {"£", *FIGURES}
