"""What stories came to, kept as one JSON object a line, and the table of figures that is made of them.

A run that ends early, or tells some of the stories, leaves lines that a later run adds to: of a part that was told
twice on one database, the later telling counts.
"""

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from tests.faults.jobs import Tally
from tests.inventory.edits import Edits

Figures = dict[str, float]
WORST = "s worst wait"  # what is worst is the only figure that is not added up
HEAD = ("| story | database | size | came to | goal | told on |", "| --- | --- | --- | --- | --- | --- |")


@dataclass(frozen=True)
class Result:
    """One telling of one part of a story. `day` is ISO 8601, `seconds` how long it took, `error` empty if it held."""

    database: str
    fault: str
    part: str
    count: int
    unit: str
    goal: str
    day: str
    seconds: float
    figures: Figures = field(default_factory=dict)
    error: str = ""


def figures_of(outcome: Any) -> Figures:
    """What a story returned, as numbers with what they count."""
    if isinstance(outcome, Tally):
        figures: Figures = {
            "posted": outcome.posted,
            "refused": outcome.refused,
            "errors": len(outcome.errors),
        }
        return figures | ({WORST: outcome.worst_wait} if outcome.worst_wait else {})
    if isinstance(outcome, Edits):
        found = {"found": outcome.found, "refused by the database": outcome.refused}
        return {**found, "missed": len(outcome.missed)}
    if isinstance(outcome, list):
        return {"failures": len(outcome)}
    return {
        name.replace("_", " "): sum(each.values()) if isinstance(each, dict) else each
        for name, each in asdict(outcome).items()
    }


def in_words(figures: Mapping[str, float]) -> str:
    return ", ".join(
        f"{value:.2f} {name}" if isinstance(value, float) else f"{value:,} {name}"
        for name, value in figures.items()
    )


def keep(file: Path, result: Result) -> None:
    with file.open("a", encoding="utf-8") as lines:
        lines.write(f"{json.dumps(asdict(result), ensure_ascii=False)}\n")


def kept(file: Path) -> list[Result]:
    """The latest telling of each part of each story on each database, in the order in which they were first told."""
    latest: dict[tuple[str, str, str], Result] = {}
    if file.exists():
        for line in file.read_text(encoding="utf-8").splitlines():
            result = Result(**json.loads(line))
            latest[result.database, result.fault, result.part] = result
    return list(latest.values())


def table(results: Iterable[Result], full: Mapping[str, int], earlier: str = "") -> str:
    """A table in Markdown, one row for each story and database. `full` says how much of each story is its full size.

    Of an earlier table the rows stay whose stories are not among the results, which may have been kept elsewhere.
    """
    together: dict[tuple[str, str], list[Result]] = defaultdict(list)
    for result in results:
        together[result.fault, result.database].append(result)
    rows = _rows(earlier)
    rows |= {key: _row(parts, full.get(key[0], 0)) for key, parts in together.items()}
    place = {fault: number for number, fault in enumerate(full)}
    keys = sorted(rows, key=lambda key: (place.get(key[0], len(place)), key[1] != "sqlite"))
    return "\n".join([*HEAD, *(rows[key] for key in keys)]) + "\n"


def _rows(written: str) -> dict[tuple[str, str], str]:
    """The rows of a table, by story and database."""
    lines = [line for line in written.splitlines() if line.startswith("|") and line not in HEAD]
    named = [[cell.strip() for cell in line.split("|")] for line in lines]
    return {(cells[1], cells[2]): line for cells, line in zip(named, lines, strict=True)}


def _row(parts: list[Result], full: int) -> str:
    first, count = parts[0], sum(part.count for part in parts)
    size = f"{count:,}" if count >= full else f"{count:,} of {full:,}"
    broken = [part for part in parts if part.error]
    outcome = in_words(_added(parts))
    if broken:
        outcome = f"**broke in {len(broken)} of {len(parts)}**{outcome and f', else {outcome}'}"
    days = sorted({part.day for part in parts})
    told = days[0] if len(days) == 1 else f"{days[0]} to {days[-1]}"
    cells = [first.fault, first.database, f"{size} {first.unit}", outcome, first.goal, told]
    return f"| {' | '.join(cells)} |"


def _added(parts: Iterable[Result]) -> Figures:
    added: Figures = {}
    for part in parts:
        for name, value in part.figures.items():
            before = added.get(name, 0)
            added[name] = max(before, value) if "worst" in name else before + value
    return added
