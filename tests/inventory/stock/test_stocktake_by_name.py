"""A stocktake that begins with the name of a material."""

import pytest
from django.test import Client
from django.urls import reverse

from tests.making import make_delivery, make_material, money, units

pytestmark = pytest.mark.django_db


def test_a_material_is_found_by_its_name_and_all_its_lots_are_counted(signed: Client) -> None:
    black, other = make_material(name="Black paint"), make_material(name="Blackpaint thinner")
    make_delivery(
        lines=[(black, units(100), money(1)), (black, units(50), money(1)), (other, units(9), money(1))]
    )
    page = signed.get(reverse("inventory:stocktake-new"), {"code": " black  PAINT "})
    assert [row.lot.material for row in page.context["sheet"].rows] == [black, black]


def test_a_name_that_nothing_in_stock_has_comes_back_as_it_was_typed(signed: Client) -> None:
    make_material(name="Black paint")
    page = signed.get(reverse("inventory:stocktake-new"), {"code": "Black paint"})
    assert (page.status_code, page.context["unknown"]) == (422, "Black paint")


def test_words_of_a_name_find_every_material_that_has_them(signed: Client) -> None:
    black, blue, other = (make_material(name=name) for name in ("Gull Black", "Gull Blue", "Skerry Blue"))
    make_delivery(lines=[(each, units(100), money(1)) for each in (black, blue, other)])
    for typed, found in (("gull", {black, blue}), ("blu GULL", {blue}), ("Gull Black", {black})):
        page = signed.get(reverse("inventory:stocktake-new"), {"code": typed})
        assert {row.lot.material for row in page.context["sheet"].rows} == found, typed
