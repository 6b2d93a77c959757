"""Price labels, read back with pdfium."""

from dataclasses import replace

import pytest
import zxingcpp

from costing.papers.price_labels import LabelKind, draw_price_labels
from costing.papers.price_list import PriceListRow
from studio.errors import InputError
from studio.papers.frame import paper_named
from studio.papers.labels import GRIDS, LabelGrid
from tests.studio.papers.test_paper import inked_box, page_images, read_pages

STUDIO = "Wrackline Studio"
SHEETS = [("a4-21", 21), ("letter-30", 30)]
EVERY = list(GRIDS)


def make_label(number: int = 1, **changes: str) -> PriceListRow:
    plain = PriceListRow(
        code=f"SL{number:04}",
        title=f"Tide{number:04}",
        size_cm="30 × 40 cm",
        size_in="",
        medium="",
        year="",
        price=f"£{number}.50",
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def make_labels(count: int) -> list[PriceListRow]:
    return [make_label(number) for number in range(1, count + 1)]


# Label sizes from memory: 63.5 × 38.1 mm on A4; 2⅝ × 1 in on US Letter.
@pytest.mark.parametrize(
    ("paper", "width_mm", "height_mm"), [("a4-21", 63.5, 38.1), ("letter-30", 2.625 * 25.4, 25.4)]
)
def test_labels_have_the_size_of_the_stickers(paper: str, width_mm: float, height_mm: float) -> None:
    box = GRIDS[paper].box(0)
    assert box.width / 72 * 25.4 == pytest.approx(width_mm)
    assert box.height / 72 * 25.4 == pytest.approx(height_mm)


@pytest.mark.parametrize(("paper", "count"), SHEETS)
def test_labels_never_overlap_and_lie_evenly_on_the_sheet(paper: str, count: int) -> None:
    sheet = GRIDS[paper]
    boxes = [sheet.box(position) for position in range(sheet.count)]
    assert len(boxes) == count
    for position, box in enumerate(boxes):
        for other in boxes[position + 1 :]:
            beside = box.right <= other.left + 1e-6 or other.right <= box.left + 1e-6
            above = box.bottom <= other.top + 1e-6 or other.bottom <= box.top + 1e-6
            assert beside or above
    assert boxes[0].left == pytest.approx(sheet.paper.width - boxes[-1].right)
    assert boxes[0].top == pytest.approx(sheet.paper.height - boxes[-1].bottom)


@pytest.mark.parametrize(("paper", "count"), SHEETS)
@pytest.mark.parametrize("extra", [0, 1])
def test_every_label_prints_once_on_as_few_sheets_as_will_do(paper: str, count: int, extra: int) -> None:
    pages = read_pages(draw_price_labels(make_labels(count + extra), studio=STUDIO, grid=GRIDS[paper]))
    assert len(pages) == 1 + extra
    words = " ".join(pages).split()
    for number in range(1, count + extra + 1):
        for text in (f"Tide{number:04}", f"£{number}.50", f"SL{number:04}"):
            assert words.count(text) == 1
    assert words.count("(H") == count + extra


@pytest.mark.parametrize(("paper", "count"), SHEETS)
def test_it_starts_at_the_first_free_label_of_a_part_used_sheet(paper: str, count: int) -> None:
    sheet = GRIDS[paper]
    pdf = draw_price_labels(make_labels(2), studio=STUDIO, grid=GRIDS[paper], start=count)
    first, second = page_images(pdf)
    last_place, first_place = sheet.box(count - 1), sheet.box(0)
    for image, box in ((first, last_place), (second, first_place)):
        inked = inked_box(image)
        assert inked is not None
        assert inked[0] >= box.left
        assert inked[1] >= box.top
        assert inked[2] <= box.right
        assert inked[3] <= box.bottom


@pytest.mark.parametrize(("paper", "count"), SHEETS)
def test_no_text_reaches_the_edge_of_its_label(paper: str, count: int) -> None:
    long = "Slack water at the harbour wall " * 20
    wordy = make_label(title=long, size_cm=long + "×", price="₹1,23,45,678.00", code="W" * 90)
    (image,) = page_images(draw_price_labels([wordy] * count, studio=STUDIO, grid=GRIDS[paper]), scale=2)
    blank = image.copy()
    for position in range(count):
        box = GRIDS[paper].box(position)
        inner = tuple(round(2 * edge) for edge in (box.left + 6, box.top + 6, box.right - 6, box.bottom - 6))
        assert inked_box(image.crop((inner[0], inner[1], inner[2], inner[3]))) is not None
        blank.paste(255, (inner[0], inner[1], inner[2], inner[3]))
    assert inked_box(blank) is None


@pytest.mark.parametrize(("paper", "_count"), SHEETS)
def test_the_price_is_whole_and_the_biggest_thing_on_the_label(paper: str, _count: int) -> None:
    wordy = make_label(title="Slack water " * 30, price="₹1,23,45,678.00", code="SL0001")
    (page,) = read_pages(draw_price_labels([wordy], studio=STUDIO, grid=GRIDS[paper]))
    assert "₹1,23,45,678.00" in page
    assert "SL0001" in page
    assert "…" in page
    (image,) = page_images(
        draw_price_labels(
            [make_label(title="T", size_cm="", price="1", code="")], studio=STUDIO, grid=GRIDS[paper]
        ),
        4,
    )
    box = GRIDS[paper].box(0)
    middle = round(4 * (box.left + box.right) / 2)
    title, price = (
        inked_box(image.crop((0, 0, middle, image.height))),
        inked_box(image.crop((middle, 0, *image.size))),
    )
    assert title is not None
    assert price is not None
    assert price[3] - price[1] > 1.8 * (title[3] - title[1])


@pytest.mark.parametrize(
    "title", ["<b>x", "</para>", '<img src="/etc/hostname">', "&amp;", "Θάλασσα", "Прилив"]
)
@pytest.mark.parametrize("price", ["£45.00", "€45,00", "₹450.00", "₺450,00"])
def test_a_label_prints_what_was_typed(title: str, price: str) -> None:
    (page,) = read_pages(draw_price_labels([make_label(title=title, price=price)], studio=STUDIO))
    assert title in page
    assert price in page
    assert "\x00" not in page


def test_a_round_piece_is_not_given_a_height_and_a_width() -> None:
    (page,) = read_pages(draw_price_labels([make_label(size_cm="30 cm across")], studio=STUDIO))
    assert "30 cm across" in page
    assert "H × W" not in page


def test_the_same_labels_make_the_same_bytes() -> None:
    assert draw_price_labels(make_labels(40), studio=STUDIO) == draw_price_labels(
        make_labels(40), studio=STUDIO
    )


def test_it_asks_the_printer_not_to_scale_the_sheet() -> None:
    assert b"/PrintScaling /None" in draw_price_labels(make_labels(1), studio=STUDIO)


@pytest.mark.parametrize("start", [0, 22, -3])
def test_it_refuses_a_start_that_is_not_on_the_sheet(start: int) -> None:
    with pytest.raises(InputError, match="labels 1 to 21") as refusal:
        draw_price_labels(make_labels(1), studio=STUDIO, start=start)
    assert refusal.value.field == "start"


def test_it_refuses_to_waste_a_sheet_on_no_labels() -> None:
    with pytest.raises(InputError, match="Choose at least one thing"):
        draw_price_labels([], studio=STUDIO)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"width": 80.0}, "width"),  # overlap
        ({"across": 4}, "width"),
        ({"down": 8}, "height"),
        ({"height": 10.0}, "height"),
        ({"left": -1.0}, "width"),
    ],
)
def test_a_sheet_of_her_own_must_fit_its_paper(changes: dict[str, float], field: str) -> None:
    usual = {"across": 3, "down": 7, "width": 63.5, "height": 38.1, "left": 7.2, "top": 15.15}
    pitch = {"pitch_x": 66.0, "pitch_y": 38.1}
    with pytest.raises(InputError) as refusal:
        LabelGrid(paper_named("A4"), **{**usual, **pitch, **changes})  # type: ignore[arg-type]
    assert refusal.value.field == field


