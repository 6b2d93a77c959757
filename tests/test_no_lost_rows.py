"""No update is lost among the rows within a settings page, nor by deleting what was changed meanwhile."""

import pytest
from django.db import models
from django.urls import reverse

from inventory.materials.models import Supply
from tests.edit_pages import DELETED, somebody, two_tabs
from tests.inventory.browsing import text_of
from tests.small_studio import SmallStudio, small_studio
from tests.two_tabs import Tab

pytestmark = pytest.mark.django_db


@pytest.fixture
def studio() -> SmallStudio:
    return small_studio()


def rows_of_supplier(studio: SmallStudio) -> tuple[Tab, Tab]:
    Supply.objects.create(supplier=studio.supplier, material=studio.glue, pack_size=250_000, price=9_000_000)
    return two_tabs("admin:inventory_supplier_change", studio.supplier)


def prices(studio: SmallStudio) -> dict[str, int]:
    return dict(Supply.objects.filter(supplier=studio.supplier).values_list("material__name", "price"))


def test_a_row_that_somebody_added_meanwhile_is_told_and_kept(studio: SmallStudio) -> None:
    first, second = rows_of_supplier(studio)
    first.send(
        **{"supplies-2-material": studio.paint.pk, "supplies-2-pack_size": "1 l", "supplies-2-price": "5"}
    )
    refused = second.send(**{"supplies-0-price": "19.00"})
    assert "Supply: Quayside Colours, Net Loft White was added by first," in text_of(refused)
    second.back(refused)
    second.send()
    assert prices(studio) == {
        "Gloss varnish": 19_000_000,
        "Loft glue": 9_000_000,
        "Net Loft White": 5_000_000,
    }


def test_a_row_that_somebody_deleted_meanwhile_comes_back_as_a_new_one(studio: SmallStudio) -> None:
    first, second = rows_of_supplier(studio)
    first.send(**{"supplies-0-DELETE": "on"})
    assert prices(studio) == {"Loft glue": 9_000_000}
    refused = second.send(**{"supplies-0-price": "19.00", "supplies-1-price": "8.00"})
    assert "Supply: Quayside Colours, Gloss varnish was deleted by first," in text_of(refused)
    assert prices(studio) == {"Loft glue": 9_000_000}
    second.back(refused)
    typed = {
        second.fields[f"supplies-{row}-price"] for row in range(int(second.fields["supplies-TOTAL_FORMS"]))
    }
    assert {"19.00", "8.00"} <= typed
    second.send()
    assert prices(studio) == {"Gloss varnish": 19_000_000, "Loft glue": 8_000_000}


def test_a_row_that_two_people_delete_is_gone(studio: SmallStudio) -> None:
    first, second = rows_of_supplier(studio)
    first.send(**{"supplies-0-DELETE": "on"})
    refused = second.send(**{"supplies-0-DELETE": "on", "supplies-1-price": "8.00"})
    second.back(refused)
    second.send()
    assert prices(studio) == {"Loft glue": 8_000_000}


def test_another_material_in_a_row_is_told_by_its_name(studio: SmallStudio) -> None:
    first, second = rows_of_supplier(studio)
    first.send(**{"supplies-0-material": studio.paint.pk})
    told = text_of(second.send(**{"supplies-0-price": "19.00"}))
    assert ": changed from “Gloss varnish” to “Net Loft White” by first," in told


# Deleted on the settings pages


@pytest.mark.parametrize("model", DELETED, ids=lambda model: model.__name__)
def test_what_was_changed_since_the_question_is_not_deleted(model: type[models.Model]) -> None:
    row = DELETED[model]()
    address = reverse(f"admin:{model._meta.app_label}_{model._meta.model_name}_delete", args=[row.pk])
    asked = Tab(somebody("second"), address, address)
    row.name = "Flood"
    row.save()
    refused = asked.send()
    assert ": changed from “Ebb" in text_of(refused)
    assert model._base_manager.filter(pk=row.pk).exists()
    asked.back(refused)
    asked.send()
    assert not model._base_manager.filter(pk=row.pk).exists()
