"""A page that was refused comes back merged: what was left alone is up to date, and what was typed is kept."""

import re
from html import unescape
from typing import Any

import pytest
from django import forms
from django.test import Client
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from inventory.ledger.models import Lot
from inventory.materials.models import Material, Supply
from inventory.recipes.models import Recipe
from studio.accounts.models import User
from studio.auditing.merging import Version, merge
from studio.preferences.models import Studio
from tests.edit_pages import somebody, tab, two_tabs
from tests.inventory.browsing import text_of
from tests.small_studio import SmallStudio, small_studio
from tests.two_tabs import Tab

pytestmark = pytest.mark.django_db

Typed = dict[str, Any]
Choices = dict[str, list[Any]]
# What may stand in each field of a page, as the page writes it. None is a box without a tick.
LOT: Choices = {
    "place": ["", "Cool box", "Window sill", "Loft"],
    "supplier_batch": ["", "B7", "B8"],
    "best_before": ["", "2026-03-01", "2027-01-31"],
    "opened_on": ["", "2025-06-01", "2025-06-02"],
    "empty_weight": ["", "34 g", "42 g"],
}
LOT_ON_THE_SETTINGS_SITE: Choices = LOT | {
    "best_before": ["", "01/03/2026", "31/01/2027"],
    "opened_on": ["", "01/06/2025", "02/06/2025"],
}
MATERIAL: Choices = {
    "maker": ["", "Quay & Sons", "Slipway"],
    "kind": ["finish", "medium", "additive"],
    "density": ["", "1.12 g/mL", "1.05 g/mL"],
    "water_share": ["0 %", "10 %"],
    "reorder_level": ["", "500 mL", "750 mL"],
    "is_archived": [None, "on"],
    "notes": ["", "Thick\nand slow", "<b>Thin</b>"],
}
SUPPLIER: Choices = {
    "country": ["GB", "IE"],
    "lead_time_days": ["3", "5"],
    "supplies-0-price": ["17.43", "18.00", "19.50"],
    "supplies-0-is_preferred": [None, "on"],
    "supplies-1-pack_size": ["250 mL", "500 mL"],
    "supplies-1-minimum_packs": ["1", "2"],
}
PAGES: dict[str, Choices] = {
    "inventory:lot-edit": LOT,
    "admin:inventory_lot_change": LOT_ON_THE_SETTINGS_SITE,
    "admin:inventory_material_change": MATERIAL,
    "admin:inventory_supplier_change": SUPPLIER,
}


@pytest.fixture
def studio() -> SmallStudio:
    made = small_studio()
    Supply.objects.create(supplier=made.supplier, material=made.glue, pack_size=250_000, price=9_000_000)
    return made


def read(response: Any) -> str:
    return unescape(text_of(response))


def three_versions(name: str) -> st.SearchStrategy[tuple[Typed, Typed, Typed]]:
    """What stood there, what somebody else made of it, and what was typed; each may have left any field alone."""
    values = st.fixed_dictionaries({field: st.sampled_from(texts) for field, texts in PAGES[name].items()})
    kept = st.fixed_dictionaries({field: st.booleans() for field in PAGES[name]})

    def edited(base: Typed, typed: Typed, keeps: dict[str, bool]) -> Typed:
        return {field: base[field] if keeps[field] else typed[field] for field in base}

    return values.flatmap(
        lambda base: st.tuples(
            st.just(base),
            st.builds(edited, st.just(base), values, kept),
            st.builds(edited, st.just(base), values, kept),
        )
    )


def shown(client: Client, name: str, row: Any) -> Typed:
    """What a page that is opened afresh shows of its fields."""
    fields = tab(client, name, row).fields
    return {field: fields.get(field) for field in PAGES[name]}


