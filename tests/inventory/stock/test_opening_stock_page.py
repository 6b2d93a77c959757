"""What stood on the shelf when the books began."""

from datetime import date
from typing import Any

import pytest
from django.urls import reverse

from inventory.ledger.models import Lot, Posting, PostingKind
from studio.accounts.models import User
from tests.days import TODAY
from tests.inventory.browsing import as_user, text_of
from tests.making import held, make_helper, make_material, make_surface, make_water, money, units

pytestmark = pytest.mark.django_db
KEY = "0" * 32


def opening(*lines: dict[str, Any], **said: Any) -> dict[str, Any]:
    data: dict[str, Any] = {
        "key": KEY,
        "on": TODAY.isoformat(),
        "lines-TOTAL_FORMS": str(len(lines) + 3),
        "lines-INITIAL_FORMS": "0",
    } | said
    for number, line in enumerate(lines):
        data |= {f"lines-{number}-{name}": text for name, text in line.items()}
    return data


def test_it_posts_opening_stock_once_however_often_it_is_sent(owner: User) -> None:
    paint, canvas = make_material(), make_surface()
    data = opening(
        {
            "material": paint.pk,
            "quantity": "350 ml",
            "cost": "6.40",
            "opened_on": "2025-05-01",
            "best_before": "2027-03-31",
            "place": "Window",
        },
        {"material": canvas.pk, "quantity": "4", "cost": "0"},
    )
    for _ in range(2):
        response = as_user(owner).post(reverse("inventory:opening-stock"), data)
    posting = Posting.objects.get()
    assert posting.kind == PostingKind.OPENING
    assert response["Location"] == f"{reverse('inventory:stock')}?saved={posting.number}"
    lot = Lot.objects.get(material=paint)
    assert held(lot) == (units(350), money("6.40"))
    assert (lot.opened_on, lot.best_before, lot.place) == (date(2025, 5, 1), date(2027, 3, 31), "Window")
    assert held(Lot.objects.get(material=canvas)) == (units(4), 0)


@pytest.mark.parametrize(
    ("line", "problem"),
    [
        ({"quantity": "some"}, "does not start with a number"),
        ({"quantity": "0 ml"}, "above zero"),
        ({"quantity": "4 each"}, "needs a volume"),
        ({"cost": ""}, "required"),
        ({"cost": "-1"}, "amount"),
        ({"opened_on": "soon"}, "valid date"),
    ],
)
def test_a_line_that_cannot_be_posted_is_named_and_nothing_is(
    owner: User, line: dict[str, str], problem: str
) -> None:
    said = {"material": make_material().pk, "quantity": "350 ml", "cost": "6.40", "place": "Window sill"}
    response = as_user(owner).post(reverse("inventory:opening-stock"), opening(said | line))
    assert response.status_code == 422
    assert problem in text_of(response)
    assert "Line 1" in text_of(response)
    assert "Window sill" in response.content.decode()
    assert not Posting.objects.exists()


def test_opening_stock_of_nothing_is_refused(owner: User) -> None:
    make_material()
    response = as_user(owner).post(reverse("inventory:opening-stock"), opening())
    assert response.status_code == 422
    assert "at least one line" in text_of(response)


def test_water_is_not_offered(owner: User) -> None:
    make_water(name="Tap water")
    make_material(name="Sail Loft White")
    content = as_user(owner).get(reverse("inventory:opening-stock")).content.decode()
    assert "Sail Loft White" in content
    assert "Tap water" not in content


def test_opening_stock_is_for_those_who_see_money(helper: User, bookkeeper: User) -> None:
    paint = make_material()
    data = opening({"material": paint.pk, "quantity": "350 ml", "cost": "6.40"})
    for user in (helper, bookkeeper):
        assert as_user(user).get(reverse("inventory:opening-stock")).status_code == 403
        assert as_user(user).post(reverse("inventory:opening-stock"), data).status_code == 403
    assert not Posting.objects.exists()
    trusted = make_helper(may_see_money=True)
    assert as_user(trusted).post(reverse("inventory:opening-stock"), data).status_code == 302


def test_without_materials_an_owner_adds_them_on_the_way_and_a_helper_is_told_to_ask(owner: User) -> None:
    assert "formset" in as_user(owner).get(reverse("inventory:opening-stock")).context
    helper = make_helper(may_see_money=True)
    assert "No materials yet" in text_of(as_user(helper).get(reverse("inventory:opening-stock")))
