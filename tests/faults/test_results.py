"""The table of what the fault rounds came to, written by runs that know only some of it."""

from dataclasses import replace
from pathlib import Path

from tests.faults.__main__ import BEGIN, END, write_into
from tests.faults.results import Result

FULL = {"killed": 20, "disk full": 5, "mail": 3}
KILLED = Result("sqlite", "killed", "1 to 10", 10, "kills", "0 lost", "2026-03-01", 2.0, {"lost": 0})


def test_rows_stay_that_a_run_does_not_tell_anew(tmp_path: Path) -> None:
    document = tmp_path / "FAULTS.md"
    document.write_text(f"Above.\n\n{BEGIN}\n{END}\nBelow.\n", encoding="utf-8")
    mail = replace(KILLED, fault="mail", part="", count=3, unit="rounds")
    write_into(document, [KILLED, mail], FULL)

    again = [replace(KILLED, part=part, day="2026-04-01") for part in ("1 to 10", "11 to 20")]
    write_into(document, [*again, replace(mail, fault="disk full", database="postgresql")], FULL)

    assert document.read_text(encoding="utf-8").splitlines() == [
        "Above.",
        "",
        "<!-- figures -->",
        "",
        "| story | database | size | came to | goal | told on |",
        "| --- | --- | --- | --- | --- | --- |",
        "| killed | sqlite | 20 kills | 0 lost | 0 lost | 2026-04-01 |",
        "| disk full | postgresql | 3 of 5 rounds | 0 lost | 0 lost | 2026-03-01 |",
        "| mail | sqlite | 3 rounds | 0 lost | 0 lost | 2026-03-01 |",
        "",
        "<!-- /figures -->",
        "",
        "Below.",
    ]


def test_parts_add_up_and_the_worst_of_them_is_kept(tmp_path: Path) -> None:
    document = tmp_path / "FAULTS.md"
    document.write_text(f"{BEGIN}\n{END}", encoding="utf-8")
    figures = {"lost": 0, "crashes": 10, "s worst wait": 1.5, "worst seconds from promotion to answer": 2.0}
    parts = [replace(KILLED, figures=figures)]
    parts += [replace(KILLED, part="11 to 15", count=5, figures=figures | {"s worst wait": 0.5})]

    write_into(document, parts, FULL)

    worst = "1.50 s worst wait, 2.00 worst seconds from promotion to answer"
    assert f"| 15 of 20 kills | 0 lost, 20 crashes, {worst} |" in document.read_text(encoding="utf-8")
