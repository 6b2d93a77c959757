"""Hostile input over every form the pages show and every POST of the API: no server error, and the books stay clean.

The forms are read from the pages themselves, so a new form is tried without anybody thinking of it here. A few
hundred inputs are tried by default. For a full round set HOSTILE_INPUTS to how many each test shall try, such as
HOSTILE_INPUTS=5000, and HOSTILE_SEED to try others; a failure names the seed and number of the input that caused it.
Every input is undone afterwards, so that each can be tried again by itself.
"""

import json
import os
import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from random import Random
from typing import Any
from unittest.mock import Mock

import pytest
from django.conf import settings
from django.core.cache import cache
from django.db import connection, transaction
from django.test import Client, override_settings
from django.utils import timezone
from rest_framework.throttling import UserRateThrottle

from costing.pieces.actions.pieces import PieceFacts, make_piece
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.selling.actions import scrape_piece
from inventory.comparisons.models import PhotoCount
from inventory.ledger.models import Entry, Posting
from inventory.ledger.verification import check
from inventory.sessions.models import Pour
from studio.archive import views as archive_views
from studio.backups import views as studio_views
from studio.backups.archive import BackupError
from studio.backups.models import Backup
from tests.addresses import addresses
from tests.costing.commissions.stories import bodies_of_commissions
from tests.costing.locations.location_bodies import bodies_of_locations
from tests.costing.markets.stories import bodies_of_markets
from tests.costing.overhead.stories import bodies_of_overhead
from tests.costing.pieces.piece_bodies import bodies_of_pieces
from tests.costing.reports.bodies import bodies_of_reports
from tests.costing.selling.sale_bodies import bodies_of_sales
from tests.days import TODAY
from tests.edit_pages import weighable
from tests.hostile import HOSTILE, MARKUP, Form, filled, forms_on, spoilt_body
from tests.inventory.alerts.sent import bodies_of_alerts
from tests.inventory.bench.sent import bodies_of_benches
from tests.inventory.comparisons.boards import bodies_of_judging
from tests.inventory.comparisons.photo_counts import begin_a_count, bodies_of_counts, counted_piece
from tests.inventory.plans.plan_bodies import bodies_of_plans
from tests.inventory.purchasing.order_bodies import bodies_of_orders
from tests.inventory.shopping.bodies import bodies_of_shopping
from tests.inventory.stock.opening_bodies import bodies_of_opening
from tests.inventory.webhooks.hooks import bodies_of_webhooks
from tests.making import make_owner, make_pour, make_submission, the_reason, the_technique
from tests.small_studio import SmallStudio, small_studio
from tests.studio.api.row_bodies import bodies_of_rows
from tests.studio.imports.making import bodies_of_imports
from tests.test_roles_and_addresses import may, numbers, path_of

pytestmark = pytest.mark.django_db
INPUTS = int(os.environ.get("HOSTILE_INPUTS", "0"))
SEED = os.environ.get("HOSTILE_SEED", "low water")


