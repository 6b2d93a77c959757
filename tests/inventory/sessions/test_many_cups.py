"""Fifteen cups and ten pours on one page: made with one ratio, logged in one go, light, and without a fixed number."""

import re
from gzip import compress
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.client import BOUNDARY, MULTIPART_CONTENT, encode_multipart
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.materials.models import Kind, Material
from inventory.recipes.models import Recipe
from inventory.sessions.models import Session
from tests.days import TODAY
from tests.inventory.session_bench import Bench, log, sent, value_of
from tests.making import make_delivery, make_material, money, units

pytestmark = pytest.mark.django_db

# Own choice: what a phone on a slow line should still take, before it is compressed to about a tenth.
HEAVIEST_PAGE, HEAVIEST_COMPRESSED = 450_000, 40_000


@pytest.fixture
def bench(db: None) -> Bench:
    return Bench(canvases=40)


@pytest.fixture
def media(bench: Bench) -> list[Material]:
    five = [make_material(name=f"Medium {letter}", kind=Kind.MEDIUM) for letter in "ABCDE"]
    make_delivery(lines=[(medium, units(2000), money(9)) for medium in five], on=TODAY)
    return five


def by_ratio(bench: Bench, media: list[Material], **more: Any) -> dict[str, Any]:
    ticked = {f"ratio-paint_{paint.pk}": "on" for paint in (bench.white, bench.amber, bench.green)}
    ticked |= {f"ratio-medium_{medium.pk}": "on" for medium in media}
    return ticked | {"ratio-written": "1 : 2 : ½", "ratio-wanted": "70 ml", "do": "by-ratio"} | more


def fifteen_cups(bench: Bench, media: list[Material], client: Client) -> list[dict[str, Any]]:
    page = log(client, sent() | by_ratio(bench, media))
    cups = page.context["draft"].cups.forms
    return [{name: cup[name].value() for name in ("contents", "wanted", "leftover")} for cup in cups]


def ten_pours(bench: Bench) -> list[dict[str, Any]]:
    """Two rows for each medium, each poured from its three cups."""
    return [
        bench.pours(alike="1", each="", arm=f"Medium {number % 5}")
        | {f"cup_{3 * (number % 5) + colour}": "30 ml" for colour in (1, 2, 3)}
        for number in range(10)
    ]


def test_three_colours_in_five_media_are_fifteen_cups_and_ten_pours_in_one_session(
    signed: Client, bench: Bench, media: list[Material], books_hold: None
) -> None:
    cups = fifteen_cups(bench, media, signed)
    assert [cup["wanted"] for cup in cups] == ["70 ml"] * 15
    response = log(signed, sent(cups=cups, pours=ten_pours(bench)))
    assert response.status_code == 302
    session = Session.objects.get()
    assert (session.mixes.count(), session.pours.count()) == (15, 10)
    assert {pour.poured for pour in session.pours.all()} == {units(90)}
    assert Recipe.objects.filter(by_ratio=True).count() == 15


def test_the_page_comes_back_at_the_cups_that_were_added(
    signed: Client, bench: Bench, media: list[Material]
) -> None:
    page = signed.get(reverse("inventory:session-new")).content.decode()
    button = re.search(r'<button[^>]*value="by-ratio"[^>]*>', page)
    at = re.search(r'formaction="#([^"]+)"', button[0]) if button else None
    assert at
    assert re.search(rf'id="{at[1]}"\s+data-rows="cups"', page)


def test_that_page_stays_light_and_asks_as_much_as_a_small_one(
    signed: Client, bench: Bench, media: list[Material]
) -> None:

    cups, pours = fifteen_cups(bench, media, signed), ten_pours(bench)

    def asked(cups: list[dict[str, Any]], pours: list[dict[str, Any]]) -> tuple[int, bytes]:
        with CaptureQueriesContext(connection) as read:
            response = log(signed, sent(cups=cups, pours=pours, do="parts"))
        assert response.status_code == 200
        return len(read), response.content

    few, _small = asked(cups[:2], pours[:1])
    many, page = asked(cups, pours)
    assert many <= few
    assert len(page) < HEAVIEST_PAGE
    assert len(compress(page)) < HEAVIEST_COMPRESSED