@pytest.mark.parametrize("grid", EVERY)
def test_every_preset_prints_each_label_where_its_sticker_lies_with_a_code_that_can_be_read(
    grid: str,
) -> None:
    """Positions within 0.3 mm: the cut lines of the first and last label, measured on the page at 600 dots an inch."""
    plan = GRIDS[grid]
    pdf = draw_price_labels(make_labels(plan.count), studio=STUDIO, grid=plan, has_cut_lines=True)
    (image,) = page_images(pdf, 600 / 72)
    dots = 600 / 72
    inked = inked_box(image)
    assert inked is not None
    first, last = plan.box(0), plan.box(plan.count - 1)
    wanted = (first.left, first.top, last.right, last.bottom)
    inside = [max(edge, 0) * dots for edge in wanted]
    assert all(abs(found - edge) <= 0.3 / 25.4 * 600 + 1 for found, edge in zip(inked, inside, strict=True))
    left, upper, right, lower = (round(edge * 300 / 72) for edge in first)
    small = page_images(pdf, 300 / 72)[0].crop((left, upper, right, lower))
    assert [found.text for found in zxingcpp.read_barcodes(small)] == ["SL0001"]


def test_a_wall_label_tells_a_visitor_what_it_is_without_a_code() -> None:
    label = make_label(title="Ebb", medium="Acrylic on canvas, flip cup", year="2026", code="P0012")
    (page,) = read_pages(draw_price_labels([label], studio=STUDIO, kind=LabelKind.WALL))
    assert all(text in page for text in ("Ebb", "Acrylic on canvas, flip cup, 2026", "30 × 40 cm", "£1.50"))
    assert "P0012" not in page


