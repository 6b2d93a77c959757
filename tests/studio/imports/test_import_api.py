"""Imports for programs: the same dry run and the same saving as on the page."""

import base64
from typing import Any

import pytest

from inventory.materials.models import Material
from studio.accounts.models import User
from studio.imports.models import RememberedHeadings
from tests.programs import Program
from tests.studio.imports.making import book

pytestmark = pytest.mark.django_db
TWO = "Material,Kind,Measured in\nEbb,paint,volume\nTide,glitter,volume\n"


def sent(user: User, **body: Any) -> Any:
    return Program(user).send("imports/", {"kind": "materials", **body}, status=200)


def test_a_table_is_looked_at_without_saving(owner: User) -> None:
    answer = sent(owner, text=TWO)
    assert [row["state"] for row in answer["rows"]] == ["new", "wrong"]
    assert answer["rows"][1]["problems"][0]["column"] == "kind"
    assert "glitter" in answer["rows"][1]["problems"][0]["detail"]
    assert (answer["saved"], Material.objects.count()) == (0, 0)


def test_all_or_the_good_rows_are_saved_and_nothing_twice(owner: User) -> None:
    assert sent(owner, text=TWO, rows_to_save="all")["saved"] == 0
    answer = sent(owner, text=TWO, rows_to_save="good")
    assert (answer["saved"], [row["state"] for row in answer["rows"]]) == (1, ["there", "wrong"])
    assert sent(owner, text=TWO, rows_to_save="good")["saved"] == 0


def test_a_workbook_comes_in_base64_with_what_its_headings_mean(owner: User) -> None:
    content = base64.b64encode(book([["Wot", "Measured in"], ["Ebb", "volume"]])).decode()
    answer = sent(owner, content=content)
    assert answer["missing"]
    answer = sent(
        owner, content=content, columns={"Wot": "name"}, fixed={"kind": "paint"}, rows_to_save="all"
    )
    assert answer["saved"] == 1
    assert RememberedHeadings.of("materials")["wot"] == "name"


@pytest.mark.parametrize(
    "body",
    [
        {}, {"text": TWO, "content": "AAAA"}, {"content": "%%%"}, {"content": "AAAA"}, {"text": " "},
        {"text": TWO, "rows_to_save": "some"}, {"text": TWO, "kind": "moons"}, {"text": TWO, "columns": []},
    ],
)  # fmt: skip
def test_what_is_no_table_is_refused(owner: User, body: dict[str, Any]) -> None:
    Program(owner).refusal("imports/", {"kind": "materials", **body}, status=400)


def test_only_who_may_on_the_page_may_here(owner: User, helper: User) -> None:
    Program(helper).refusal("imports/", {"kind": "materials", "text": TWO}, status=403)
    assert "materials" not in {kind["code"] for kind in Program(helper).read("imports/")}
    kinds = {kind["code"]: kind for kind in Program(owner).read("imports/")}
    assert {"materials", "opening-stock", "recipes"} <= kinds.keys()
    assert "name" in {column["key"] for column in kinds["materials"]["columns"]}