@pytest.mark.parametrize("name", PAGES)
def test_saved_again_each_field_is_mine_where_i_changed_it_and_else_theirs(
    studio: SmallStudio, name: str
) -> None:
    rows = {"lot": studio.lot, "material": studio.varnish, "supplier": studio.supplier}
    row = next(row for word, row in rows.items() if word in name)
    first, second = somebody("first"), somebody("second")

    @settings(
        max_examples=settings.get_profile(settings.get_current_profile_name()).max_examples // 10,
        suppress_health_check=[HealthCheck.too_slow],
        phases=[
            Phase.explicit,
            Phase.reuse,
            Phase.generate,
        ],  # a page takes too long to look for a smaller example
    )
    @given(three_versions(name))
    def holds(versions: tuple[Typed, Typed, Typed]) -> None:
        base, theirs, mine = versions
        tab(first, name, row).send(**base)
        assert shown(first, name, row) == base
        page = tab(second, name, row)
        tab(first, name, row).send(**theirs)
        answer = page.send(**mine)
        is_refused = "so nothing was saved" in text_of(answer)
        assert is_refused == (theirs != base)
        if is_refused:
            assert shown(first, name, row) == theirs
            page.back(answer)
            page.send()
        wanted = {field: theirs[field] if mine[field] == base[field] else mine[field] for field in base}
        assert shown(first, name, row) == wanted

    holds()


class ThreeFields(forms.Form):
    """A tick, a number and a text."""

    tick = forms.BooleanField(required=False)
    number = forms.IntegerField(required=False)
    text = forms.CharField(required=False)


three_fields = st.fixed_dictionaries(
    {
        "tick": st.booleans(),
        "number": st.none() | st.integers(0, 2),
        "text": st.sampled_from(["", "a", "b\nc"]),
    }
)


@given(three_fields, three_fields, three_fields)
def test_every_field_is_left_alone_kept_or_disputed(base: Typed, theirs: Typed, mine: Typed) -> None:
    fields = ThreeFields().fields
    before, now = Version.of(fields, base), Version.of(fields, theirs)
    merged = merge(fields, before, now, Version.of(fields, mine).sent)
    for name in fields:
        if mine[name] == base[name]:
            assert merged.sent[name] == now.sent[name]
            assert (name in merged.fresh) == (base[name] != theirs[name])
        else:
            assert name not in merged.sent
            assert (name in merged.disputed) == (theirs[name] not in (base[name], mine[name]))


# What the page says


def test_the_page_of_a_lot_names_what_both_changed_and_what_was_brought_up_to_date(
    studio: SmallStudio,
) -> None:
    first, second = two_tabs("inventory:lot-edit", studio.lot)
    first.send(place="Cool box", supplier_batch="B7", best_before="2026-03-01")
    refused = second.send(place="Window sill", empty_weight="34 g")
    told = read(refused)
    assert "Place: Now stands at “Cool box”; yours is “Window sill”." in told
    assert "Changed on both sides: Place. Yours stands below" in told
    assert "2 fields that you had left alone have been brought up to date: " in told
    assert "Brought up to date: your page showed nothing." in told
    second.back(refused)
    assert {
        name: second.fields[name] for name in ("place", "supplier_batch", "best_before", "empty_weight")
    } == {"place": "Window sill", "supplier_batch": "B7", "best_before": "2026-03-01", "empty_weight": "34 g"}
    second.send(place="Cool box")
    lot = Lot.objects.get(pk=studio.lot.pk)
    assert (lot.place, lot.supplier_batch, lot.empty_weight) == ("Cool box", "B7", 34_000)


def test_a_page_of_which_nothing_else_was_touched_says_that_nothing_is_lost(studio: SmallStudio) -> None:
    first, second = two_tabs("inventory:lot-edit", studio.lot)
    first.send(place="Cool box")
    told = read(second.send(place="Cool box"))
    assert "Save it again, and nothing of these changes is lost." in told
    assert "Now stands at" not in told