@pytest.mark.parametrize("kind", LabelKind)
def test_a_large_label_is_filled_by_larger_type(kind: LabelKind) -> None:
    """Twice as high and wide: in the size of its ink too."""
    usual = LabelGrid(paper_named("A4"), 1, 1, 63.5, 38.1, 10, 10, 63.5, 38.1)
    large = replace(usual, width=127, height=76.2)
    label = make_label(title="Ebb", medium="Acrylic on canvas, swipe", year="2026", code="")
    prices = []
    for grid in (usual, large):
        (page,) = page_images(draw_price_labels([label], studio=STUDIO, grid=grid, kind=kind), scale=2)
        box = grid.box(0)
        lower = page.crop((0, round(box.top + box.bottom), page.width, page.height))
        left, _top, right, _bottom = inked_box(lower) or (0, 0, 0, 0)
        prices.append(right - left)
    assert prices[1] == pytest.approx(2 * prices[0], rel=0.05)


@pytest.mark.parametrize("grid", EVERY)
def test_the_year_is_on_every_wall_label_however_small(grid: str) -> None:
    label = make_label(medium="Acrylic on round board, ring pour", year="2026", size_cm="30 cm round")
    (words,) = read_pages(draw_price_labels([label], studio=STUDIO, grid=GRIDS[grid], kind=LabelKind.WALL))
    assert "2026" in words
    assert "30 cm round" in words


def test_several_of_each_come_one_after_another() -> None:
    (page,) = read_pages(draw_price_labels(make_labels(2), studio=STUDIO, copies=3))
    assert [page.split().count(title) for title in ("Tide0001", "Tide0002")] == [3, 3]
    for copies in (0, 51):
        with pytest.raises(InputError):
            draw_price_labels(make_labels(1), studio=STUDIO, copies=copies)


def test_a_label_carries_its_number_as_a_code_that_an_independent_reader_reads() -> None:
    """ISO/IEC 18004, read by ZXing off the printed page, at the resolution of a plain office scanner."""
    labels = [make_label(title="T", size_cm="", price="1", code=code) for code in ("P0012–P0015", "P0007")]
    (image,) = page_images(draw_price_labels(labels, studio=STUDIO), 300 / 72)
    assert {found.text for found in zxingcpp.read_barcodes(image)} == {"P0012", "P0007"}


@pytest.mark.parametrize("grid", EVERY)
@pytest.mark.parametrize("kind", list(LabelKind))
def test_a_title_of_six_words_is_never_cut(grid: str, kind: LabelKind) -> None:
    label = make_label(title="Small hours along the sea wall")
    (page,) = read_pages(draw_price_labels([label], studio=STUDIO, grid=GRIDS[grid], kind=kind))
    assert "Small hours along the sea wall" in page


def test_a_piece_without_a_title_has_a_label() -> None:
    assert "SL0001" in read_pages(draw_price_labels([make_label(title="")], studio=STUDIO))[0]