@pytest.fixture(scope="module")
def studio(
    django_db_setup: None, django_db_blocker: Any, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[SmallStudio]:
    folder = tmp_path_factory.mktemp("files")
    changed = override_settings(MEDIA_ROOT=folder, BACKUPS=folder)
    with django_db_blocker.unblock(), changed, pytest.MonkeyPatch.context() as patch, transaction.atomic():
        patch.setattr(UserRateThrottle, "get_rate", lambda self: "1000000/min")
        patch.setattr(studio_views, "backup_into", Mock(side_effect=BackupError("No backup is made here.")))
        patch.setattr(archive_views, "write_archive", lambda file, at: None)
        cache.clear()
        built = small_studio()
        begin_a_count(counted_piece(built))
        Backup.objects.create(made_at=timezone.now(), path="gone.zip", ok=True)
        yield built
        transaction.set_rollback(True)


class Owner(Client):
    """The owner, signed in for every input anew: what an input did to the session is undone with it."""

    def signed_in(self) -> "Owner":
        self.cookies.clear()
        self.cookies[settings.SESSION_COOKIE_NAME] = self.session_key
        return self

    session_key = ""


@pytest.fixture
def owner(studio: SmallStudio) -> Owner:
    client = Owner()
    client.force_login(make_owner())
    client.session_key = client.cookies[settings.SESSION_COOKIE_NAME].value
    return client


@pytest.fixture(scope="module")
def shown_forms(studio: SmallStudio) -> list[Form]:
    """Every form on every page that the owner can open, each once."""
    owner = Client()
    owner.force_login(make_owner())
    found: dict[Any, Form] = {}
    rows = numbers(studio)
    for address in addresses():
        path = path_of(address, rows)
        if path.startswith(("/api/", "/health/")) or not may(address, "GET", "O"):
            continue
        answer = owner.get(path)
        if answer.streaming:
            answer.getvalue()  # the client closes a file that is read to its end
        if answer.status_code == 200 and answer.headers["Content-Type"].startswith("text/html"):
            for form in forms_on(path, answer.content.decode()):
                found.setdefault(form.shape, form)
    door = Client().get("/login/")
    for form in forms_on("/login/", door.content.decode()):
        found.setdefault(form.shape, form)
    return [form for form in found.values() if form.path != "/logout/"]


@dataclass(frozen=True, slots=True)
class Input:
    """One request that will be tried, told in words for whoever looks into a failure."""

    words: str
    send: Callable[[], Any]


def try_out(inputs: int, make: Callable[[int, Random], Input]) -> Counter[int]:
    """Try so many inputs, each from its own seeded hand, and look at the books after each that posted."""
    statuses: Counter[int] = Counter()
    before = (Posting.objects.count(), Entry.objects.count())
    for number in range(inputs):
        tried = make(number, Random(f"{SEED} {number}"))
        with transaction.atomic():
            try:
                answer = tried.send()
                _judge(answer, before)
            except Exception as problem:
                problem.add_note(f"HOSTILE_SEED={SEED!r}, input {number}: {tried.words[:2_000]}")
                raise
            statuses[answer.status_code] += 1
            transaction.set_rollback(True)
    return statuses


def _judge(answer: Any, before: tuple[int, int]) -> None:
    assert answer.status_code < 500
    content = answer.getvalue() if answer.streaming else answer.content  # a file is closed once it is read
    assert b"already recorded" not in content, "only the database refused it"
    assert not answer.headers.get("Location", "").startswith("/login/?next="), (
        "not signed in: nothing was tried"
    )
    if not answer.streaming and answer.headers.get("Content-Type", "").startswith("text/html"):
        assert MARKUP not in answer.content.decode()
    connection.check_constraints()
    if (Posting.objects.count(), Entry.objects.count()) == before:
        return
    assert answer.status_code in (200, 201, 302), "refused, and posted all the same"
    report = check()
    assert report.is_clean, report.breaks


def test_every_form_that_a_page_shows_stands_up_to_hostile_input(
    owner: Owner, shown_forms: list[Form]
) -> None:
    forms = [form for form in shown_forms if form.method == "post"]
    assert len(forms) > 40

    def make(number: int, hand: Random) -> Input:
        form = forms[number % len(forms)]
        data = filled(form, hand)
        return Input(f"POST {form.path} {data}", lambda: owner.signed_in().post(form.path, data))

    statuses = try_out(INPUTS or 2 * len(forms), make)
    assert statuses[302]  # some went through, so that what follows the reading was tried too


def test_every_filter_stands_up_to_hostile_input(owner: Owner, shown_forms: list[Form]) -> None:
    forms = [form for form in shown_forms if form.method == "get"]
    assert len(forms) > 5

    def make(number: int, hand: Random) -> Input:
        form = forms[number % len(forms)]
        more: dict[str, Any] = hand.choice(
            [{}, {"page": hand.choice(HOSTILE)}, {"sort": hand.choice(HOSTILE)}]
        )
        data = filled(form, hand) | more
        return Input(f"GET {form.path} {data}", lambda: owner.signed_in().get(form.path, data))

    statuses = try_out(INPUTS or 3 * len(forms), make)
    assert statuses[200]


def bodies(studio: SmallStudio) -> dict[str, dict[str, Any]]:
    """For every POST of the API a body that it takes as it stands."""
    day, ring = TODAY.isoformat(), the_technique().pk
    mix = {"recipe": studio.recipe.pk, "wanted": "150 ml", "leftover": "residue"}
    pour = {
        "technique": ring,
        "surface": studio.canvas.pk,
        "doses": [{"mix": 1, "quantity": "120 ml"}, {"material": studio.paint.pk, "quantity": "1 ml"}],
        "run_off": "1 ml",
    }
    line = {"material": studio.paint.pk, "pack": "8 fl oz", "packs": 2, "price": "18.40", "best_before": day}
    colours = [{"recipe": studio.recipe.pk, "share": 1}, {"material": studio.paint.pk, "share": 2}]
    number = studio.stocktake.posting_id
    return {
        "stock-check/": {
            "lines": [{"surface": studio.canvas.pk, "count": 2, "technique": ring, "colours": colours}],
            "extra_paint": "0.1",
            "include_expired": True,
        },
        "cup-filling/": {
            "recipe": studio.recipe.pk,
            "version": 1,
            "wanted": "30 ml",
            "room": "100 ml",
            "shown": [{"material": studio.paint.pk, "shows": "40 ml"}],
        },
        **bodies_of_plans(studio, colours),
        **bodies_of_benches(studio),
        **bodies_of_shopping(studio),
        **bodies_of_markets(studio, day),
        **bodies_of_orders(studio),
        "deliveries/": {
            "supplier": studio.supplier.pk,
            "received_on": day,
            "currency": "EUR",
            "rate": "0.86",
            "carriage": "4.95",
            "carriage_shared_by": "mass",
            "duty": "1.00",
            "lines": [line, line],
        },
        **_corrections(studio),
        **bodies_of_judging(studio.comparison, studio.loose),
        **bodies_of_counts(PhotoCount.objects.all()[0]),
        **_ways_out(studio),
        **(bodies_of_alerts() | bodies_of_webhooks()),
        "mixes/": {"recipe": studio.medium.recipe_id, "wanted": "30 ml", "on": day, "measured": "29 ml"},
        "sessions/": {
            "held_on": day,
            "title": "Evening",
            "minutes": 30,
            "humidity": 60,
            "mixes": [mix],
            "pours": [pour],
            "sundries": [{"material": studio.gloves.pk, "quantity": "2 each"}],
            "confirm_gain": True,
        },
        "stocktakes/": {
            "counted_on": day,
            "counts": [
                {"lot": studio.lot.pk, "counted": "1 l"},
                {"lot": studio.glue.lots.get().pk, "weighed": "600 g", "empty": "40 g"},
            ],
        },
        "write-offs/": {
            "lot": studio.lot.pk,
            "quantity": "10 ml",
            "reason": the_reason().pk,
            "on": day,
            "note": "x",
        },
        f"postings/{number}/reverse/": {"reason": "Counted again"},
        "ratios/": {
            "name": "Neap",
            "basis": "mass",
            "notes": "x",
            "parts": [{"role": "paint", "amount": "1"}, {"role": "additive", "amount": "3 drops"}],
        },
        f"ratios/{studio.ratio.pk}/change/": {
            "name": "Neap",
            "parts": [{"role": "paint", "amount": "1"}, {"role": "medium", "amount": "2"}],
            "is_favourite": True,
        },
        f"recipes/{studio.recipe.pk}/keep/": {},
        f"recipes/{studio.recipe.pk}/favourite/": {"is_favourite": True},
        f"techniques/{the_technique().pk}/favourite/": {"is_favourite": True},
        "ratio-recipes/": {"written": "1 : 2 : 1/2", "paints": [studio.paint.pk], "media": [studio.glue.pk]},
        "rates/": {"holds_from": day, "wage_per_hour": "12.50", "overhead_per_hour": None, "tax_rate": "0.2"},
        **bodies_of_commissions(studio, day),
        **bodies_of_reports(studio, day),
        **bodies_of_locations(studio, day),
        **bodies_of_overhead(),
        **(bodies_of_imports() | bodies_of_rows(studio, day) | bodies_of_opening(studio)),
        **bodies_of_pieces(studio, day),
        **bodies_of_sales(studio, day),
    }


def posted(owner: Owner, path: str, body: Any, key: str) -> Any:
    headers = {"Idempotency-Key": key, "If-Match": "*"}
    return owner.signed_in().post(
        f"/api/{path}", json.dumps(body), content_type="application/json", headers=headers
    )


def _corrections(studio: SmallStudio) -> dict[str, dict[str, Any]]:
    line = {"lot": studio.lot.pk, "pack": "2100 ml", "packs": 1, "price": "29.17"}
    delivery = {"carriage": "4.95", "carriage_shared_by": "value", "lines": [line], "reason": "Late"}
    session, mix = weighable(studio), studio.session.mixes.get()
    pours = [
        {
            "id": pour.pk,
            "technique": pour.technique_id,
            "surface": pour.surface_id,
            "doses": [{"mix": 1, "quantity": "75 ml"}],
            "outcome": pour.outcome,
        }
        for pour in session.pours.order_by("number")
    ]
    mixed = {"id": mix.pk, "recipe": studio.recipe.pk, "wanted": "400 ml"}
    whole = {
        "held_on": session.held_on.isoformat(),
        "minutes": 95,
        "mixes": [mixed],
        "pours": pours,
        "reason": "The wrong amount",
        "confirm_gain": True,
    }
    return {
        f"deliveries/{studio.delivery.pk}/corrections/": delivery,
        f"deliveries/{studio.delivery.pk}/corrections/preview/": delivery,
        f"sessions/{session.pk}/corrections/": whole,
        f"sessions/{session.pk}/corrections/preview/": whole,
        f"sessions/{session.pk}/weighings/": {
            "pours": [pour["id"] for pour in pours],
            "scale_step": "0.1 g",
            "drips": "0.2 g",
            "minutes": 5,
            "take_back": True,
        },
    }


def _ways_out(studio: SmallStudio) -> dict[str, dict[str, Any]]:
    day = {"on": TODAY.isoformat(), "note": "x"}
    failed = Pour.objects.filter(outcome=Pour.Outcome.FAILED, piece_part=None).first() or make_pour(
        outcome=Pour.Outcome.FAILED
    )
    scraped = Piece.objects.filter(state=State.SCRAPED).first() or scrape_piece(
        piece=make_piece(facts=PieceFacts(title="Bar", pours=[make_pour()]), submission=make_submission()),
        submission=make_submission(),
    )
    return {
        "pour-write-offs/": {"pours": [failed.pk], "reason": None, **day},
        f"pieces/{studio.dry.pk}/write-off/": {"reason": the_reason("ruined").pk, **day},
        f"pieces/{studio.dry.pk}/scrape/": day,
        f"pieces/{scraped.pk}/bring-back/": day,
    }


def test_there_is_a_body_for_every_post_of_the_api(owner: Owner, studio: SmallStudio) -> None:
    known, rows = bodies(studio), numbers(studio)
    takers = {path_of(address, rows) for address in addresses() if address.name.startswith("api-")}
    with transaction.atomic():  # some take an empty body as it is
        takers = {
            path
            for path in takers
            if owner.post(path, b"", content_type="application/json").status_code != 405
        }
        transaction.set_rollback(True)
    assert {re.sub("[0-9]+", "N", path) for path in takers} == {
        re.sub("[0-9]+", "N", f"/api/{path}") for path in known
    }
    for path, body in known.items():
        with transaction.atomic():
            answer = posted(owner, path, body, "as-it-stands")
            assert answer.status_code in (200, 201), answer.content
            transaction.set_rollback(True)


def test_every_post_of_the_api_stands_up_to_hostile_input(owner: Owner, studio: SmallStudio) -> None:
    known = sorted(bodies(studio).items())

    def make(number: int, hand: Random) -> Input:
        path, body = known[number % len(known)]
        spoilt = spoilt_body(body, hand)
        key = hand.choice(["k"] * 9 + [word for word in HOSTILE if word.isprintable()][:20])
        said = key.encode("latin-1", "replace").decode("latin-1")
        return Input(f"POST /api/{path} {json.dumps(spoilt)}", lambda: posted(owner, path, spoilt, said))

    statuses = try_out(INPUTS or 5 * len(known), make)
    assert statuses[201]
    assert statuses[400]
