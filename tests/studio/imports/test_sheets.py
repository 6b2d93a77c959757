"""A workbook with several sheets: which of them is read."""

import base64

import pytest

from inventory.materials.models import Material
from inventory.purchasing.file_import.actions import _key_for
from studio.accounts.models import User
from studio.errors import InputError
from studio.imports.reading import read_file
from tests.inventory.browsing import as_user, filled_in, text_of
from tests.programs import Program
from tests.studio.imports.making import book

pytestmark = pytest.mark.django_db
COVER = [["My studio"]]
PAINTS = [["Name", "Kind", "Measured in"], ["Ebb Blue", "paint", "volume"]]
MORE = [["Material", "What it is", "Kind"], ["Sail glue", "volume", "medium"]]
BOOK = book(COVER, PAINTS, MORE)
ADDRESS = "/import/materials/"


def choose(owner: User) -> object:
    from django.core.files.uploadedfile import SimpleUploadedFile

    return as_user(owner).post(ADDRESS, {"file": SimpleUploadedFile("book.xlsx", BOOK)})


def test_the_first_sheet_with_rows_is_read_unless_another_is_named() -> None:
    usual = read_file(BOOK, decimal_comma=False)
    assert (usual.name, usual.names, usual.is_other) == ("Sheet 2", ("Sheet 1", "Sheet 2", "Sheet 3"), False)
    other = read_file(BOOK, decimal_comma=False, sheet="Sheet 3")
    assert (other.name, other.is_other, other.lines[1].cells[0]) == ("Sheet 3", True, "Sail glue")
    with pytest.raises(InputError, match="Sheet 1, Sheet 2, Sheet 3"):
        read_file(BOOK, decimal_comma=False, sheet="Sheet 4")


def test_another_sheet_is_chosen_where_its_columns_are_matched(owner: User) -> None:
    page = choose(owner)
    sent = filled_in(page, "carried")
    assert (sent["sheet"], "Ebb Blue" in text_of(page)) == ("Sheet 2", True)
    client = as_user(owner)
    unseen = client.post(ADDRESS, sent | {"sheet": "Sheet 3", "do": "save"})
    assert Material.objects.count() == 0  # it had not been shown
    sent = filled_in(unseen, "carried")
    assert (sent["sheet"], sent["column-0"], sent["column-2"]) == ("Sheet 3", "name", "kind")
    page = client.post(ADDRESS, sent | {"column-1": "measure"})
    client.post(ADDRESS, filled_in(page, "carried") | {"do": "save"})
    assert [material.name for material in Material.objects.all()] == ["Sail glue"]


def test_programs_name_the_sheet_and_are_told_of_all(owner: User) -> None:
    body = {
        "kind": "materials",
        "content": base64.b64encode(BOOK).decode(),
        "columns": {"What it is": "measure"},
    }
    answer = Program(owner).send("imports/", body | {"sheet": "Sheet 3", "rows_to_save": "all"}, status=200)
    assert (answer["sheets"], answer["saved"]) == (["Sheet 1", "Sheet 2", "Sheet 3"], 1)
    Program(owner).send("imports/", body | {"sheet": "Sheet 9"}, status=400)


def test_each_sheet_of_a_file_can_be_a_delivery_and_none_twice() -> None:
    assert len({_key_for(BOOK, sheet)[0] for sheet in ("", "Sheet 3", "Sheet 2")}) == 3
