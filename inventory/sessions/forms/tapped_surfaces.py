"""One more pour on a surface that was tapped, while a session is typed."""

from typing import Any

from inventory.sessions.forms.pours import MOST_ALIKE, MOST_ROWS
from studio.values.numbers import read_small_whole

Row = dict[str, Any]


def add_pour(rows: list[Row], surface: int, technique: str) -> None:
    """Count it in the row that pours on this surface already, else in one that names none, else in a new one."""
    wanted = str(surface)
    in_sight = [row for row in rows if not row.get("DELETE") and not row.get("over")]
    alike = [row for row in in_sight if row.get("surface") == wanted]
    blank = [row for row in in_sight if not row.get("surface") and not row.get("new_surface")]
    if alike:
        count = read_small_whole(str(alike[0].get("alike", ""))) or 0
        alike[0]["alike"] = str(min(count + 1, MOST_ALIKE))
    elif blank:
        blank[0]["surface"] = wanted
    elif len(rows) < MOST_ROWS:
        rows.append({"surface": wanted, "technique": technique})