def test_choices_ticks_and_days_are_named_as_people_read_them(studio: SmallStudio) -> None:
    first, second = two_tabs("inventory:pour", studio.loose)
    first.send(outcome="failed")
    other = tab(first.client, "inventory:pour", studio.loose)
    refused = second.send(notes="Crawled at the rim")
    assert "Brought up to date: your page showed “Good”." in read(refused)
    second.back(refused)
    other.send(outcome="good", run_off="12 ml", notes="Fine")
    assert "Notes: Now stands at “Fine”; yours is “Crawled at the rim”." in read(second.send())

    settings_page, hers = two_tabs_again(first, second, "admin:inventory_material_change", studio.varnish)
    settings_page.send(is_archived="on", safety_sheet_dated="2025-03-01")
    told = read(hers.send(safety_sheet_dated="2025-04-01"))
    assert "Brought up to date: your page showed “no”." in told
    assert "Now stands at “1 Mar 2025”; yours is “1 Apr 2025”." in told


def two_tabs_again(first: Tab, second: Tab, name: str, row: Any) -> tuple[Tab, Tab]:
    return tab(first.client, name, row), tab(second.client, name, row)


def test_what_is_changed_while_the_refused_page_is_looked_over_is_merged_as_well(studio: SmallStudio) -> None:
    first, second = two_tabs("inventory:lot-edit", studio.lot)
    first.send(supplier_batch="B7")
    second.back(second.send(place="Loft"))
    tab(first.client, "inventory:lot-edit", studio.lot).send(supplier_batch="B8", empty_weight="42 g")
    second.back(second.send())
    second.send()
    lot = Lot.objects.get(pk=studio.lot.pk)
    assert (lot.place, lot.supplier_batch, lot.empty_weight) == ("Loft", "B8", 42_000)


def test_a_wrong_entry_on_a_settings_page_is_merged_with_what_was_changed(studio: SmallStudio) -> None:
    first, second = two_tabs("admin:inventory_material_change", studio.varnish)
    first.send(maker="Slipway")
    refused = second.send(density="heavy", notes="Thin")
    second.back(refused)
    assert (second.fields["maker"], second.fields["density"]) == ("Slipway", "heavy")
    second.send(density="")
    varnish = Material.objects.get(pk=studio.varnish.pk)
    assert (varnish.maker, varnish.density, varnish.notes) == ("Slipway", None, "Thin")


def test_figures_that_were_left_alone_follow_another_way_of_writing(studio: SmallStudio) -> None:
    first, second = two_tabs("admin:studio_studio_change", Studio.current())
    first.send(locale="de_DE", reserve="12 %")
    refused = second.send(varnish_after_days="21")
    second.back(refused)
    assert (second.fields["locale"], second.fields["wage_per_hour"]) == ("de_DE", "13,37")
    second.send()
    found = Studio.current()
    assert (found.locale, found.wage_per_hour, found.reserve, found.varnish_after_days) == (
        "de_DE", 13_370_000, 120_000, 21,
    )  # fmt: skip


# Rows of a settings page


def test_rows_that_came_or_went_do_so_on_the_refused_page(studio: SmallStudio) -> None:
    first, second = two_tabs("admin:inventory_supplier_change", studio.supplier)
    new = {"supplies-2-material": studio.paint.pk, "supplies-2-pack_size": "1 l", "supplies-2-price": "5"}
    first.send(**{"supplies-1-DELETE": "on"}, **new)
    refused = second.send(name="Quayside Paints")
    assert "Rows that were added or deleted meanwhile are so on your page too." in read(refused)
    second.back(refused)
    assert second.fields["supplies-INITIAL_FORMS"] == "2"
    assert second.fields["supplies-1-price"] == "5.00"
    second.send(**{"supplies-1-price": "6.00"})
    prices = dict(Supply.objects.values_list("material__name", "price"))
    assert prices == {"Gloss varnish": 17_430_000, "Net Loft White": 6_000_000}


