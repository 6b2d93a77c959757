"""A studio's own messy spreadsheet, brought in on the pages: everything is there, and everything is right."""

from datetime import timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db.models import Sum
from django.test import Client

from costing.pieces.models import Piece
from costing.selling.models import Sale
from inventory.ledger.models import Lot
from inventory.ledger.verification import check
from inventory.materials.models import Material, Supply
from inventory.recipes.models import Recipe
from inventory.sessions.models import Session
from studio.accounts.models import User
from tests.costing.stories import make_channel
from tests.inventory.browsing import as_user, filled_in
from tests.making import money, units
from tests.studio.imports import messy_studio as messy

pytestmark = pytest.mark.django_db
# What she chooses by hand: what headings mean, by place, and what is the same for all rows.
SHEETS: dict[str, tuple[Any, dict[str, str]]] = {
    "materials": (messy.shelf, {}),
    "opening-stock": (messy.shelf, {"column-6": "place", "fixed-on": messy.COUNTED_ON.isoformat()}),
    "recipes": (messy.recipes, {}),
    "sessions": (messy.poured, {}),
    "pieces": (messy.pieces, {}),
}


@pytest.fixture
def brought_in(owner: User) -> dict[str, Any]:
    """The pages on which each sheet was looked over, once all are saved."""
    client = as_user(owner)
    make_channel("Market stall")
    return {kind: bring_in(client, kind, sheet(), chosen) for kind, (sheet, chosen) in SHEETS.items()}


def bring_in(client: Client, kind: str, sheet: bytes, chosen: dict[str, str]) -> Any:
    address = f"/import/{kind}/"
    page = client.post(address, {"file": SimpleUploadedFile(f"{kind}.csv", sheet), "do": "check"})
    if chosen:
        page = client.post(address, filled_in(page, "carried") | chosen | {"do": "check"})
    assert page.context["wrong"] == [], [row.problems for row in page.context["wrong"][:3]]
    saved = client.post(address, filled_in(page, "carried") | {"do": "save"})
    assert saved.status_code == 302
    return page


def test_everything_of_a_messy_spreadsheet_is_brought_in_and_right(brought_in: dict[str, Any]) -> None:
    bottles = messy.bottles()
    assert Material.objects.filter(kind="paint").count() == len(bottles) == 54
    assert Supply.objects.count() == 56
    lots = Lot.objects.filter(origin="opening")
    assert lots.count() == 60
    for bottle in bottles:
        opening = lots.get(material__name=bottle.name).entries.order_by("pk")[0]
        assert opening.quantity == units(bottle.left)
        assert abs(opening.money - bottle.cost * 1_000_000) < 1
    assert Recipe.objects.filter(name__endswith=" thin").count() == 12
    thin = Recipe.objects.get(name="Sail Loft Blue thin").versions.get()
    assert sorted(thin.parts.values_list("parts", flat=True)) == [1000, 1500]
    assert Session.objects.count() == 10
    pieces = Piece.objects.order_by("pk")
    assert [piece.price for piece in pieces] == [money(50 + number) for number in range(40)]
    assert Sale.objects.count() == 10
    report = check()
    assert report.is_clean, report.breaks


def test_what_was_poured_left_the_bottles(brought_in: dict[str, Any]) -> None:
    names = messy.paints()
    left = Lot.objects.get(material__name=names[0], origin="opening").balance.quantity
    assert left == units(350 - 4 * 15)
    second = Lot.objects.get(material__name=names[12], origin="opening").balance.quantity
    assert second == units(350) - 4 * units("7.5")
    first = Session.objects.order_by("held_on")[0]
    assert first.held_on == messy.FIRST_POURED_ON
    assert first.pours.count() == 4
    assert Session.objects.order_by("held_on")[9].held_on == first.held_on + timedelta(days=63)


def test_sent_again_nothing_is_saved_twice(brought_in: dict[str, Any], owner: User) -> None:
    before = Lot.objects.aggregate(all=Sum("balance__quantity"))
    client = as_user(owner)
    for kind, (sheet, chosen) in SHEETS.items():
        page = client.post(
            f"/import/{kind}/", {"file": SimpleUploadedFile("again.csv", sheet()), "do": "check"}
        )
        if chosen:
            page = client.post(f"/import/{kind}/", filled_in(page, "carried") | chosen | {"do": "check"})
        assert (page.context["new"], page.context["wrong"]) == (0, []), kind
    assert Lot.objects.aggregate(all=Sum("balance__quantity")) == before
