"""Which rows of imported tables were posted: each under a key of its contents, again once it was reversed."""

from collections import defaultdict
from dataclasses import dataclass, field

from inventory.ledger.models import Posting

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
