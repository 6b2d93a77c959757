"""A plan as it is written down, put into rows, looked at, and saved."""

from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from inventory.materials.models import Kind, Material
from inventory.materials.new_in_place import kind_in
from inventory.plans.models import Plan
from inventory.plans.written_lines import PlannedLine, PlanReader
from studio.accounts.models import User
from studio.pages.forms import new_key
from tests.inventory.browsing import as_user
from tests.making import make_material, make_surface, the_technique

SURFACES = {1: "Birch board 20 × 20 cm", 2: "Birch board 30 × 30 cm", 3: "Tile 15 cm", 4: "Leinwand 40x50 cm"}
TECHNIQUES = {1: "Ring pour", 2: "Dutch pour", 3: "Ringguss"}
COLOURS = {1: "Sail Loft White", 2: "Tidewrack Blue", 3: "Old Gold", 4: "Leeward Blue", 5: "Blue 6"}
READER = PlanReader(SURFACES, TECHNIQUES, COLOURS, lambda words: kind_in(words) is Kind.SURFACE)


def said(line: PlannedLine) -> tuple[Any, ...]:
    return line.count, line.surface, line.technique, [(each.material, each.parts) for each in line.colours]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (
            "6 boards 20x20 ring pour, white 3 / tidewrack 1 / gold 1",
            (6, 1, 1, [(1, "3"), (2, "1"), (3, "1")]),
        ),
        ("Tidewrack blue, 4 tiles", (4, 3, None, [(2, "")])),
        ("4 tiles 15 cm Dutch pour in Old Gold", (4, 3, 2, [(3, "")])),
        ("- 2 x birch board 30 x 30 cm; dutch; 2 white + 1 gold", (2, 2, 2, [(1, "2"), (3, "1")])),
        ("white 1½ and leeward ½ on 12 tiles", (12, 3, None, [(1, "1½"), (4, "½")])),
        ("3 Leinwände 40 x 50 cm, Ringguss", (3, 4, 3, [])),
        ("3 Leinwand 40 × 50 cm, Ringguss, Old Gold", (3, 4, 3, [(3, "")])),
        ("tiles x 5, ring pour, Blue 6", (5, 3, 1, [(5, "")])),
        ("tile 15 cm, gold", (1, 3, None, [(3, "")])),
        ("20 20x20 boards, gold 2", (20, 1, None, [(3, "2")])),
        ("Tidewrack blue 4 tiles", (4, 3, None, [(2, "")])),
    ],
)
def test_a_line_tells_how_many_of_what_by_which_technique_in_which_colours(
    text: str, expected: tuple[Any, ...]
) -> None:
    assert said(READER.read(text)) == expected


def test_what_fits_two_names_is_left_open_and_both_are_named() -> None:
    line = READER.read("6 boards, ring pour, blue 2 / white 1")
    assert said(line) == (6, None, 1, [(None, "2"), (1, "1")])
    assert len(line.advice) == 2
    assert SURFACES[1] in line.advice[0]
    assert SURFACES[2] in line.advice[0]
    assert "Tidewrack Blue; Leeward Blue; Blue 6" in line.advice[1]


def test_what_is_not_found_is_said_and_a_colour_that_is_not_known_still_takes_its_place() -> None:
    line = READER.read("2 panels 25x25, ring pour, marram")
    assert (line.count, line.surface, line.new_surface) == (2, None, "panels 25x25")
    assert [(each.words, each.material, each.parts) for each in line.colours] == [("marram", None, "1")]
    assert len(line.advice) == 2
    assert READER.read("ring pour, gold").advice


def test_an_amount_for_each_is_taken_out_of_the_line() -> None:
    line = READER.read("6 boards 20x20 ring pour 150 ml each, gold")
    assert (line.poured, line.surface, [each.material for each in line.colours]) == ("150 ml", 1, [3])


def test_a_short_word_for_a_technique_counts_only_where_no_other_name_has_it() -> None:
    reader = PlanReader(SURFACES, TECHNIQUES, {1: "Ring Grey"}, READER.is_surface)
    assert reader.read("4 tiles, dutch, ring grey").technique == 2
    assert said(reader.read("4 tiles, ring grey")) == (4, 3, None, [(1, "")])


@given(st.text(max_size=300))
def test_any_text_is_read_and_nothing_comes_of_it_that_is_not_offered(text: str) -> None:
    for line in READER.read_lines(text):
        assert line.surface is None or line.surface in SURFACES
        assert line.technique is None or line.technique in TECHNIQUES
        assert all(each.material is None or each.material in COLOURS for each in line.colours)
        assert len(line.text) <= 200


