"""Session pages: repeating one, the session, the list, and who may see them."""

import re
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.materials.models import Material
from inventory.sessions.models import Session
from inventory.sessions.queries.session_costs import account_of
from studio.accounts.models import User
from studio.preferences.models import Studio
from tests.inventory.browsing import HOSTILE, as_user, read_whole, text_of
from tests.inventory.session_bench import Bench, log, sent, value_of
from tests.making import make_helper, make_material, make_pour, make_surface, take_back, the_technique

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(db: None) -> Bench:
    return Bench()


# Repeating


def test_repeating_a_session_fills_the_form_and_can_be_posted_as_it_stands(
    signed: Client, bench: Bench
) -> None:
    data = sent(
        cups=[bench.cup(0), bench.cup(1, "200 ml")],
        pours=[bench.pours(alike="3", each="180 ml")],
        sundries=[{"material": bench.gloves.pk, "amount": "2"}],
        title="Harbour rings",
    )
    log(signed, data)
    first = Session.objects.get()
    page = signed.get(reverse("inventory:session-new"), {"repeat": first.pk})

    assert value_of(page, "title") == "Harbour rings"
    assert value_of(page, "cups-0-wanted") == "400 mL"
    assert value_of(page, f"cups-1-amount_{bench.amber.pk}") == "50 mL"
    assert value_of(page, "pours-0-alike") == "3"
    assert value_of(page, "pours-0-each") == "180 mL"
    assert value_of(page, "sundries-0-amount") == "2 each"

    again = {
        name: value_of(page, name) for name in re.findall(r'<input[^>]*name="([^"]+)"', page.content.decode())
    }
    again |= {
        name: value for name, value in data.items() if name.endswith(("contents", "leftover", "surface"))
    }
    again |= {name: value for name, value in data.items() if name.endswith(("technique", "material"))}
    again = {
        name: value for name, value in again.items() if "__prefix__" not in name and "DELETE" not in name
    }
    assert log(signed, again | {"held_on": "2025-06-10", "confirm_gain": ""}).status_code == 302
    repeated = Session.objects.exclude(pk=first.pk).get()
    assert [p.poured for p in repeated.pours.all()] == [p.poured for p in first.pours.all()]


def test_repeating_keeps_amounts_that_differed_from_cup_to_cup(signed: Client, bench: Bench) -> None:
    row = bench.pours(alike="2", each="", cup_1="100 ml", cup_2="30 ml")
    log(signed, sent(cups=[bench.cup(0), bench.cup(1)], pours=[row]))
    page = signed.get(reverse("inventory:session-new"), {"repeat": Session.objects.get().pk})
    assert value_of(page, "pours-0-each") == ""
    assert value_of(page, "pours-0-cup_1") == "100 mL"
    assert value_of(page, "pours-0-cup_2") == "30 mL"


def test_repeating_puts_pours_that_were_nearly_alike_into_one_row_at_their_mean(
    signed: Client, bench: Bench
) -> None:
    pours = [bench.pours(alike="1", each=each) for each in ("183 ml", "199 ml", "166.1 ml")]
    log(signed, sent(cups=[bench.cup(0), bench.cup(1)], pours=pours))
    page = signed.get(reverse("inventory:session-new"), {"repeat": Session.objects.get().pk})
    assert value_of(page, "pours-0-alike") == "3"
    assert value_of(page, "pours-0-each") == "182.7 mL"
    assert value_of(page, "pours-0-cup_1") == ""
    assert 'name="pours-1-alike"' not in page.content.decode()


def test_repeating_offers_a_mix_and_its_parts_to_a_tenth(signed: Client, bench: Bench) -> None:
    """A quarter of 270.017 mL is 67.504 mL of amber: nobody measures that out."""
    log(signed, sent(cups=[bench.cup(1, "270.017 ml")], pours=[bench.pours(alike="1", each="270.017 ml")]))
    page = signed.get(reverse("inventory:session-new"), {"repeat": Session.objects.get().pk})
    assert value_of(page, "cups-0-wanted") == "270 mL"
    assert value_of(page, f"cups-0-amount_{bench.amber.pk}") == "67.5 mL"
    assert value_of(page, "pours-0-each") == "270 mL"


