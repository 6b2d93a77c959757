"""The mixing sheet: what it says, and that it stays on its paper."""

from io import BytesIO

import pypdfium2
import pytest
from django.urls import reverse
from django.utils import timezone
from PIL import ImageChops

from inventory.bench.papers import MixingSheet, SheetCup, SheetLine, SheetPart, draw_mixing_sheet
from inventory.bench.queries import bench_of
from inventory.plans.models import Plan
from inventory.recipes.actions.mixes import planned
from studio.accounts.models import User
from studio.papers.frame import PageFrame, paper_named
from tests.inventory.browsing import as_user
from tests.making import units

GREEK = "Γαλάζιο του λιμανιού, πολύ μεγάλο όνομα που δεν χωράει σε μία μόνο γραμμή του χαρτιού"
CYRILLIC = "Синяя гавань, очень длинное название, которое не помещается в одну строку листа"


def pages_of(pdf: bytes) -> list[str]:
    with pypdfium2.PdfDocument(pdf) as document:
        return [" ".join(page.get_textpage().get_text_range().split()) for page in document]


def assert_inside_margins(pdf: bytes, paper_name: str) -> None:
    paper = paper_named(paper_name)
    with pypdfium2.PdfDocument(BytesIO(pdf)) as document:
        for page in document:
            image = page.render(scale=1, grayscale=True).to_pil().convert("L")
            box = ImageChops.invert(image).getbbox()
            assert box is not None
            least, right, bottom = (
                paper.margin - 2,
                paper.width - paper.margin + 2,
                paper.height - paper.margin + 2,
            )
            assert box[0] >= least
            assert box[1] >= least
            assert box[2] <= right
            assert box[3] <= bottom


def full_sheet(cups: int, parts: int) -> MixingSheet:
    part = SheetPart(GREEK, "1,234,567.8 mL", "1,234,567.8 g", "1,234,567.8 g")
    return MixingSheet(
        "Scale shows",
        [
            SheetCup(f"A{number}", CYRILLIC * 2, "1,234,567.8 mL", (0.1, 0.4, 0.5), [part] * parts, GREEK)
            for number in range(cups)
        ],
        [SheetLine(999, f"999 × {GREEK}", [CYRILLIC * 3])],
        *[[(CYRILLIC, GREEK * 4)]] * 3,
    )


@pytest.mark.parametrize("paper", ["A4", "A5", "Letter"])
@pytest.mark.parametrize(("cups", "parts"), [(0, 0), (3, 4), (2, 40)])
def test_nothing_stands_outside_the_margins_whatever_the_length(paper: str, cups: int, parts: int) -> None:
    frame = PageFrame("Wrackline Studio", GREEK * 2, CYRILLIC, GREEK, CYRILLIC * 5)
    pdf = draw_mixing_sheet(full_sheet(cups, parts), frame, paper=paper)
    assert_inside_margins(pdf, paper)
    words = " ".join(pages_of(pdf))
    assert words.count("1,234,567.8 g") == cups * parts * 2  # its weight, and what the scale shows
    # a cup that goes on on another page is named again, with what it holds
    assert words.count("1,234,567.8 mL") >= cups * (parts + 1)


# A plan's own sheet


def test_a_bench_takes_what_the_jar_holds_and_mixes_the_rest(plan: Plan) -> None:
    # Four boards of 900 cm² at 0.1 mL/cm²: 90 mL each, half blue, half white.
    bench = bench_of(plan, today=timezone.localdate())
    blue, white = bench.cups
    assert (blue.label, blue.mixed, blue.ready, white.mixed, white.ready) == (
        "A",
        units(120),
        units(60),
        0,
        units(180),
    )
    # 80 mL of paint weigh 96 g, 40 mL of medium 40 g, 60 mL of the mix (3.4 g in 3 mL) 68 g.
    assert [part.scale_shows for part in blue.parts] == [units(96), units(136), units(204)]
    assert [part.scale_shows for part in white.parts] == [units(270)]
    assert [pour.volume for pour in bench.pours] == [units(90)] * 4
    for place, cup in enumerate(bench.cups):
        assert (
            sum(dose.quantity for pour in bench.pours for dose in pour.doses if dose.cup == place)
            == cup.total
        )
    assert blue.version is not None
    assert [item.quantity for item in planned(blue.version, blue.mixed)] == [
        part.measured for part in blue.parts[:2]
    ]


@pytest.mark.parametrize("paper", ["A4", "A5", "Letter", ""])
def test_the_sheet_says_what_goes_in_each_cup_and_onto_each_surface(
    plan: Plan, owner: User, paper: str
) -> None:
    response = as_user(owner).get(reverse("inventory:mixing-sheet", args=[plan.pk]), {"paper": paper})
    assert response["Content-Type"] == "application/pdf"
    words = " ".join(pages_of(response.content))
    for expected in (
        "Harbour lights",
        "A Tide Blue 180 mL",
        "Harbour Blue 80 mL 96 g 96 g",
        "Pouring medium 40 mL 40 g 136 g",
        "Tide Blue, already mixed 60 mL 68 g 204 g",
        "Actual weight",
        "Pour 90 mL on each: A 45 mL, B 45 mL.",
        "Gloves and air",
        "EUH208: may produce an allergic reaction.",
    ):
        assert expected in words
    assert "£" not in words
    assert_inside_margins(response.content, paper or "A4")


def test_there_is_no_sheet_on_an_unknown_paper(plan: Plan, owner: User) -> None:
    response = as_user(owner).get(reverse("inventory:mixing-sheet", args=[plan.pk]), {"paper": "B3"})
    assert response["Location"] == reverse("inventory:plan", args=[plan.pk])


def test_a_ratio_stays_on_one_line_and_next_to_nothing_has_no_page_of_its_own() -> None:
    part = SheetPart("Deep Violet", "38 mL", "42.3 g", "42.3 g")
    names = ["Deep Violet + Eelslip pouring medium, 1 : 2 : ½", "Pearl Silver + Loft medium, thin, 1 : 2 : ½"]
    cups = [
        SheetCup("A", names[number % 2], "134.5 mL", None, [part] * 3, "14% of it is water")
        for number in range(3)
    ]
    caution = ("Gloves and air", "Wear gloves and open a window; stop if your skin itches. " * 5)
    sheet = MixingSheet(
        "Scale shows",
        cups,
        [SheetLine(2, "2 × Round board", ["Pour 152.7 mL."])],
        [caution],
        [caution],
        [caution],
    )
    with pypdfium2.PdfDocument(draw_mixing_sheet(sheet, PageFrame("Wrackline Studio", "Boards"))) as pdf:
        assert len(pdf) == 1
        lines = pdf[0].get_textpage().get_text_range().replace("\u00a0", " ").splitlines()
    assert sum("1 : 2 : ½" in line for line in lines) == 3
