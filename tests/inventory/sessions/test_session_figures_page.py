"""Costs and stock while a session is typed: for each row, for those who may see them, and never written down."""

import re
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.ledger.models import Lot, Posting
from inventory.recipes.models import Mix
from inventory.sessions.models import Session
from studio.accounts.models import User
from tests.inventory.browsing import HOSTILE, as_user, text_of
from tests.inventory.session_bench import Bench, log, sent
from tests.making import make_helper, make_surface

pytestmark = pytest.mark.django_db
FIGURES = "inventory:session-figures"


@pytest.fixture
def bench(db: None) -> Bench:
    return Bench()


def figures(client: Client, **said: Any) -> dict[str, str]:
    """The words of every place for figures, by its id."""
    answer = client.post(reverse(FIGURES), sent(**said))
    assert answer.status_code == 200
    html = answer.content.decode().replace("\xa0", " ")
    places = re.split(r'<div class="figures[^"]*" id="([^"]+)"[^>]*>', html)[1:]
    words = [" ".join(re.sub(r"<[^>]+>", " ", place).split()) for place in places[1::2]]
    return dict(zip(places[::2], words, strict=True))


def test_each_cup_and_each_row_of_pours_says_what_it_costs_and_leaves(signed: Client, bench: Bench) -> None:
    gloves = {"material": bench.gloves.pk, "amount": "2"}
    pours = [bench.pours(alike="2", each="180 ml")]
    said = figures(signed, cups=[bench.cup(0)], pours=pours, sundries=[gloves], minutes="45")
    # White 100 mL of a litre at 10.00 and 200 mL of three at 15.00 are 2.00 for 400 mL; 360 mL of it 1.80, two
    # canvases 7.00 and two gloves of twenty at 4.00 are 0.40.
    assert said["cups-0-figures"] == (
        "Costs £2.00 , £0.50 per 100 mL. Leftover in the cup: 40 mL. "
        "Left in stock afterwards: 900 mL Sail Loft White, 2.8 L Loft medium."
    )
    assert said["pours-0-figures"] == "Materials £9.20 , £4.60 each. Left in stock afterwards: 8 Canvas 30."
    assert said["session-total"] == "Materials in the pours: £9.20 . Kept as leftovers: £0.20."
    assert said["cups-1-figures"] == ""


def test_the_rows_of_pours_add_up_to_the_materials_of_the_session_as_printed(
    signed: Client, bench: Bench
) -> None:
    # Each canvas at 3.50 and 101 mL at half a penny is 4.005: alone it would be printed as 4.01.
    rows = [bench.pours(alike="1", each="101 ml")] * 3
    said = figures(signed, cups=[bench.cup(0)], pours=rows)
    costs = [re.search(r"Materials £([\d.]+)", said[f"pours-{row}-figures"]) for row in range(3)]
    total = re.search(r"Materials in the pours: £([\d.]+)", said["session-total"])
    assert total is not None
    assert sum(Decimal(cost[1]) for cost in costs if cost) == Decimal(total[1]) == Decimal("12.02")


def test_a_session_without_minutes_says_that_no_labour_will_be_charged(signed: Client, bench: Bench) -> None:
    facts = {"cups": [bench.cup(0)], "pours": [bench.pours(alike="2", each="180 ml")]}
    assert "no labour cost" in figures(signed, **facts)["session-total"]
    assert "no labour cost" not in figures(signed, **facts, minutes="45")["session-total"]


def test_what_is_said_beforehand_is_what_the_session_then_shows(signed: Client, bench: Bench) -> None:
    facts: dict[str, Any] = {
        "cups": [bench.cup(0, leftover="residue"), bench.cup(1, "250 ml", leftover="discarded")],
        "pours": [bench.pours(alike="3", each="160 ml"), bench.pours(alike="1", each="70 ml")],
    }
    said = figures(signed, **facts)
    words = text_of(signed.get(log(signed, sent(**facts))["Location"]))
    cost = re.search(r"Materials in the pours: (£[\d.]+)", said["session-total"])
    assert cost is not None
    assert f"Materials in the pours {cost.group(1)}" in words


