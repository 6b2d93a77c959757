"""Every constraint on the ledger's tables, tried from behind Python's back."""

from collections.abc import Callable
from contextlib import suppress

import pytest
from django.db import IntegrityError, connection, models, transaction

from inventory.ledger.models import Books, Entry, LotBalance, Posting
from tests import making
from tests.days import TODAY
from tests.inventory.forging import SQLITE, Scene, balance, forge, header, line, make_scene, overdraw, run
from tests.inventory.invariants import assert_books_hold, everything, unchanged
from tests.making import units

pytestmark = pytest.mark.django_db

TOO_MUCH = 9 * 10**15 + 1


@pytest.fixture
def scene() -> Scene:
    return make_scene()


def two(scene: Scene, **facts: int) -> list[Entry]:
    """Two lines of one move; the taker with these facts, the giver with their opposite."""
    given = {name: -value for name, value in facts.items()}
    return [line(scene, 1, **given), line(scene, 2, **facts)]


def same_line_twice(scene: Scene) -> None:
    Entry.objects.bulk_create([line(scene, 1), line(scene, 1)])


def same_key_twice(scene: Scene) -> None:
    forge(scene, key="form-1")
    forge(scene, key="form-1", hash="e" * 64)


# Constraint → an attempt, and what it is known by when it is refused (SQLite names a unique index by columns).
CONSTRAINTS: dict[str, tuple[Callable[[Scene], object], str]] = {
    "entry_line_once": (
        same_line_twice,
        r"entry_line_once|entry.posting_id, inventory_entry.line|with this posting_id, line",
    ),
    "entry_place_named": (lambda s: forge(s, [line(s, 1), line(s, 2, place="sold")]), "entry_place_named"),
    "entry_moves_something": (lambda s: forge(s, two(s, quantity=0, money=0)), "entry_moves_something"),
    "entry_line_positive": (lambda s: forge(s, [line(s, 0), line(s, 1)]), "entry_line_positive"),
    "entry_quantity_whole": (lambda s: forge(s, two(s, quantity=TOO_MUCH)), "entry_quantity_whole"),
    "entry_money_whole": (lambda s: forge(s, two(s, money=TOO_MUCH)), "entry_money_whole"),
    "posting_kind_known": (lambda s: forge(s, kind="present"), "posting_kind_known"),
    "posting_key_once": (
        same_key_twice,
        r"posting_key_once|posting.recorded_by_id, inventory_posting.key|with this recorded_by_id, key",
    ),
    "posting_reversal_names_its_target": (
        lambda s: forge(s, kind="reversal"),
        "posting_reversal_names_its_target",
    ),
    "posting_correction_names_its_target": (
        lambda s: forge(s, kind="correction"),
        "posting_correction_names_its_target",
    ),
    "posting_number_whole": (
        lambda s: forge(s, number=TOO_MUCH),
        "posting_number_whole|takes the next number",
    ),
    "lotbalance_never_negative": (
        lambda s: forge(s, overdraw(s, balance(s).quantity + 1, balance(s).money + 1)),
        "never_negative|less than nothing",
    ),
    "lotbalance_empty_lot_has_no_cost": (
        lambda s: forge(s, overdraw(s, balance(s).quantity, 0)),
        "empty_lot_has_no_cost|an empty one holds no cost",
    ),
    "lotbalance_quantity_whole": (
        lambda s: forge(s, two(s, quantity=TOO_MUCH - 1)),
        "lotbalance_quantity_whole|no lot holds",
    ),
    "lotbalance_money_whole": (
        lambda s: forge(s, two(s, money=TOO_MUCH - 1)),
        "lotbalance_money_whole|no lot holds",
    ),
    "books_only_one": (lambda s: Books.objects.bulk_create([Books(pk=2)]), "books_only_one"),
    "books_costing_method_known": (
        lambda s: Books.objects.update(costing_method="lifo"),
        "books_costing_method_known|chosen before the first posting",
    ),
}


def test_every_constraint_of_the_ledger_is_tried() -> None:
    tables: list[type[models.Model]] = [Entry, Posting, LotBalance, Books]
    assert {each.name for table in tables for each in table._meta.constraints} == set(CONSTRAINTS)


@pytest.mark.parametrize("name", CONSTRAINTS)
def test_the_database_refuses(name: str, scene: Scene) -> None:
    go, says = CONSTRAINTS[name]
    before = everything()
    with pytest.raises(IntegrityError, match=says), transaction.atomic():
        go(scene)
    assert everything() == before
    assert_books_hold()