def test_repeating_keeps_pours_apart_that_took_other_amounts_or_stood_in_a_comparison(
    signed: Client, bench: Bench
) -> None:
    pours = [
        bench.pours(alike="2", each="60 ml"),
        bench.pours(alike="1", each="180 ml"),
        bench.pours(alike="1", each="60 ml", arm="white first"),
    ]
    log(signed, sent(cups=[bench.cup(0)], pours=pours))
    page = signed.get(reverse("inventory:session-new"), {"repeat": Session.objects.get().pk})
    rows = [(value_of(page, f"pours-{n}-alike"), value_of(page, f"pours-{n}-each")) for n in range(3)]
    assert rows == [("2", "60 mL"), ("1", "180 mL"), ("1", "60 mL")]
    assert value_of(page, "pours-2-arm") == "white first"


def test_repeating_leaves_out_what_was_only_seen_that_day_and_says_whence_it_is(
    signed: Client, bench: Bench
) -> None:
    cup = bench.cup(0, consistency="like cream")
    row = bench.pours(alike="2", each="150 ml", failed="1", run_off="30 ml", notes="crazed")
    log(signed, sent(cups=[cup], pours=[row], title="Harbour rings", notes="cold room"))
    page = signed.get(reverse("inventory:session-new"), {"repeat": Session.objects.get().pk})
    for said in ("like cream", "crazed", "cold room"):
        assert said not in page.content.decode()
    assert value_of(page, "pours-0-failed") == "0"
    assert "Filled in from Harbour rings" in text_of(page)


def test_repeating_an_unknown_session_is_not_found(signed: Client, bench: Bench) -> None:
    assert signed.get(reverse("inventory:session-new"), {"repeat": "999"}).status_code == 404
    assert signed.get(reverse("inventory:session-new"), {"repeat": "x"}).status_code == 404


# The session


def test_the_session_shows_parts_by_lot_leftovers_and_what_each_pour_cost(
    signed: Client, bench: Bench
) -> None:
    data = sent(
        cups=[bench.cup(0, leftover="residue")],
        pours=[bench.pours(alike="2", each="180 ml", run_off="72 ml")],
    )
    words = text_of(signed.get(log(signed, data)["Location"]))
    # 180 mL on 1,116 cm² is 0.161 mL/cm²; 36 of 180 mL ran off, a fifth.
    for said in ("0.161 mL/cm²", "36 mL 20%", "40 mL, in the cost of the pours", "100 mL", "Sail Loft White"):
        assert said in words
    # White 100 mL of a litre at 10.00 and 200 mL of three at 15.00 make 2.00, and two canvases 7.00.
    assert "£9.00" in words
    assert "£4.50" in words


def test_a_helper_sees_the_session_without_any_money(bench: Bench) -> None:
    client = as_user(make_helper())
    page = text_of(
        client.get(log(client, sent(cups=[bench.cup(0)], pours=[bench.pours(alike="1")]))["Location"])
    )
    assert "Canvas 30" in page
    assert "£" not in page


def test_a_session_reversed_says_so_plainly(signed: Client, bench: Bench) -> None:
    where = log(signed, sent(cups=[bench.cup(0)], pours=[bench.pours(alike="1")]))["Location"]
    take_back(Session.objects.get().posting)
    page = signed.get(where)
    assert "This session was reversed" in text_of(page)
    assert "Reverse this session" not in text_of(page)


# The list


def test_the_list_filters_by_technique_year_and_words(signed: Client, bench: Bench) -> None:
    log(signed, sent(cups=[bench.cup(0)], pours=[bench.pours(alike="1")], title="Harbour rings"))
    flip = bench.pours(alike="1", technique=the_technique("Flip cup").pk)
    log(signed, sent(key="1" * 32, cups=[bench.cup(1)], pours=[flip], title="Tile day", notes="cold room"))

    def titles(**query: Any) -> list[str]:
        page = text_of(signed.get(reverse("inventory:sessions"), query))
        return [title for title in ("Harbour rings", "Tile day") if title in page]

    assert titles() == ["Harbour rings", "Tile day"]
    assert titles(technique=bench.ring.pk) == ["Harbour rings"]
    assert titles(search="cold") == ["Tile day"]
    assert titles(search="Amber recipe") == ["Tile day"]
    assert titles(year="2025") == ["Harbour rings", "Tile day"]
    assert titles(year="1999") == []
    assert titles(technique="nonsense", year="x") == ["Harbour rings", "Tile day"]