def test_a_helper_sees_amounts_and_no_money(bench: Bench) -> None:
    said = figures(as_user(make_helper()), cups=[bench.cup(0)], pours=[bench.pours(alike="2", each="180 ml")])
    assert said["cups-0-figures"].startswith("Leftover in the cup: 40 mL. Left in stock afterwards:")
    assert said["pours-0-figures"] == "Left in stock afterwards: 8 Canvas 30."
    assert "£" not in " ".join(said.values())


def test_what_is_short_is_named_and_has_no_cost(signed: Client, bench: Bench) -> None:
    said = figures(signed, cups=[bench.cup(1, "4 l")], pours=[bench.pours(alike="12", each="100 ml")])
    assert "Short Lantern Amber: 500 mL short" in said["cups-0-figures"]
    assert "Costs" not in said["cups-0-figures"]
    assert "Short Canvas 30: 2 short" in said["pours-0-figures"]
    assert "Materials" not in said["pours-0-figures"]
    assert "Lantern Amber: 1,000 mL needed, 500 mL in stock, 500 mL short." in said["session-figures"]


def test_pouring_more_than_was_mixed_is_said_and_the_cups_keep_their_figures(
    signed: Client, bench: Bench
) -> None:
    said = figures(signed, cups=[bench.cup(0)], pours=[bench.pours(alike="6", each="180 ml")])
    assert "the pours take 1,080 mL but only 400 mL was mixed" in said["session-figures"]
    assert said["cups-0-figures"].startswith("Costs £2.00")
    assert said["pours-0-figures"] == ""


def test_a_cup_poured_straight_has_its_cost_before_and_after_it_is_poured(
    signed: Client, bench: Bench
) -> None:
    cup = {"contents": f"m{bench.medium.pk}", "wanted": "100 ml"}
    before = figures(signed, cups=[cup])["cups-0-figures"]
    assert before == "Costs £0.50 . Left in stock afterwards: 2.9 L Loft medium."
    after = figures(signed, cups=[cup], pours=[bench.pours(alike="1", each="100 ml")])["cups-0-figures"]
    assert after == before


@pytest.mark.parametrize(
    "row",
    [{"each": "a lot"}, {"surface": ""}, {"technique": ""}, {"alike": "x"}, {"DELETE": "on"},
     {"each": "", "cup_3": "20 ml"}, {"each": "0 ml"}, {"each": "5 kg"}],
)  # fmt: skip
def test_a_row_that_is_not_finished_is_passed_over(signed: Client, bench: Bench, row: dict[str, str]) -> None:
    said = figures(signed, cups=[bench.cup(0)], pours=[bench.pours(**({"alike": "1"} | row))])
    assert said["pours-0-figures"] == ""
    assert said["cups-0-figures"].startswith("Costs £2.00")


def test_an_empty_form_has_no_figures(signed: Client, bench: Bench) -> None:
    assert set(figures(signed).values()) == {""}


def test_an_amount_typed_over_a_part_counts(signed: Client, bench: Bench) -> None:
    version = bench.recipes[0]
    typed = {f"amount_{bench.white.pk}": "200 ml", "planned_for": f"{version.pk}:400000"}
    said = figures(signed, cups=[bench.cup(0, **typed)])["cups-0-figures"]
    assert "800 mL Sail Loft White" in said


def test_nothing_is_written_and_the_queries_stay_as_many(signed: Client, bench: Bench) -> None:
    def asked(**said: Any) -> int:
        data = sent(**said)
        with CaptureQueriesContext(connection) as counted:
            assert signed.post(reverse(FIGURES), data).status_code == 200
        assert not any(
            re.match("(insert|update|delete)", query["sql"], re.IGNORECASE)
            for query in counted
            if "django_session" not in query["sql"]
        )
        return len(counted)

    before = Posting.objects.count(), Lot.objects.count()
    few = asked(cups=[bench.cup(0, leftover="discarded")], pours=[bench.pours(alike="1", each="50 ml")])
    cups = [bench.cup(number, leftover="discarded") for number in (0, 1, 2, 0, 1, 2)]
    pours = [bench.pours(alike="1", each="50 ml", surface=make_surface().pk) for _number in range(12)]
    sundries = [{"material": bench.gloves.pk, "amount": "1"}] * 5
    assert asked(cups=cups, pours=pours, sundries=sundries) == few
    assert (Posting.objects.count(), Lot.objects.count()) == before
    assert not Session.objects.exists()
    assert not Mix.objects.exists()


