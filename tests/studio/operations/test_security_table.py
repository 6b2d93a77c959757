"""The table that holds the service against a security standard is whole, and what it names is there."""

import ast
import re
from collections import Counter
from pathlib import Path

import pytest
from django.conf import settings

HERE = settings.BASE_DIR / "studio/operations"
TEXT = (HERE / "ASVS.md").read_text(encoding="utf-8")
ROWS = [line.strip("| ").split(" | ", 3) for line in TEXT.splitlines() if line.startswith("| V")]
NAMED = re.compile(r"`(tests/[\w/]+\.py)::(test_\w+)`")
ANSWERS = ("tested by", "documented in", "not applicable", "not met")


def order(number: str) -> list[int]:
    return [int(part) for part in number.removeprefix("V").split(".")]


def names_in(file: Path) -> set[str]:
    tree = ast.parse(file.read_text(encoding="utf-8"))
    return {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}


def test_each_requirement_of_levels_1_and_2_stands_in_it_once() -> None:
    """OWASP ASVS 5.0.0: 70 requirements of level 1 and 183 of level 2."""
    numbers = [row[0] for row in ROWS]
    assert len(set(numbers)) == len(numbers)
    assert numbers == sorted(numbers, key=order)
    assert Counter(row[1] for row in ROWS) == {"1": 70, "2": 183}
    assert {order(number)[0] for number in numbers} == set(range(1, 18))
    assert "253 requirements, 70 of level 1 and 183 of level 2" in TEXT


def test_each_has_one_of_the_answers_with_its_reason_and_they_are_counted() -> None:
    found = Counter(next(answer for answer in ANSWERS if row[3].startswith(answer)) for row in ROWS)
    counted = re.search(r"they are (\d+), (\d+), (\d+) and (\d+)\.", TEXT)
    assert counted
    assert [found[answer] for answer in ANSWERS] == [int(number) for number in counted.groups()]
    for number, _level, asked, answer in ROWS:
        assert asked, number
        if answer.startswith("tested by"):
            assert NAMED.search(answer), number
        elif answer.startswith("documented in"):
            assert re.search(r"\]\(\w+\.md#[\w-]+\)", answer), number
        else:
            assert re.match(r"not (?:applicable|met): \S", answer), number


@pytest.mark.parametrize("file", sorted({file for file, _name in NAMED.findall(TEXT)}))
def test_every_test_that_it_names_exists(file: str) -> None:
    assert {name for where, name in NAMED.findall(TEXT) if where == file} <= names_in(
        settings.BASE_DIR / file
    )


def test_every_test_that_it_mentions_without_a_file_exists_somewhere() -> None:
    mentioned = set(re.findall(r"`(test_\w+)`", TEXT))
    everywhere = "".join(
        path.read_text(encoding="utf-8") for path in (settings.BASE_DIR / "tests").rglob("test_*.py")
    )
    assert {name for name in mentioned if f"def {name}(" not in everywhere} == set()


@pytest.mark.parametrize("document", sorted(set(re.findall(r"\]\((\w+\.md)#", TEXT))))
def test_every_heading_that_it_points_to_exists(document: str) -> None:
    text = (HERE / document).read_text(encoding="utf-8")
    headings = {
        re.sub(r"[^\w -]", "", heading).strip().casefold().replace(" ", "-")
        for heading in re.findall(r"^## (.+)$", text, flags=re.MULTILINE)
    }
    assert set(re.findall(rf"\]\({re.escape(document)}#([\w-]+)\)", TEXT)) <= headings


def test_the_words_that_no_password_may_consist_of_are_those_that_are_written_down() -> None:
    from studio.accounts.passwords import STUDIO_WORDS

    text = (HERE / "SECURITY.md").read_text(encoding="utf-8").split("## Passwords")[1]
    listed = re.search(r"\*([a-z, ]+)\*", text)
    assert listed
    assert set(listed[1].split(", ")) == STUDIO_WORDS


def test_the_limits_of_guessing_are_those_that_are_written_down() -> None:
    from studio.accounts.login_limits import MOST_PER_ADDRESS, MOST_PER_NAME

    text = (HERE / "SECURITY.md").read_text(encoding="utf-8").split("## Guessing")[1].split("## ")[0]
    limits = [int(number) for number in re.findall(r"^\| (\d+) at", text, flags=re.MULTILINE)]
    assert limits == [
        settings.AXES_FAILURE_LIMIT,
        MOST_PER_NAME,
        MOST_PER_ADDRESS,
        settings.AXES_FAILURE_LIMIT,
    ]
