"""A delivery file of ten thousand lines, beside a bare bulk insert of the entries it makes. It needs no ledger."""

import hashlib
import itertools
from functools import partial

from django.db import connection, transaction

from inventory.ledger.ledger_rows import EntryRow, PostingRow
from inventory.ledger.models import Entry, Posting
from inventory.materials.models import Supplier
from inventory.purchasing.actions.delivery_facts import DeliveryHeader
from inventory.purchasing.file_import.actions import receive_file
from inventory.purchasing.models import Delivery
from studio.accounts.models import User
from tests import making
from tests.benchmarks.figures import Figure, side_by_side
from tests.benchmarks.loading import as_stored, insert
from tests.benchmarks.works import memory
from tests.days import TODAY
from tests.faults.jobs import Meet, Say

ROWS, MATERIALS = 10_000, 300
numbers = itertools.count(1)


def import_delivery(*, runs: int, part: int, say: Say, meet: Meet) -> list[Figure]:
    """Read, check and post the whole file, beside its entries and the posting over them: seal included in both."""
    rows, before = max(2, ROWS // part), memory()
    owner, supplier = making.make_owner(), making.make_supplier()
    names = [making.make_material().name for _ in range(min(rows, MATERIALS))]
    receive = partial(_receive, rows, names, supplier, owner)
    posting = receive().posting
    if posting.lines != 2 * rows:
        raise ValueError(f"The delivery has {posting.lines} entries, not {2 * rows}.")
    note = f"{memory() - before:.0f} MB more memory at its peak"
    entries = [EntryRow(*entry) for entry in posting.entries.values_list(*EntryRow._fields)]
    bare = partial(_bare_insert, posting, entries)
    work = f"P9 import {rows:,} delivery lines"
    return [side_by_side(work, receive, bare, runs=max(1, runs // 4), note=note)]


def _receive(rows: int, names: list[str], supplier: Supplier, by: User) -> Delivery:
    """A file that was never sent before: the batch is its own."""
    batch, lines = f"B{next(numbers)}", ["material,quantity,packs,price,batch"]
    lines += [
        f"{names[row % len(names)]},{250 + row % 500} ml,{1 + row % 4},{3 + row % 90}.{row % 100:02},{batch}"
        for row in range(rows)
    ]
    header = DeliveryHeader(supplier, TODAY, home_currency="GBP", currency="GBP")
    return receive_file(
        raw="\n".join(lines).encode(), header=header, submission=making.make_submission(by=by)
    ).delivery


@transaction.atomic
def _bare_insert(posting: Posting, entries: list[EntryRow]) -> None:
    """The same entries once more, under the next number."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT last_number, last_hash FROM inventory_books WHERE id = 1")
        number, link = cursor.fetchone()
    number += 1
    facts = {name: getattr(posting, name) for name in PostingRow._fields}
    key = f"by hand {number}"
    seal = hashlib.sha256(f"{link}{key}".encode()).hexdigest()
    row = PostingRow(**facts | {"number": number, "key": key, "previous_hash": link, "hash": seal})
    insert(Entry, EntryRow._fields, (entry._replace(posting_id=number) for entry in entries), copying=True)
    insert(Posting, PostingRow._fields, [as_stored(row)], copying=False)