def test_without_a_script_the_button_works_the_same_figures_out(signed: Client, bench: Bench) -> None:
    data = sent(cups=[bench.cup(0)], pours=[bench.pours(alike="2", each="180 ml")], do="figures")
    page = signed.post(reverse("inventory:session-new"), data)
    words = text_of(page)
    assert page.status_code == 200
    assert "Costs £2.00 , £0.50 per 100 mL." in words
    assert "Materials £8.80 , £4.40 each." in words
    assert "Materials in the pours: £8.80 ." in words
    assert not Session.objects.exists()
    button = re.search(r'<button\b[^>]*name="do"[^>]*value="figures"[^>]*>', page.content.decode())
    assert button is not None
    assert {'type="submit"', "formnovalidate>"} <= set(button.group().split())


def test_strangers_and_readers_are_sent_away(client: Client, bookkeeper: User) -> None:
    assert client.post(reverse(FIGURES)).status_code == 302
    assert as_user(bookkeeper).post(reverse(FIGURES)).status_code == 403


@pytest.mark.parametrize(
    "said",
    [
        {"cups-TOTAL_FORMS": "999999"}, {"pours-TOTAL_FORMS": "-1"}, {"cups-TOTAL_FORMS": " 3"}, {"held_on": "x\x00"},
        {"cups-0-wanted": "9" * 5000}, {"cups-0-contents": "r1e9"}, {"pours-0-each": "8999999999 l"},
        {"pours-0-alike": "9223372036854775808"}, {"cups-0-wanted": HOSTILE}, {"held_on": "9999-12-31"},
        {"held_on": "0001-01-01"}, {"cups-0-wanted": "8999999999 l"}, {"sundries-0-amount": "½ each"},
    ],
)  # fmt: skip
def test_hostile_input_does_no_harm(signed: Client, bench: Bench, said: dict[str, str]) -> None:
    data = sent(cups=[bench.cup(0)], pours=[bench.pours(alike="1", each="100 ml")]) | said
    answers = (
        signed.post(reverse(FIGURES), data),
        signed.post(reverse("inventory:session-new"), data | {"do": "figures"}),
    )
    for answer in answers:
        assert answer.status_code in (200, 400)
        assert HOSTILE not in answer.content.decode()
    assert not Session.objects.exists()


def test_the_total_names_what_is_short_and_says_that_it_is_not_in_the_cost(
    signed: Client, bench: Bench
) -> None:
    facts = {"cups": [bench.cup(0)], "pours": [bench.pours(alike="2", each="180 ml")]}
    gloves = {"material": bench.gloves.pk, "amount": "25"}
    enough, short = (figures(signed, **facts, sundries=rows)["session-total"] for rows in ([], [gloves]))
    assert bench.gloves.name not in enough
    assert bench.gloves.name in short
    assert len(short) > len(enough) + len(bench.gloves.name)


def test_a_sundry_that_was_removed_leaves_the_line_of_sundries(signed: Client, bench: Bench) -> None:
    gloves = {"material": bench.gloves.pk, "amount": "2"}
    for row, said in ((gloves, f"{bench.gloves.name} (2)"), (gloves | {"DELETE": "on"}, "")):
        html = signed.post(reverse(FIGURES), sent(cups=[bench.cup(0)], sundries=[row])).content.decode()
        found = re.search(r'<span id="sundries-words"[^>]*>(.*?)</span>', html)
        assert found
        assert found[1] == said