def test_the_list_and_the_session_ask_as_many_queries_for_few_rows_as_for_many(signed: Client) -> None:
    bench = Bench(canvases=80)

    def queries(address: str) -> int:
        with CaptureQueriesContext(connection) as counted:
            assert signed.get(address).status_code == 200
        return len(counted)

    small = log(signed, sent(cups=[bench.cup(0)], pours=[bench.pours(alike="1", each="50 ml")]))["Location"]
    few, few_in_one = queries(reverse("inventory:sessions")), queries(small)
    for number in range(12):
        row = bench.pours(alike="1", each="25 ml")
        log(signed, sent(key=f"{number + 1:032x}", cups=[bench.cup(0, "100 ml")], pours=[row]))
    large = log(
        signed,
        sent(
            key="f" * 32,
            cups=[bench.cup(0), bench.cup(1), bench.cup(2)],
            pours=[bench.pours(alike="20", each="50 ml"), bench.pours(alike="10", each="5 ml")],
        ),
    )["Location"]
    assert Session.objects.count() == 14
    assert queries(reverse("inventory:sessions")) == few
    assert queries(large) == few_in_one


def test_the_form_asks_as_many_queries_for_few_recipes_as_for_many(signed: Client, bench: Bench) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as counted:
            assert signed.get(reverse("inventory:session-new")).status_code == 200
        return len(counted)

    few = queries()
    for number in range(10):
        bench.recipe(f"Colour {number}", make_material())
        make_surface()
    assert queries() == few


def test_an_empty_list_teaches_what_goes_there(signed: Client) -> None:
    assert "No session yet" in text_of(signed.get(reverse("inventory:sessions")))


# Who may


@pytest.mark.parametrize("name", ["sessions", "session-new", "mix-new"])
def test_a_stranger_is_sent_to_the_door(client: Client, name: str) -> None:
    response = client.get(reverse(f"inventory:{name}"))
    assert response.status_code == 302
    assert reverse("login") in response["Location"]


def test_a_bookkeeper_reads_and_writes_nothing(bookkeeper: User, bench: Bench) -> None:
    pour = make_pour()
    client = as_user(bookkeeper)
    page = client.get(reverse("inventory:session", args=[pour.session_id]))
    assert "£5.50" in text_of(page)
    assert "Reverse" not in text_of(page)
    assert client.get(reverse("inventory:pour", args=[pour.pk])).status_code == 200
    assert client.get(reverse("inventory:session-new")).status_code == 403
    assert client.get(reverse("inventory:mix-new")).status_code == 403
    refused = client.post(reverse("inventory:pour", args=[pour.pk]), {"run_off": "", "notes": "Mine"})
    assert refused.status_code == 403
    pour.refresh_from_db()
    assert pour.notes == ""


def test_hostile_names_are_shown_as_text(signed: Client, bench: Bench) -> None:
    Material.objects.filter(pk=bench.canvas.pk).update(name=HOSTILE)
    Studio.objects.update(name=HOSTILE)
    where = log(signed, sent(cups=[bench.cup(0)], pours=[bench.pours(alike="1")], title=HOSTILE))["Location"]
    for address in (where, reverse("inventory:sessions"), reverse("inventory:session-new")):
        assert HOSTILE not in signed.get(address).content.decode()


@pytest.mark.skipif(
    connection.vendor != "sqlite", reason="Only SQLite plans without knowing how much there is"
)
def test_what_a_session_cost_is_found_without_reading_the_whole_ledger() -> None:
    session = make_pour().session
    with CaptureQueriesContext(connection) as seen:
        account_of(session)
    assert not read_whole(seen)
