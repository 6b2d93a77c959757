"""Materials, suppliers and packs: what cannot be is refused by the field, whoever asks for it."""

from typing import Any, TypeVar

import pytest
from django.db import IntegrityError, connection, transaction
from django.db.models import Model

from inventory.alerts.models import Alert
from inventory.materials.actions import save_material, save_pack, save_supplier
from inventory.materials.models import Material, Supplier, Supply
from studio.auditing.edit_conflicts import EditConflict
from studio.auditing.queries import last_change_number
from studio.auditing.reference_rows import InUse, delete_row, set_columns
from studio.errors import InputError
from studio.submission import Submission
from studio.values.sizes import Size
from tests.days import AT, TODAY
from tests.making import (
    make_lot,
    make_material,
    make_owner,
    make_recipe,
    make_supplier,
    make_water,
    money,
    units,
)

pytestmark = pytest.mark.django_db

Row = TypeVar("Row", bound=Model)
GTIN = "4006381333931"  # a GTIN-13 with the right check digit (GS1 General Specifications, 7.9)


@pytest.fixture
def submission() -> Submission:
    return Submission(by=make_owner(), at=AT, on=TODAY)


def material(row: Material | None = None, *, size: Size | None = None, **columns: Any) -> Material:
    """A material that is not saved yet, or one with other values that are not saved yet."""
    known = {"name": "Lamp black", "kind": "paint", "measure": "volume"} | columns
    if size is not None:
        known |= {"height": size.height, "width": size.width, "depth": size.depth, "is_round": size.round}
    return changed(row or Material(), **known)


def pack(row: Supply | None = None, **columns: Any) -> Supply:
    known: dict[str, Any] = {"pack_size": units(500), "price": money(9)}
    if row is None:
        known |= {"supplier": make_supplier(), "material": make_material()}
    return changed(row or Supply(), **(known | columns))


def changed(row: Row, **columns: Any) -> Row:
    for name, value in columns.items():
        setattr(row, name, value)
    return row


# What cannot be


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"kind": "surface", "measure": "count"}, "size"),
        ({"kind": "surface", "size": Size(30_000, 30_000, 1_800)}, "measure"),
        ({"kind": "surface", "measure": "count", "size": Size(30_000, 30_000)}, "size"),
        ({"density": 99_999}, "density"),
        ({"density": 25_000_001}, "density"),
        ({"water_share": -1}, "water_share"),
        ({"water_share": 1_000_001}, "water_share"),
        ({"reorder_level": -1}, "reorder_level"),
        ({"safety_stock": -1}, "safety_stock"),
        ({"free_rate": -1}, "free_rate"),
        ({"keeps_days": 0}, "keeps_days"),
    ],
)
def test_a_material_that_cannot_be_is_refused_by_its_field(
    submission: Submission, changes: dict[str, Any], field: str
) -> None:
    with pytest.raises(InputError) as refused:
        save_material(material(**changes), submission=submission)
    assert refused.value.field == field


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"currency": "XXQ"}, "currency"),
        ({"currency": "gbp"}, "currency"),
        ({"lead_time_days": -1}, "lead_time_days"),
        ({"lead_time_variation_days": -1}, "lead_time_variation_days"),
    ],
)
def test_a_supplier_that_cannot_be_is_refused_by_its_field(
    submission: Submission, changes: dict[str, Any], field: str
) -> None:
    with pytest.raises(InputError) as refused:
        save_supplier(
            Supplier(**({"name": "Mole Stores", "currency": "GBP"} | changes)), submission=submission
        )
    assert refused.value.field == field


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"pack_size": 0}, "pack_size"),
        ({"price": -1}, "price"),
        ({"minimum_packs": 0}, "minimum_packs"),
        ({"barcode": "4006381333932"}, "barcode"),
        ({"barcode": "40063813339"}, "barcode"),
    ],
)
def test_a_pack_that_cannot_be_is_refused_by_its_field(
    submission: Submission, changes: dict[str, Any], field: str
) -> None:
    with pytest.raises(InputError) as refused:
        save_pack(pack(**changes), submission=submission)
    assert refused.value.field == field
    with pytest.raises(InputError) as refused:
        save_pack(pack(material=make_water()), submission=submission)
    assert refused.value.field == "material"


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"name": ""}, "name"),
        ({"name": " "}, "name"),
        ({"name": "x" * 121}, "name"),
        ({"kind": "ghost"}, "kind"),
        ({"measure": "time"}, "measure"),
        ({"colour": "blue"}, "colour"),
        ({"signal_word": "Careful"}, "signal_word"),
        ({"keeps_days": 40_000}, "keeps_days"),
    ],
)
def test_what_a_column_cannot_hold_is_refused_before_it_is_written(
    submission: Submission, changes: dict[str, Any], field: str
) -> None:
    with pytest.raises(InputError) as refused:
        save_material(material(**changes), submission=submission)
    assert refused.value.field == field
    assert not Material.objects.exists()


# Materials


def test_a_material_is_saved_with_its_size_and_changed(submission: Submission) -> None:
    board = material(
        name="Round board", kind="surface", measure="count", size=Size(20_000, 20_000, 1_500, round=True)
    )
    made = save_material(board, submission=submission)
    made.refresh_from_db()
    assert (made.height, made.width, made.depth, made.is_round) == (20_000, 20_000, 1_500, True)
    tray = material(made, name="Tray", kind="packaging", measure="count", height=None, width=None)
    save_material(tray, submission=submission)
    made.refresh_from_db()
    assert (made.name, made.height) == ("Tray", None)


