"""What somebody sees of her stock right after she saved something: each material before and now."""

from typing import Any

import pytest
from django.urls import reverse

from inventory.ledger.models import Lot, Posting
from inventory.materials.models import Kind
from inventory.stock.changes import stock_changes
from studio.accounts.models import User
from tests.days import TODAY
from tests.inventory.browsing import as_user, text_of
from tests.making import make_lot, make_material, spill, units

pytestmark = pytest.mark.django_db


def opened(owner: User, **amounts: str) -> Any:
    """What answers an opening stock of these materials, the page that it leads to."""
    data: dict[str, Any] = {
        "key": "0" * 32,
        "on": TODAY.isoformat(),
        "lines-TOTAL_FORMS": str(len(amounts)),
        "lines-INITIAL_FORMS": "0",
    }
    for number, (name, quantity) in enumerate(amounts.items()):
        material = make_material(name=name)
        data |= {
            f"lines-{number}-material": material.pk,
            f"lines-{number}-quantity": quantity,
            f"lines-{number}-cost": "2",
        }
    return as_user(owner).post(reverse("inventory:opening-stock"), data, follow=True)


def test_a_posting_says_what_was_there_before_it_and_now_until_that_moves_again() -> None:
    lot = make_lot(quantity=units(500))
    first = Posting.objects.latest("pk")
    assert [(each.before, each.after) for each in stock_changes(first)] == [(0, units(500))]
    make_lot(material=make_material(name="Marram"))
    assert stock_changes(first), "another material is none of it"
    spill(lot=lot, quantity=units(120))
    assert stock_changes(first) == []
    spilled = stock_changes(Posting.objects.latest("pk"))
    assert [(each.before, each.after) for each in spilled] == [(units(500), units(380))]


def test_opening_stock_leads_to_the_shelf_with_what_changed_and_the_numbers_for_the_bottles(
    owner: User,
) -> None:
    page = opened(owner, Marram="350 ml", Leeward="1 l")
    assert page.request["PATH_INFO"] == reverse("inventory:stock")
    assert [(each.material.name, each.after) for each in page.context["changes"]] == [
        ("Leeward", units(1000)),
        ("Marram", units(350)),
    ]
    words = text_of(page)
    assert [lot.label in words for lot in Lot.objects.all()] == [True, True]
    assert page.context["undo"]


def test_a_number_that_is_no_opening_stock_shows_the_shelf_alone(owner: User) -> None:
    spill(lot=make_lot(quantity=units(500)), quantity=units(10))
    for number in (Posting.objects.latest("pk").pk, 999, "x"):
        page = as_user(owner).get(reverse("inventory:stock"), {"saved": str(number)})
        assert (page.status_code, page.context.get("changes")) == (200, None)


def test_mixed_colours_of_which_nothing_is_left_are_folded_away_until_they_are_looked_for(
    owner: User,
) -> None:
    paint = make_material(name="Sail Loft White")
    make_lot(material=paint)
    empty = make_material(name="Leeward", kind=Kind.MIX)
    client = as_user(owner)
    page = client.get(reverse("inventory:stock"))
    assert [row.stock.material.pk for row in page.context["table"].rows] == [paint.pk]
    assert [row.pk for row in page.context["empty_colours"]] == [empty.pk]
    found = client.get(reverse("inventory:stock"), {"search": "leeward"})
    assert [row.stock.material.pk for row in found.context["table"].rows] == [empty.pk]
    assert "Leeward" in client.get(reverse("inventory:stock"), {"export": "csv"}).content.decode()
