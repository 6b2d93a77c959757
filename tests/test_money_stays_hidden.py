"""A helper cannot work out costs: two studios that differ in money alone answer her alike, byte for byte."""

import random
import re
import secrets
from datetime import UTC, datetime
from itertools import count
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from auditlog.models import LogEntry
from django.apps import apps
from django.core.management.color import no_style
from django.db import connection, transaction
from django.test import Client
from django.utils import timezone

from inventory.alerts.actions import calendar_feeds
from inventory.ledger.models import CostingMethod
from studio.accounts.models import User
from tests import making, small_studio
from tests.addresses import addresses
from tests.asking import signed_in
from tests.costing.overhead.stories import a_year
from tests.costing.stories import use_rates
from tests.factories import MaterialFactory, RecipeFactory, SupplierFactory
from tests.inventory.comparisons import photo_counts
from tests.making import use_cost_flow
from tests.small_studio import SmallStudio
from tests.test_roles_and_addresses import everything_to_serve, may, numbers, path_of

pytestmark = pytest.mark.django_db
NOW = datetime(2025, 6, 11, 9, 0, tzinfo=UTC)
# What was paid and what is charged, otherwise: what was cheap is dear, so that an order by cost would show. What pieces
# are sold for stays, because whoever sells must know it.
OTHERWISE = {
    "17.43": "80.01",
    "29.17": "3.33",
    "4.61": "91.07",
    "1400.00": "22.00",
    "4.00": "615.00",
    "1.50": "0.07",
}
RATES = {"wage": "44.44", "overhead": "9.99"}
OF_LISTS = ("?download=csv", "?sort=-cost", "?sort=price", "?sort=-value")

# Freshly drawn for each answer: the keys of forms (32 hexadecimal digits) and CSRF tokens.
DRAWN = re.compile(
    rb'(?<![0-9a-f])[0-9a-f]{32}(?![0-9a-f])|(?<=name="csrfmiddlewaretoken" value=")\w{64}|(?<="csrf": ")\w{64}'
)
HEADERS_DRAWN = {"Set-Cookie", "Expires"}


def _with_other_money(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(small_studio, "money", lambda amount: making.money(OTHERWISE.get(str(amount), str(amount))))
    patch.setattr(small_studio, "use_rates", lambda **given: use_rates(**given | RATES))
    patch.setattr(
        small_studio, "a_year", lambda *lines: a_year(*[(name, "7.77", "9.87") for name, *_ in lines])
    )


def _answers(client: Client, studio: SmallStudio) -> dict[str, Any]:
    """Everything that is answered to whoever asks for what a helper may ask, by address."""
    rows, answers = numbers(studio), {}
    for address in addresses():
        for method in ("GET", "POST"):
            if not may(address, method, "H") or address.name == "logout":
                continue
            path, name = path_of(address, rows), f"{method} {address.name}"
            answers[name] = answer = _asked(client, method, path)
            if method == "GET" and b"sort=" in answer[2]:
                answers |= {name + query: _asked(client, "GET", path + query) for query in OF_LISTS}
    return answers


def _asked(client: Client, method: str, path: str) -> tuple[int, dict[str, str], bytes]:
    kind = "application/json" if path.startswith("/api/") else "application/x-www-form-urlencoded"
    body = "{}" if path.startswith("/api/") else ""
    with transaction.atomic():
        answer: Any = client.generic(
            method, path, body, content_type=kind, headers={"Idempotency-Key": "one"}
        )
        content = answer.getvalue().replace(path.encode(), b"")
        transaction.set_rollback(True)
    headers = {name: value for name, value in answer.headers.items() if name not in HEADERS_DRAWN}
    return answer.status_code, headers, DRAWN.sub(b"", content)


def _seen_by(user: User, method: CostingMethod, folder: Path, *, otherwise: bool) -> dict[str, Any]:
    with transaction.atomic(), pytest.MonkeyPatch.context() as patch:
        with connection.cursor() as cursor:  # keys go on from the highest, so both studios have the same ones
            for statement in connection.ops.sequence_reset_sql(no_style(), apps.get_models()):
                cursor.execute(statement)
        if otherwise:
            _with_other_money(patch)
        drawn = count(1)
        patch.setattr(secrets, "token_hex", lambda size=32: f"{next(drawn):0{2 * size}x}")
        lot = random.Random(1)
        patch.setattr(random.SystemRandom, "getrandbits", lambda self, bits: lot.getrandbits(bits))
        patch.setattr(random.SystemRandom, "random", lambda self: lot.random())
        patch.setattr(calendar_feeds, "uuid4", lambda: UUID(int=1))
        patch.setattr(calendar_feeds, "token_urlsafe", lambda size: "seed")
        patch.setitem(vars(LogEntry._meta.get_field("timestamp")), "_get_default", lambda: NOW)
        patch.setattr(timezone, "now", lambda: NOW)
        patch.setattr(photo_counts, "_shade", count())
        for factory in (MaterialFactory, SupplierFactory, RecipeFactory):
            factory.reset_sequence(0)  # type: ignore[no-untyped-call]
        use_cost_flow(method)
        (folder / str(otherwise)).mkdir()
        with everything_to_serve(folder / str(otherwise)) as studio:
            answers = _answers(signed_in(user), studio)
        transaction.set_rollback(True)
    return answers


def _what_differs(user: User, method: CostingMethod, folder: Path) -> list[str]:
    one, other = (_seen_by(user, method, folder, otherwise=otherwise) for otherwise in (False, True))
    assert one.keys() == other.keys()
    return [path for path in one if one[path] != other[path]]


@pytest.mark.parametrize("method", [CostingMethod.FIFO, CostingMethod.AVERAGE])
def test_a_helper_is_answered_alike_whatever_things_cost(
    helper: User, method: CostingMethod, tmp_path: Path
) -> None:
    assert _what_differs(helper, method, tmp_path) == []


def test_the_comparison_sees_money_where_it_is_shown(
    owner: User, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown = {"inventory:stock", "inventory:posting", "api-postings-detail", "costing:piece"}
    few = [each for each in addresses() if each.name in shown]
    monkeypatch.setattr(f"{__name__}.addresses", lambda: few)
    differing = {name.split("?")[0] for name in _what_differs(owner, CostingMethod.FIFO, tmp_path)}
    assert differing >= {f"GET {name}" for name in shown}