NEW = "inventory:plan-new"


@pytest.fixture
def board(db: None) -> Material:
    return make_surface(name="Birch board 20 × 20 cm")


def sent(lines: str, **more: Any) -> dict[str, Any]:
    head = {"key": new_key(), "name": "Lamps", "planned_on": timezone.localdate().isoformat()}
    rows = {"lines-TOTAL_FORMS": 1, "lines-INITIAL_FORMS": 0, "lines-0-count": 1}
    return {**head, **rows, "written-lines": lines, **more}


def typed(response: Any) -> dict[str, Any]:
    """What the browser would send from the page that came back."""
    lines, form = response.context["formset"], response.context["form"]
    fields = [field for each in (form, *lines.forms, lines.management_form) for field in each]
    return {field.html_name: field.value() for field in fields if field.value() not in (None, False)}


def test_written_lines_become_rows_that_are_looked_at_before_anything_is_saved(
    owner: User, board: Material
) -> None:
    white, gold = make_material(name="Sail Loft White"), make_material(name="Old Gold")
    the_technique()
    begun = {
        "lines-0-surface": board.pk,
        "lines-0-technique": the_technique().pk,
        "lines-0-colour_1": gold.pk,
    }
    text = f"6 boards 20x20 {the_technique('Dutch pour')}, white 3 / gold 1\n2 panels 25x25 cm, gold"
    client = as_user(owner)
    page = client.post(reverse(NEW), sent(text, do="read", **begun))
    assert (page.status_code, Plan.objects.count()) == (200, 0)
    assert not page.context["written"]["lines"].value()
    assert not page.context["by_ratio"].is_open
    second = page.context["formset"].forms[1]
    assert second.as_written.text.startswith("6 boards")
    answer = typed(page)
    assert answer["lines-2-new_surface"] == "panels 25x25 cm"
    client.post(reverse(NEW), answer | {"lines-2-technique": the_technique().pk})
    lines = list(Plan.objects.get().lines.all())
    assert [(line.count, line.surface.name, line.technique.name) for line in lines] == [
        (1, board.name, "Ring pour"),
        (6, board.name, "Dutch pour"),
        (2, "panels 25x25 cm", "Ring pour"),
    ]
    assert [(each.material, each.share) for each in lines[1].colours.all()] == [(white, 3000), (gold, 1000)]


def test_a_colour_that_was_not_found_is_asked_for_and_not_taken_from_the_row_above(
    owner: User, board: Material
) -> None:
    make_material(name="Old Gold")
    text = f"1 board {the_technique()}, gold\n1 board {the_technique()}, marram"
    client = as_user(owner)
    page = client.post(reverse(NEW), sent(text, do="read"))
    again = client.post(reverse(NEW), typed(page))
    assert (again.status_code, Plan.objects.count()) == (422, 0)
    assert "colour_1" in again.context["formset"].forms[1].errors
    assert again.context["formset"].forms[1].as_written.advice


def test_lines_that_were_not_read_yet_are_read_instead_of_being_passed_over(
    owner: User, board: Material
) -> None:
    make_material(name="Old Gold")
    page = as_user(owner).post(reverse(NEW), sent(f"4 boards {the_technique()}, gold"))
    assert (page.status_code, Plan.objects.count()) == (200, 0)
    assert [row["count"].value() for row in page.context["formset"].forms] == ["4"]


def test_more_lines_than_fit_are_refused_with_the_text_and_no_row_is_lost(
    owner: User, board: Material
) -> None:
    text = "\n".join(f"{number} boards, gold" for number in range(1, 202))
    page = as_user(owner).post(reverse(NEW), sent(text, do="read", **{"lines-0-surface": board.pk}))
    assert page.status_code == 422
    assert page.context["written"]["lines"].value() == text
    assert [row["surface"].value() for row in page.context["formset"].forms] == [str(board.pk)]


def test_a_plan_that_is_changed_takes_lines_too_and_a_helper_names_no_new_surface(
    helper: User, board: Material
) -> None:
    make_material(name="Old Gold")
    page = as_user(helper).post(reverse(NEW), sent("2 panels 25x25, gold", do="read"))
    row = page.context["formset"].forms[0]
    assert "new_surface" not in row.fields
    assert row.as_written.advice