PLACES: dict[str, dict[str, object]] = {
    "a lot without its number": {"place": "lot", "lot_id": None},
    "outside with a lot": {"place": "outside"},
    "a gain with a lot": {"place": "gain"},
    "a loss without a cause": {"place": "loss", "lot_id": None},
    "work without a pour": {"place": "work", "lot_id": None},
    "sold without a pour": {"place": "sold", "lot_id": None},
    "a cup without a mix": {"place": "mix", "lot_id": None},
    "nowhere known": {"place": "drawer", "lot_id": None},
}


@pytest.mark.parametrize("place", PLACES.values(), ids=PLACES.keys())
def test_an_entry_names_one_place_in_full(place: dict[str, object], scene: Scene) -> None:
    with unchanged(), pytest.raises(IntegrityError, match="entry_place_named"), transaction.atomic():
        forge(scene, [line(scene, 1), line(scene, 2, **place)])


def test_an_entry_names_no_two_places_at_once(scene: Scene) -> None:
    both = line(scene, 2, reason_id=making.the_reason().pk)
    with unchanged(), pytest.raises(IntegrityError, match="entry_place_named"), transaction.atomic():
        forge(scene, [line(scene, 1), both])


@pytest.mark.parametrize("column", ["quantity", "money"])
def test_no_fraction_ever_stands_in_the_ledger(column: str, scene: Scene) -> None:
    number = scene.last.number + 1
    amounts = {"quantity": "1000", "money": "1000"} | {column: "1.5"}
    insert = (
        "INSERT INTO inventory_entry (posting_id, line, place, material_id, lot_id, quantity, money, "
        "role, effective_on) VALUES "
        f"(%s, 1, 'outside', %s, NULL, -{amounts['quantity']}, -{amounts['money']}, '', %s), "
        f"(%s, 2, 'lot', %s, %s, {amounts['quantity']}, {amounts['money']}, '', %s)"
    )
    material, lot = scene.lot.material_id, scene.lot.pk
    before = everything()
    if connection.vendor == SQLITE:
        with pytest.raises(IntegrityError, match=f"entry_{column}_whole"), transaction.atomic():
            run(insert, [number, material, TODAY, number, material, lot, TODAY])
        assert everything() == before
        return
    # PostgreSQL rounds on the way into a whole-number column, before any rule can look: what stands is whole.
    run(insert, [number, material, TODAY, number, material, lot, TODAY])
    assert set(Entry.objects.filter(posting_id=number).values_list(column, flat=True)) == {-2, 2}
    header(scene).save(force_insert=True)


def test_a_posting_s_hash_is_its_own(scene: Scene) -> None:
    with unchanged(), pytest.raises(IntegrityError, match="hash"), transaction.atomic():
        forge(scene, hash=scene.last.hash)


@pytest.mark.parametrize("named", ["lot", "pour", "mix", "owner", "version"])
def test_what_the_ledger_names_cannot_be_deleted(named: str, scene: Scene) -> None:
    row: models.Model = getattr(scene, named)
    with unchanged(), pytest.raises(IntegrityError):
        delete_regardless(row)


def delete_regardless(row: models.Model) -> None:
    """Delete without Django's own look at what refers to the row; foreign keys have the last word, at commit."""
    with transaction.atomic():
        type(row)._base_manager.filter(pk=row.pk)._raw_delete("default")
        connection.check_constraints()


def test_an_unknown_cost_flow_cannot_be_chosen_even_before_the_first_posting() -> None:
    with unchanged(), pytest.raises(IntegrityError, match="books_costing_method_known"), transaction.atomic():
        Books.objects.update(costing_method="lifo")


@pytest.mark.django_db(transaction=True)
@pytest.mark.skipif(connection.vendor != SQLITE, reason="only SQLite has conflict clauses")
@pytest.mark.parametrize("clause", ["OR IGNORE", "OR FAIL", "OR REPLACE", "OR ABORT"])
def test_no_conflict_clause_steps_over_a_balance(clause: str) -> None:
    scene = make_scene()
    with unchanged(), pytest.raises(IntegrityError):
        overdraw_regardless(scene, clause)
    assert_books_hold()


def overdraw_regardless(scene: Scene, clause: str) -> None:
    """Seal an overdraft under a conflict clause, shrug at the refusal, and commit whatever is left standing."""
    fields = Posting._meta.concrete_fields
    posting = header(scene)
    columns = ", ".join(str(field.column) for field in fields)
    values = [field.get_db_prep_save(field.pre_save(posting, True), connection) for field in fields]
    marks = ", ".join(["%s"] * len(fields))
    with transaction.atomic():
        Entry.objects.bulk_create(overdraw(scene, balance(scene).quantity + units(1), 0))
        with suppress(IntegrityError), connection.cursor() as cursor:
            cursor.execute(f"INSERT {clause} INTO inventory_posting ({columns}) VALUES ({marks})", values)
