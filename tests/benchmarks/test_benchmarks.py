"""The benchmark command runs, on a small ledger that passes the check of the books. Its figures are nobody's test."""

from functools import partial

import pypdfium2
import pytest
from django.db import connection
from pytest_django.fixtures import DjangoAssertNumQueries

from inventory.ledger.keyed_records import rows_under_key
from inventory.ledger.models import Posting
from tests import making
from tests.benchmarks.__main__ import main
from tests.benchmarks.figures import Figure, Row, exponent, table
from tests.benchmarks.papers import HEADING, Marks, price_list_rows
from tests.benchmarks.works import Bench
from tests.costing.papers.drawing import draw_price_list


def test_it_measures_a_small_ledger_and_all_else_at_a_hundredth_of_its_size_and_prints_the_table(
    capsys: pytest.CaptureFixture[str],
) -> None:
    asked = "P1,P3,P4,P5,P6,P8,P9,P12"
    main(["--entries", "1000", "--only", asked, "--runs", "1", "--part", "100"])
    printed = capsys.readouterr().out.splitlines()
    assert any(line.startswith("sqlite: loaded ") for line in printed)
    works = {line.split()[1]: line for line in printed if line.startswith(("sqlite ", "postgresql ", "any "))}
    assert set(works) == set(asked.split(","))
    assert ", 0 queries" not in works["P5"]
    assert "import 100 delivery lines" in works["P9"]


def test_the_same_marks_on_a_bare_canvas_make_the_same_file() -> None:
    draw = partial(draw_price_list, price_list_rows(5), HEADING)
    assert _looks(Marks.of(draw).draw()) == _looks(draw())


def _looks(pdf: bytes) -> list[bytes]:
    """Each page as PDFium draws it: the numbers of a file's objects may be others."""
    with pypdfium2.PdfDocument(pdf) as pages:
        return [page.render(scale=2).to_pil().tobytes() for page in pages]


def test_it_gives_growth_as_the_power_of_the_size() -> None:
    """Proportional time has exponent 1 and constant time 0, by the definition of a power law."""
    sizes = [10_000, 100_000, 1_000_000]
    assert exponent(sizes, [0.02, 0.2, 2.0]) == pytest.approx(1)
    assert exponent(sizes, [0.3, 0.3, 0.3]) == pytest.approx(0)
    assert exponent([10_000], [0.3]) is None


def test_it_prints_growth_on_the_last_line_of_a_work() -> None:
    small, large = Figure("P2 stock", 0.004, 0.002), Figure("P2 stock", 0.004, 0.02)
    lines = table([Row("sqlite", 10, small), Row("sqlite", 1_000, large)]).splitlines()
    assert lines[1].split()[-1] == "2.00"
    assert lines[2].split()[-3:] == ["0.20", "0.00", "0.50"]


@pytest.mark.django_db
@pytest.mark.parametrize("lines", [30, 300])
def test_a_session_is_posted_in_at_most_twenty_two_statements_however_many_lines_it_has(
    lines: int, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    bench = Bench(lines)
    with django_assert_max_num_queries(
        22
    ):  # seven of them seal the rows of four tables; SQLite needs no lock
        session = bench.post()
    assert session.posting.entries.count() == lines


@pytest.mark.django_db
def test_an_earlier_request_is_found_by_the_index_on_its_key_and_not_by_looking_through_the_ledger() -> None:
    found = rows_under_key(Posting, making.make_submission(key="form 1"))
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":  # on a table this small it would rather read all of it
            cursor.execute("SET LOCAL enable_seqscan = off")
    assert "posting_key_once" in found.explain()
