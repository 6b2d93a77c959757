"""What a backup proves of the ledger: its head, and what every place holds."""

from typing import Any

from inventory.ledger.models import Books, Entry
from studio.backups.verification import Fetch, Proof


def ledger_totals(fetch: Fetch) -> dict[str, Any]:
    """How many postings there are, the last one's hash, and what every place holds, from one database's own rows."""
    books, entries = Books._meta.db_table, Entry._meta.db_table
    number, last_hash = fetch(f"SELECT last_number, last_hash FROM {books}")[0]  # noqa: S608 (our own table names)
    places = fetch(f"SELECT place, SUM(quantity), SUM(money) FROM {entries} GROUP BY place")  # noqa: S608
    return {
        "postings": int(number),
        "last_hash": str(last_hash),
        "places": {
            str(place): {"quantity": int(quantity), "money": int(money)} for place, quantity, money in places
        },
    }


LEDGER_PROOF = Proof(ledger_totals, "check_books")
