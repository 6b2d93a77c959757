"""Rows of imported tables: which were posted, each under a key of its contents, and which day is refused."""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date

from inventory.errors import day_in_words
from inventory.ledger.models import Posting
from studio.imports.cells import Cells
from studio.translation import _

KEY = "import-"


@dataclass(slots=True)
class PostedRows:
    """The keys of rows, each with what became of its postings: whether they stand."""

    postings: dict[str, list[bool]] = field(default_factory=lambda: defaultdict(list))

    @classmethod
    def read(cls) -> "PostedRows":
        """Those of the whole ledger, whoever imported them."""
        rows = cls()
        for key, reversed_by in Posting.objects.filter(key__startswith=KEY).values_list("key", "reversed_by"):
            rows.postings[key.removeprefix(KEY).rpartition("-")[0]].append(reversed_by is None)
        return rows

    def stands(self, row: str) -> bool:
        """Whether a row is posted and not reversed."""
        return any(self.postings.get(row, ()))

    def key_for(self, row: str) -> str:
        """The idempotency key under which a row is posted next."""
        return f"{KEY}{row}-{len(self.postings.get(row, ()))}"

    def keep(self, row: str) -> None:
        """It is posted by now."""
        self.postings[row].append(True)


def refuse_day(cells: Cells, day: date | None, *, today: date, closed_through: date | None) -> None:
    """Note at its column `on` that a day, or today where a row has none, is ahead or in a closed period."""
    if day is not None and day > today:
        cells.note("on", _("{day} is still to come.", day=day_in_words(day)))
    elif closed_through is not None and (day or today) <= closed_through:
        cells.note("on", _("The books are closed through {day}.", day=day_in_words(closed_through)))