def test_a_name_is_taken_once(submission: Submission) -> None:
    save_material(material(), submission=submission)
    with pytest.raises(InputError) as refused:
        save_material(material(kind="medium"), submission=submission)
    assert refused.value.field == "name"
    save_supplier(Supplier(name="Mole Stores", currency="GBP"), submission=submission)
    with pytest.raises(InputError) as refused:
        save_supplier(Supplier(name="Mole Stores", currency="EUR"), submission=submission)
    assert refused.value.field == "name"


def test_what_a_material_is_measured_in_stays_once_it_is_in_use(submission: Submission) -> None:
    row = save_material(material(), submission=submission)
    row = save_material(material(row, measure="mass", is_free=True), submission=submission)
    assert (row.measure, row.is_free) == ("mass", True)
    row = save_material(material(row, is_free=False), submission=submission)
    make_lot(material=row)
    for changes, field in (({"measure": "mass"}, "measure"), ({"is_free": True}, "is_free")):
        with pytest.raises(InputError) as refused:
            save_material(material(row, **changes), submission=submission)
        assert refused.value.field == field
    row.refresh_from_db()
    assert (row.measure, row.is_free) == ("volume", False)


def test_another_density_reaches_what_is_made_of_the_material(submission: Submission) -> None:
    paint, glue = make_material(density=1_200_000), make_material(density=1_000_000)
    made = make_recipe(parts=[(paint, 1), (glue, 1)]).recipe.makes
    known: dict[str, Any] = {"name": paint.name, "kind": paint.kind, "measure": paint.measure}
    save_material(material(paint, **known, density=1_300_000, water_share=100_000), submission=submission)
    made.refresh_from_db()
    assert (made.density, made.water_share) == (1_150_000, 50_000)


def test_an_own_reorder_level_raises_its_alert_at_once_and_clears_it(
    submission: Submission, django_capture_on_commit_callbacks: Any
) -> None:
    paint = make_lot(quantity=units(100)).material
    known: dict[str, Any] = {"name": paint.name, "density": paint.density}
    for level, is_open in ((units(500), True), (units(50), False)):
        with django_capture_on_commit_callbacks(execute=True):
            save_material(material(paint, **known, reorder_level=level), submission=submission)
        assert Alert.objects.filter(material=paint, cleared_at=None).exists() == is_open


def test_an_archived_material_keeps_everything_and_comes_back(submission: Submission) -> None:
    lot = make_lot()
    assert set_columns(lot.material, submission=submission, is_archived=True).is_archived
    assert not set_columns(lot.material, submission=submission, is_archived=False).is_archived
    assert Material.objects.get(pk=lot.material_id).lots.get() == lot


def test_only_a_material_that_was_never_used_is_deleted(submission: Submission) -> None:
    used, unused, sold = (
        make_lot().material,
        make_material(),
        save_pack(pack(), submission=submission).material,
    )
    Alert.objects.create(kind="out", cause=str(unused.pk), material=unused, since=TODAY, raised_at=AT)
    for row in (used, sold):
        with pytest.raises(InUse):
            delete_row(row, submission=submission)
    delete_row(unused, submission=submission)
    assert set(Material.objects.all()) == {used, sold}


def test_nothing_is_saved_archived_or_deleted_that_has_changed_since(submission: Submission) -> None:
    row = save_material(material(), submission=submission)
    seen = last_change_number(Material, row.pk)
    save_material(material(row, notes="Thick"), submission=submission)
    with pytest.raises(EditConflict):
        save_material(material(row, notes="Thin"), submission=submission, seen=seen)
    with pytest.raises(EditConflict) as conflict:
        delete_row(row, submission=submission, seen=seen)
    assert Material.objects.get().notes == "Thick"
    delete_row(row, submission=submission, seen=conflict.value.seen)
    assert not Material.objects.exists()


# Suppliers and packs


def test_a_supplier_with_packs_stays_and_one_without_goes(submission: Submission) -> None:
    row = save_pack(pack(barcode=GTIN, minimum_packs=3, is_preferred=True), submission=submission)
    row.refresh_from_db()
    assert (row.barcode, row.minimum_packs, row.is_preferred) == (GTIN, 3, True)
    with pytest.raises(InUse):
        delete_row(row.supplier, submission=submission)
    delete_row(row, submission=submission)
    delete_row(row.supplier, submission=submission)
    assert not Supplier.objects.exists()


def test_a_supplier_sells_one_size_of_a_material_once(submission: Submission) -> None:
    first = save_pack(pack(), submission=submission)
    same: dict[str, Any] = {"supplier": first.supplier, "material": first.material}
    with pytest.raises(InputError) as refused:
        save_pack(pack(**same), submission=submission)
    assert refused.value.field == "pack_size"
    save_pack(pack(first, price=money(8)), submission=submission)
    save_pack(pack(**same, pack_size=units(250)), submission=submission)
    assert sorted(Supply.objects.values_list("pack_size", "price")) == [
        (units(250), money(9)), (units(500), money(8)),
    ]  # fmt: skip


def test_the_database_itself_takes_no_order_of_less_than_a_pack(submission: Submission) -> None:
    row = save_pack(pack(), submission=submission)
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("UPDATE inventory_supply SET minimum_packs = 0 WHERE id = %s", [row.pk])
