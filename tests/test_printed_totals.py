"""What is printed adds up, and one figure reads the same wherever it is printed: every table of a studio of odd sums.

Nothing here knows how a page rounds. It reads pages as a person does: the lines of a table with a total, and the
figure of one thing on all pages that show it.
"""

import re
from collections.abc import Iterator, Sequence
from decimal import Decimal
from html import unescape
from random import Random
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from costing.pieces.actions.pieces import PieceFacts, make_piece
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.selling.actions import sell
from inventory.ledger.models import Lot, Posting
from inventory.materials.models import Kind, Material
from inventory.purchasing.models import Delivery
from inventory.recipes.actions.mixes import MixFacts, planned
from inventory.sessions.actions.sessions import Dose, PourFacts
from inventory.sessions.models import Pour, Session
from inventory.sessions.queries.session_costs import costs_of_pours
from studio.accounts.models import User
from studio.values.money import round_to_minor
from tests.costing.stories import make_channel, moved_to, use_rates
from tests.days import DAY, TODAY
from tests.inventory.browsing import as_user, text_of
from tests.making import (
    correct,
    make_delivery,
    make_material,
    make_recipe,
    make_session,
    make_submission,
    make_surface,
    make_water,
    money,
    spill,
    the_technique,
    units,
)
from tests.tables import columns_with_totals, pence, table_rows

pytestmark = pytest.mark.django_db


@pytest.fixture(params=range(2))
def studio(request: pytest.FixtureRequest) -> Random:
    """A studio whose amounts hardly ever come to whole pence: the same one for each seed."""
    chance = Random(request.param)
    use_rates(wage="13.37", overhead="2.99")
    paints = [make_material(name=f"Paint {number}") for number in range(4)]
    glue, water = make_material(name="Loft glue", kind=Kind.MEDIUM), make_water(name="Tap water")
    canvas = make_surface(name="Canvas 30")
    for _ in range(2):
        bought = [
            (each, units(chance.randint(450, 900)), chance.randint(100, 999) * 10_000)
            for each in (*paints, glue)
        ]
        make_delivery(
            lines=[*bought, (canvas, units(5), money("17.37"))],
            on=TODAY - 9 * DAY,
            carriage=money("5.95"),
            duty=money("1.99"),
            tax=money("0.77"),
        )
    medium = make_recipe(parts=[(glue, 2), (water, 1)], name="Loft medium")
    for day in range(2):
        colours = [make_recipe(parts=[(paint, 2), (medium.recipe.makes, 1)]) for paint in paints[:2]]
        mixed = [MixFacts(medium, planned(medium, units(400)))]
        mixed += [
            MixFacts(colour, planned(colour, units(chance.randint(301, 377))), leftover="residue")
            for colour in colours
        ]
        poured = [
            PourFacts(
                technique=the_technique(),
                doses=[Dose(units(chance.randint(20, 60)), mix=mix) for mix in (1, 2)],
                surface=canvas,
            )
            for _ in range(4)
        ]
        make_session(mixes=mixed, pours=poured, minutes=97, on=TODAY - (8 - day) * DAY)
    for lot in Lot.objects.filter(material__in=paints[2:], balance__quantity__gt=units(100)):
        spill(lot=lot, quantity=units(chance.randint(1, 99)))
    for lot in Lot.objects.filter(origin="delivery", material=paints[0]):
        correct(lot=lot, difference=money("0.37"))
    pieces = [
        make_piece(
            facts=PieceFacts(title=str(pour), pours=[pour], price=money(40)), submission=make_submission()
        )
        for pour in Pour.objects.order_by("pk")[:4]
    ]
    for piece in pieces[:2]:
        moved_to(piece, State.FOR_SALE, on=TODAY)
        sell(piece=piece, channel=make_channel(), price=money("33.33"), submission=make_submission())
    return chance


def addresses() -> Iterator[str]:
    """Every page that has a table of money."""
    for name, rows in (
        ("inventory:session", Session.objects.all()),
        ("inventory:pour", Pour.objects.all()),
        ("inventory:posting", Posting.objects.all()),
        ("inventory:material", Material.objects.all()),
        ("inventory:lot", Lot.objects.all()),
        ("inventory:delivery", Delivery.objects.all()),
        ("costing:piece", Piece.objects.all()),
    ):
        yield from (reverse(name, args=[row.pk]) for row in rows)
    for name in ("inventory:stock", "inventory:ledger-value", "costing:sales", "inventory:sessions", "home"):
        yield reverse(name)


