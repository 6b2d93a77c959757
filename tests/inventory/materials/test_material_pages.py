"""Pages of materials: typed in plain units, kept to the thousandth, for the owner to change and for all to read."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from inventory.materials.models import Material, Supply
from studio.preferences.models import Studio
from tests.inventory.browsing import HOSTILE, as_user, queries, text_of
from tests.making import (
    make_helper,
    make_lot,
    make_material,
    make_owner,
    make_supplier,
    make_surface,
    money,
    units,
)
from tests.two_tabs import Tab

pytestmark = pytest.mark.django_db
NEW = {"name": "Sail Loft White", "kind": "paint", "measure": "volume"}


@pytest.fixture
def owner() -> Client:
    return as_user(make_owner())


def add(client: Client, **typed: Any) -> Any:
    page = reverse("inventory:material-new")
    return Tab(client, page, page).send(**NEW | typed)


def edit(client: Client, material: Material) -> Tab:
    page = reverse("inventory:material-edit", args=[material.pk])
    return Tab(client, page, page)


def wrong_fields(response: Any) -> set[str]:
    assert response.status_code == 422
    return {name for name in response.context["form"].errors if name != "__all__"}


def test_a_material_is_typed_in_plain_units(owner: Client) -> None:
    response = add(
        owner,
        density="1.12 g/mL",
        water_share="2.55 %",
        reorder_level="1/2 l",
        safety_stock="112 g",
        keeps_days="90",
        signal_word="Warning",
        hazards="H317 May cause an allergic skin reaction.",
        safety_sheet_dated="2025-03-01",
        colour="#1f5f6b",
    )
    made = Material.objects.get()
    assert response.redirect_chain == [(reverse("inventory:material", args=[made.pk]), 302)]
    assert (made.density, made.water_share, made.reorder_level) == (1_120_000, 25_500, units(500))
    assert made.safety_stock == units(100)  # 112 g at 1.12 g/mL
    assert (made.keeps_days, made.signal_word, made.colour) == (90, "Warning", "#1f5f6b")
    assert (made.hazards, str(made.safety_sheet_dated)) == (
        "H317 May cause an allergic skin reaction.", "2025-03-01",
    )  # fmt: skip


def test_a_surface_is_typed_with_its_size_height_first(owner: Client) -> None:
    add(owner, kind="surface", measure="count", size="30 x 40 x 1.8 cm")
    made = Material.objects.get()
    assert (made.height, made.width, made.depth, made.is_round) == (30_000, 40_000, 1_800, False)
    assert made.sides_painted
    assert edit(owner, made).fields["size"] == "30 x 40 x 1.8 cm"


def test_a_free_material_has_a_set_cost(owner: Client) -> None:
    add(owner, is_free="on", free_rate="0.20", water_share="100 %")
    made = Material.objects.get()
    assert (made.is_free, made.free_rate, made.water_share) == (True, money("0.20"), 1_000_000)


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"kind": "surface", "measure": "count"}, "size"),
        ({"kind": "surface", "size": "30 x 30 x 2 cm"}, "measure"),
        ({"kind": "surface", "measure": "count", "size": "30 x 30 cm"}, "size"),
        ({"density": "heavy"}, "density"),
        ({"density": "0"}, "density"),
        ({"density": "0.01"}, "density"),
        ({"reorder_level": "3 each"}, "reorder_level"),
        ({"water_share": "140 %"}, "water_share"),
        ({"free_rate": "cheap"}, "free_rate"),
        ({"size": "big"}, "size"),
        ({"colour": "blue"}, "colour"),
        ({"keeps_days": "0"}, "keeps_days"),
        ({"name": "  "}, "name"),
        ({"kind": ""}, "kind"),
        ({"measure": ""}, "measure"),
    ],
)
def test_what_makes_no_sense_comes_back_by_its_field(
    owner: Client, typed: dict[str, str], field: str
) -> None:
    response = add(owner, **typed)
    assert wrong_fields(response) == {field}
    assert not Material.objects.exists()


def test_everything_that_is_wrong_is_said_at_once(owner: Client) -> None:
    response = add(owner, kind="surface", density="0.01", keeps_days="5")
    assert wrong_fields(response) == {"size", "measure", "density"}


@pytest.mark.parametrize("locale", ["en_GB", "de_DE"])
def test_saving_a_page_unchanged_changes_nothing(owner: Client, locale: str) -> None:
    Studio.objects.update(locale=locale)
    surface = make_surface(reorder_level=units(5), keeps_days=9)
    paint = make_material(density=1_123_456, water_share=12_300, safety_stock=units("0.125"))
    make_lot(material=paint)
    for row in (surface, paint):
        before = Material.objects.filter(pk=row.pk).values().get()
        assert edit(owner, row).send().status_code == 200
        assert Material.objects.filter(pk=row.pk).values().get() == before


def test_the_measure_cannot_be_chosen_once_the_material_is_in_use(owner: Client) -> None:
    lot = make_lot()
    tab = edit(owner, lot.material)
    assert not {"measure", "is_free"} & tab.fields.keys()
    tab.send(measure="mass", is_free="on", name="Renamed")
    lot.material.refresh_from_db()
    assert (lot.material.name, lot.material.measure, lot.material.is_free) == ("Renamed", "volume", False)


def test_a_material_is_archived_brought_back_and_deleted(owner: Client) -> None:
    row = make_material()
    archive = reverse("inventory:material-archive", args=[row.pk])
    for word, archived in (("yes", True), ("yes", True), ("no", False)):
        owner.post(archive, {"archived": word})
        row.refresh_from_db()
        assert row.is_archived == archived
    page = reverse("inventory:material-delete", args=[row.pk])
    Tab(owner, page, page).send()
    assert not Material.objects.exists()


def test_a_material_in_use_is_not_deleted_and_its_page_offers_no_way(owner: Client) -> None:
    lot, unused = make_lot(), make_material()
    for material, is_offered in ((lot.material, False), (unused, True)):
        answer: Any = owner.get(reverse("inventory:material-edit", args=[material.pk]))
        assert bool(answer.context["delete_url"]) == is_offered
    page = reverse("inventory:material-delete", args=[lot.material_id])
    assert Tab(owner, page, page).send().status_code == 422
    assert Material.objects.filter(pk=lot.material_id).exists()


# The list


def names(response: Any) -> list[str]:
    return [row.name for row in response.context["table"].rows]


def test_the_list_is_searched_by_name_and_maker_and_filtered_by_kind_and_state(owner: Client) -> None:
    make_material(name="Ebb grey", maker="Saltmarsh Paints")
    make_material(name="Loft glue", kind="medium", maker="Ebb & Flow")
    make_material(name="Old teal", is_archived=True)
    page = reverse("inventory:materials")
    assert names(owner.get(page)) == ["Ebb grey", "Loft glue"]
    assert names(owner.get(page, {"search": "ebb"})) == ["Ebb grey", "Loft glue"]
    assert names(owner.get(page, {"search": "ebb", "kind": "medium"})) == ["Loft glue"]
    assert names(owner.get(page, {"show": "archived"})) == ["Old teal"]
    assert names(owner.get(page, {"show": "all"})) == ["Ebb grey", "Loft glue", "Old teal"]
    assert names(owner.get(page, {"sort": "-name", "show": "all"})) == ["Old teal", "Loft glue", "Ebb grey"]
    assert names(owner.get(page, {"kind": "ghost", "show": "x", "page": "-9"})) == ["Ebb grey", "Loft glue"]


def test_the_list_asks_as_many_queries_for_many_materials_as_for_few(owner: Client) -> None:
    def count() -> int:
        supplier, material = make_supplier(), make_material()
        Supply.objects.create(supplier=supplier, material=material, pack_size=units(500), price=money(6))
        return queries(owner, reverse("inventory:materials"))

    count()
    few = count()
    assert {count() for _turn in range(5)} == {few}


def test_an_empty_list_leads_to_the_first_material(owner: Client) -> None:
    new = reverse("inventory:material-new")
    page = reverse("inventory:materials")
    assert f'href="{new}"' in owner.get(page).content.decode()
    assert new not in as_user(make_helper()).get(page).content.decode()


def test_a_hostile_name_is_written_as_text(owner: Client) -> None:
    row = make_material(name=HOSTILE, maker=HOSTILE, hazards=HOSTILE, notes=HOSTILE)
    names = ("inventory:material", "inventory:material-edit", "inventory:material-delete")
    for page in [reverse("inventory:materials"), *(reverse(name, args=[row.pk]) for name in names)]:
        assert HOSTILE not in owner.get(page).content.decode()


def test_a_helper_reads_and_finds_no_way_to_change(owner: Client) -> None:
    row = make_material()
    helper = as_user(make_helper())
    page = reverse("inventory:material", args=[row.pk])
    edit_page = reverse("inventory:material-edit", args=[row.pk])
    assert edit_page in owner.get(page).content.decode()
    assert edit_page not in helper.get(page).content.decode()
    assert helper.post(edit_page, NEW).status_code == 403
    assert row.name in text_of(helper.get(reverse("inventory:materials")))