def test_cups_that_say_something_keep_their_number_when_a_ratio_adds_more(
    signed: Client, bench: Bench, media: list[Material]
) -> None:
    page = log(signed, sent(cups=[bench.cup(0)], pours=[bench.pours(cup_1="40 ml")]) | by_ratio(bench, media))
    assert value_of(page, "cups-0-wanted") == "400 ml"
    assert value_of(page, "cups-1-wanted") == "70 ml"
    assert len(page.context["draft"].cups.forms) == 16
    assert value_of(page, "pours-0-cup_1") == "40 ml"


def test_what_is_wrong_with_the_ratio_is_told_and_no_cup_is_lost(
    signed: Client, bench: Bench, media: list[Material]
) -> None:
    page = log(signed, sent(cups=[bench.cup(0)]) | by_ratio(bench, media, **{"ratio-written": "1 :"}))
    assert set(page.context["by_ratio"].errors) == {"written"}
    summary = page.content.decode().partition("error-summary")[2].partition("</ul>")[0]
    assert 'href="#id_ratio-written"' in summary
    assert value_of(page, "cups-0-wanted") == "400 ml"
    assert not Recipe.objects.filter(by_ratio=True).exists()


def test_ticked_paints_are_not_passed_over_when_the_session_is_saved_at_once(
    signed: Client, bench: Bench, media: list[Material]
) -> None:
    page = log(signed, sent() | by_ratio(bench, media, do=""))
    assert (page.status_code, len(page.context["draft"].cups.forms)) == (200, 15)
    assert not Session.objects.exists()


@pytest.mark.parametrize("button", ["copy-cups", "copy-pours", "more-cups", "more-pours"])
def test_without_a_script_a_row_is_added_or_copied(signed: Client, bench: Bench, button: str) -> None:
    cups = [bench.cup(number) for number in range(3)]
    page = log(signed, sent(cups=cups, pours=[bench.pours(arm="white first")], do=button))
    asked, prefix = button.split("-")
    rows = getattr(page.context["draft"], prefix).forms
    assert len(rows) == (4 if prefix == "cups" else 2)
    copied = {"cups": ("wanted", "400 ml"), "pours": ("arm", "white first")}[prefix]
    assert (rows[-1][copied[0]].value() == copied[1]) == (asked == "copy")


def test_a_hundred_cups_and_a_row_of_three_hundred_alike_are_taken(signed: Client, bench: Bench) -> None:
    cups = [bench.cup(0, "3 ml") for _number in range(100)]
    page = log(signed, sent(cups=cups, pours=[bench.pours(alike="300", cup_100="1 ml", each="")], do="parts"))
    assert not page.context["draft"].pours.forms[0].errors
    assert value_of(page, "pours-0-cup_100") == "1 ml"


def test_rows_without_a_photo_are_no_files_too_many(signed: Client, bench: Bench) -> None:
    pours = [bench.pours(alike="1", each="20 ml") for _number in range(40)]
    whole = encode_multipart(BOUNDARY, sent(cups=[bench.cup(0, "900 ml")], pours=pours))
    # A browser sends a part for every file field, whether a file was chosen or not (HTML, form-data encoding).
    blank = "".join(
        f'--{BOUNDARY}\r\nContent-Disposition: form-data; name="pours-{number}-photo"; filename=""\r\n'
        "Content-Type: application/octet-stream\r\n\r\n\r\n"
        for number in range(40)
    )
    response = signed.generic(
        "POST", reverse("inventory:session-new"), blank.encode() + whole, MULTIPART_CONTENT
    )
    assert response.status_code == 302
    assert Session.objects.get().pours.count() == 40


def test_the_ratio_stays_open_and_as_typed_once_its_cups_were_added(
    signed: Client, bench: Bench, media: list[Material]
) -> None:
    again = log(signed, sent() | by_ratio(bench, media)).context["by_ratio"]
    assert again.is_open
    assert again["wanted"].value() == by_ratio(bench, media)["ratio-wanted"]
    assert not again.says_something


def test_the_only_medium_is_ticked_before_it_was_ever_used(signed: Client, bench: Bench) -> None:
    form = signed.get(reverse("inventory:session-new")).context["by_ratio"]
    assert [row.tick.value() for row in form.medium_rows] == [True]
    make_material(name="Medium A", kind=Kind.MEDIUM)
    form = signed.get(reverse("inventory:session-new")).context["by_ratio"]
    assert not any(row.tick.value() for row in form.medium_rows)
