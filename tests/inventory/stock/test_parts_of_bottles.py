"""A stocktake of bottles by eye, and the weight only where one can be used."""

import pytest

from inventory.ledger.models import Lot
from inventory.materials.models import Material, Supply
from studio.accounts.models import User
from tests.inventory.browsing import as_user
from tests.inventory.stock.test_stocktake_pages import counted, lot_in, post, shelf_of
from tests.making import held, make_material, make_opening, make_supplier, money, units

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    "typed", ["1/2 bottle", "half a bottle", "½ Flasche", "eine halbe Flasche", "half full"]
)
def test_a_part_of_a_bottle_is_that_part_of_what_a_full_one_holds(owner: User, typed: str) -> None:
    lot = lot_in("Window", quantity=units(240))
    post(as_user(owner), shelf_of("Window"), counted((lot, typed)))
    assert held(lot)[0] == units(120)


def test_a_bottle_whose_size_is_not_recorded_is_counted_by_an_amount_until_it_is_sold_in_one_size(
    owner: User,
) -> None:
    paint = make_material()
    make_opening(lines=[(paint, units(200), money(4))])
    Lot.objects.update(place="Window")
    typed = counted((Lot.objects.get(), "1/2 bottle"))
    page = as_user(owner).post(shelf_of("Window"), typed)
    assert page.status_code == 422
    assert "120 mL" in page.context["sheet"].rows[0].errors["found"][0].replace("\xa0", " ")
    Supply.objects.create(supplier=make_supplier(), material=paint, pack_size=units(250), price=money(5))
    assert as_user(owner).post(shelf_of("Window"), typed).context["sheet"].counts[0].counted == units(125)


def test_a_weight_is_asked_for_only_where_one_can_be_used(owner: User) -> None:
    lot = lot_in("Window", material=make_material(density=None))
    sheet = as_user(owner).get(shelf_of("Window")).context["sheet"]
    assert (sheet.weighs, sheet.lacks_density) == (False, True)
    Material.objects.filter(pk=lot.material_id).update(density=1_120_000)
    sheet = as_user(owner).get(shelf_of("Window")).context["sheet"]
    assert (sheet.weighs, sheet.lacks_density) == (True, False)
