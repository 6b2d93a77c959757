"""The whole stock page, from the request to its last byte, beside a page that only hands out the same bytes."""

from functools import partial

from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.test import Client, override_settings
from django.test.utils import CaptureQueriesContext
from django.urls import path
from django.utils import timezone

from inventory.reordering.queries import levels
from studio import urls
from studio.accounts.roles import EVERYONE, role_required
from studio.submission import transaction
from tests import making
from tests.benchmarks.figures import Figure, side_by_side
from tests.faults.jobs import Meet, Say

STOCK, SAME_BYTES = "/stock/", "/same-bytes/"


class Kept:
    """The bytes that the trivial page hands out."""

    content = b""


@role_required(*EVERYONE)
def same_bytes(request: HttpRequest) -> HttpResponse:
    return HttpResponse(Kept.content)


urlpatterns = [path(SAME_BYTES.lstrip("/"), same_bytes), *urls.urlpatterns]


@override_settings(ROOT_URLCONF=__name__)
def show_stock(*, runs: int, say: Say, meet: Meet) -> list[Figure]:
    """The stock page for its owner: login, roles, queries and template, all inside this process.

    Before anything refreshed the alerts of the day, and then as it opens for the rest of it: with past use kept.
    """
    browser = Client(SERVER_NAME="localhost")
    browser.force_login(making.make_owner())
    first = _beside_its_bytes("P5 the stock page, first of the day", browser, runs=runs)
    with transaction(None):
        levels(timezone.localdate(), keep=True)
    return [first, _beside_its_bytes("P5 the stock page, signed in", browser, runs=runs)]


def _beside_its_bytes(work: str, browser: Client, *, runs: int) -> Figure:
    with CaptureQueriesContext(connection) as statements:
        Kept.content = _fetch(browser, STOCK)
    note = f"{len(Kept.content) / 1_000:.0f} kB, {len(statements)} queries"
    if _fetch(browser, SAME_BYTES) != Kept.content:
        raise ValueError("The trivial page hands out something else.")
    ours, floor = partial(_fetch, browser, STOCK), partial(_fetch, browser, SAME_BYTES)
    return side_by_side(work, ours, floor, runs=runs * 2, note=note)


def _fetch(browser: Client, address: str) -> bytes:
    answer = browser.get(address)
    if answer.status_code != 200:
        raise ValueError(f"{address} answers {answer.status_code}.")
    return answer.content