def test_a_row_that_was_typed_into_and_is_gone_is_told_to_come_back(studio: SmallStudio) -> None:
    first, second = two_tabs("admin:inventory_supplier_change", studio.supplier)
    first.send(**{"supplies-1-DELETE": "on"})
    told = read(second.send(**{"supplies-1-price": "8.00"}))
    assert (
        "“Quayside Colours, Loft glue” is gone, but you had typed into it: it stands below as a new row"
        in told
    )


def test_a_page_that_does_not_say_what_it_showed_keeps_its_rows(studio: SmallStudio) -> None:
    first, second = two_tabs("admin:inventory_supplier_change", studio.supplier)
    first.send(**{"supplies-1-DELETE": "on"})
    second.back(second.send(**{"opened-rows": "supplies-x-0"}))
    second.send()
    assert Supply.objects.filter(supplier=studio.supplier).count() == 2


def test_a_row_that_is_to_be_deleted_here_and_was_changed_there_is_named(studio: SmallStudio) -> None:
    first, second = two_tabs("admin:inventory_supplier_change", studio.supplier)
    first.send(**{"supplies-1-price": "8.00"})
    refused = second.send(**{"supplies-1-DELETE": "on"})
    assert "was changed meanwhile, and you ticked it to be deleted. Untick it to keep it." in read(refused)
    second.back(refused)
    assert (second.fields["supplies-1-DELETE"], second.fields["supplies-1-price"]) == ("on", "8.00")


def test_a_field_of_a_row_that_both_changed_is_named_beside_the_field(studio: SmallStudio) -> None:
    first, second = two_tabs("admin:inventory_supplier_change", studio.supplier)
    first.send(**{"supplies-0-price": "18.00", "supplies-1-price": "8.00"})
    refused = second.send(**{"supplies-0-price": "19.00"})
    told = read(refused)
    assert "Now stands at “18.00”; yours is “19.00”." in told
    assert re.search(r"Changed on both sides: Price of a pack \(“[^”]*Gloss varnish”\)\.", told)
    assert re.search(r"brought up to date: Price of a pack \(“[^”]*Loft glue”\)\.", told)


# Recipes: parts make sense together only


def parts_of(recipe: Recipe) -> list[int]:
    latest = recipe.versions.order_by("-number").first()
    assert latest is not None
    return [part.parts for part in latest.parts.order_by("line")]


@pytest.mark.parametrize("language", ["en-gb", "de"])
def test_parts_that_were_left_alone_are_those_of_now(studio: SmallStudio, language: str) -> None:
    first, second = two_tabs("inventory:recipe-version", studio.recipe)
    User.objects.filter(username="first").update(language=language)
    first.send(**{"parts-0-parts": "3", "basis": "mass"})
    again = tab(second.client, "inventory:recipe-version", studio.recipe)
    tab(first.client, "inventory:recipe-version", studio.recipe).send(**{"parts-0-parts": "4"})
    refused = again.send(notes="For big canvases")
    assert "brought up to date: Parts." in read(refused)
    again.back(refused)
    assert (again.fields["parts-0-parts"], again.fields["notes"]) == ("4", "For big canvases")
    again.send(**{"parts-1-parts": "2"})
    assert parts_of(studio.recipe)[:2] == [4_000, 2_000]


def test_parts_that_both_changed_are_named_whole(studio: SmallStudio) -> None:
    first, second = two_tabs("inventory:recipe-version", studio.recipe)
    first.send(**{"parts-0-parts": "3"})
    refused = second.send(**{"parts-0-parts": "5"})
    told = read(refused)
    assert "Now stands at “3 Net Loft White, 1 " in told
    assert "; yours is “5 Net Loft White, 1 " in told
    assert "Changed on both sides: Parts." in told
    second.back(refused)
    assert second.fields["parts-0-parts"] == "5"
    second.send()
    assert parts_of(studio.recipe)[0] == 5_000