def test_printed_lines_add_up_to_their_printed_total(studio: Random, owner: User) -> None:
    client, looked_at = as_user(owner), 0
    for address in addresses():
        response = client.get(address)
        assert response.status_code == 200
        for label, lines, total in columns_with_totals(response):
            looked_at += 1
            assert sum(lines) == total, f"{address} {label}"
    assert looked_at > 60


def test_the_lines_of_a_cost_sheet_add_up_through_its_groups_to_the_whole(
    studio: Random, owner: User
) -> None:
    for piece in Piece.objects.all():
        page = as_user(owner).get(reverse("costing:piece", args=[piece.pk])).content.decode()
        account = page.split('class="sheet cost-account"')[1].split("cost-per-area")[0]
        *groups, whole = account.split("<summary>")[1:-1], account.split('class="cost-whole"')[1]
        sums = [pence(group) for group in account.split("<summary>")[1:] if "<table" in group]
        assert sum(filter(None, sums)) == pence(whole)
        assert groups


def test_one_figure_reads_the_same_on_every_page(studio: Random, owner: User) -> None:
    client = as_user(owner)
    for name, readings in figures(client):
        assert None not in readings, (name, readings)
        assert len(set(readings)) == 1, (name, readings)


def figures(client: Client) -> Iterator[tuple[str, Sequence[Decimal | None]]]:
    """What one thing comes to, as each page that shows it prints it."""
    listed = {row[""].split()[0]: row for row in table_rows(client.get(reverse("inventory:sessions")))}
    assert listed
    for session in Session.objects.all():
        page = client.get(reverse("inventory:session", args=[session.pk]))
        compared = costs_of_pours(session.pours.values_list("pk", flat=True))
        pours = {row[""].split()[0]: row for row in table_rows(page, "Pours of this session")}
        for pour in session.pours.all():
            own = client.get(reverse("inventory:pour", args=[pour.pk]))
            totals = [total for label, _lines, total in columns_with_totals(own) if label == "Cost"]
            as_compared = Decimal(round_to_minor(compared[pour.pk], "GBP")).scaleb(-6)
            yield (pour.label, [as_compared, pence(pours[pour.label]["Materials"]), *totals])
        (total,) = [each for label, _lines, each in columns_with_totals(page) if label == "Materials"]
        yield str(session), [total, pence(text_of(page).split("Materials in the pours")[1])]
    stock = client.get(reverse("inventory:stock"))
    worth = client.get(reverse("inventory:ledger-value"))
    in_stock = text_of(worth).split("In stock")[1]
    yield (
        "stock",
        [
            pence(in_stock),
            pence(text_of(stock).split("Value of this list")[1]),
            *(total for label, _lines, total in columns_with_totals(stock) if label == "Value"),
        ],
    )
    yield from kinds_of_stock(client, worth)
    for row in table_rows(stock):
        material = Material.objects.filter(name__in=[row[""].rsplit(" ", words)[0] for words in range(4)])[0]
        page = client.get(reverse("inventory:material", args=[material.pk]))
        totals = [each for label, _lines, each in columns_with_totals(page) if label == "Value remaining"]
        if "Value" in row:
            yield material.name, [pence(row["Value"]), *totals]
        for line in table_rows(page, "Lots") if totals else ():
            lot = Lot.objects.get(pk=int(line[""].lstrip("L")))
            own = client.get(reverse("inventory:lot", args=[lot.pk]))
            yield lot.label, [pence(line["Value remaining"]), pence(text_of(own).split("Value remaining")[1])]


def kinds_of_stock(client: Client, worth: Any) -> Iterator[tuple[str, Sequence[Decimal | None]]]:
    """Each kind of material where the money is, and on the list of stock that the figure leads to."""
    for row in table_rows(worth, "Where it went"):
        if row[""].startswith("In stock"):
            address = re.search(
                rf'href="([^"]*)"[^>]*>\s*{re.escape(row["Where it went"])}', worth.content.decode()
            )
            assert address
            there = client.get(unescape(address[1]))
            yield row[""], [pence(row["Where it went"]), pence(text_of(there).split("Value of this list")[1])]
