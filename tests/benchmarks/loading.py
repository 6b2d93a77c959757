"""Puts a told story into a database through the ledger's own seal: every trigger fires, every hash is true."""

import json
from collections.abc import Iterable, Sequence
from itertools import islice
from typing import Any, cast

from django.core.management.color import no_style
from django.db import connection, transaction
from django.db.models import Model

from inventory.ledger.ledger_rows import EntryRow, PostingRow
from inventory.ledger.models import Entry, Lot, Posting, Reason
from inventory.ledger.month_ends import keep_month_ends
from inventory.ledger.replay import FIRST_LINK
from inventory.materials.models import Kind, Material, Supplier
from inventory.purchasing.models import Delivery, DeliveryLine
from inventory.recipes.models import Mix, Recipe, RecipePart, RecipeVersion
from inventory.sessions.models import Pour, Session, Technique
from studio.auditing.chain import sealing, wrote
from studio.auditing.writing import create_all
from studio.submission import transaction as submitted
from tests import making
from tests.benchmarks.ten_years import FIRST_DAY, LAST_DAY, MADE, MATERIALS, SURFACES, Event, TenYears
from tests.faults.jobs import Meet, Say
from tests.inventory.posting_seals import posting_hash

POSTINGS_AT_A_TIME = 500


def load(*, entries: int, seed: int, say: Say, meet: Meet) -> dict[str, int]:
    """Fill an empty database with about so many entries, and say how much of everything there is."""
    owner, supplier = making.make_owner(), Supplier.objects.create(name="Long Pier Paints")
    _materials()
    story = TenYears(
        entries,
        seed,
        owner=owner.pk,
        supplier=supplier.pk,
        technique=Technique.objects.all()[0].pk,
        reason=Reason.objects.get(code="spilled").pk,
    )
    events, link = story.events(), FIRST_LINK
    while chunk := list(islice(events, POSTINGS_AT_A_TIME)):
        link = _write(chunk, link)
    _tidy_up()
    keep_month_ends(before=LAST_DAY)  # as the nightly check of the books does
    return {
        "postings": Posting.objects.count(),
        "entries": Entry.objects.count(),
        "lots": Lot.objects.count(),
    }


def _materials() -> None:
    """The materials the story names by number: surfaces, then what is made, then what is bought."""
    rows = []
    for number in range(1, MATERIALS + 1):
        facts: dict[str, Any] = {"kind": Kind.PAINT, "measure": "volume", "density": 1_120_000}
        if number <= SURFACES:
            facts = {
                "kind": Kind.SURFACE,
                "measure": "count",
                "height": 30_000,
                "width": 30_000,
                "depth": 1_800,
            }
        elif number <= SURFACES + MADE:
            facts["kind"] = Kind.MIX
        rows.append(Material(pk=number, name=f"Material {number:03}", **facts))
    made = [row for row in rows if row.kind == Kind.MIX]
    with submitted(None):  # one by one: the change log knows of them
        for row in (*rows, *(Recipe(pk=each.pk, name=each.name, makes=each) for each in made)):
            row.save(force_insert=True)
        create_all(RecipeVersion(pk=row.pk, recipe_id=row.pk, number=1, written_on=FIRST_DAY) for row in made)
        create_all(
            RecipePart(version_id=row.pk, material_id=part, parts=1_000, line=line)
            for row in made
            for line, part in enumerate((MATERIALS - row.pk, MATERIALS - row.pk - MADE), start=1)
        )


@transaction.atomic
def _write(chunk: Sequence[Event], link: str) -> str:
    """Write some postings with all that stands beside them, and return the chain's last link."""
    beside: dict[type[Model], list[Model]] = {Lot: []}  # entries ask for their lot's material
    for event in chunk:
        for written in event.beside:
            beside.setdefault(type(written), []).append(written)
    for model, rows in beside.items():
        model._default_manager.bulk_create(rows, batch_size=500)
    insert(Entry, EntryRow._fields, (entry for event in chunk for entry in event.entries), copying=True)
    sealed = []
    for event in chunk:
        row = event.posting._replace(previous_hash=link)
        link = posting_hash(cast(Posting, row), cast(list[Entry], event.entries))
        sealed.append(as_stored(row._replace(hash=link)))
    insert(Posting, PostingRow._fields, sealed, copying=False)
    for event in chunk:  # a transaction each, had they been entered
        with sealing():
            for written in event.beside:
                wrote(type(written), [written.pk])
    return link


def as_stored(row: PostingRow) -> list[Any]:
    """A posting's values as its database takes them."""
    adapted = {
        "confirmed": json.dumps(row.confirmed),
        "recorded_at": connection.ops.adapt_datetimefield_value(row.recorded_at),
        "effective_on": connection.ops.adapt_datefield_value(row.effective_on),
    }
    return [adapted.get(name, value) for name, value in row._asdict().items()]


def insert(
    model: type[Model], columns: Sequence[str], rows: Iterable[Sequence[Any]], *, copying: bool
) -> None:
    """Insert rows of plain values.

    A posting has to be sealed before the next one comes, so postings cannot be copied in one go.
    """
    names, table = ", ".join(columns), model._meta.db_table
    with connection.cursor() as cursor:
        if copying and connection.vendor == "postgresql":
            with cursor.copy(f"COPY {table} ({names}) FROM STDIN") as copy:
                for row in rows:
                    copy.write_row(row)
        else:
            places = ", ".join(["%s"] * len(columns))
            cursor.executemany(f"INSERT INTO {table} ({names}) VALUES ({places})", list(rows))


def _tidy_up() -> None:
    """On PostgreSQL, what its own housekeeping would have done by now, and sequences past the rows given numbers."""
    if connection.vendor != "postgresql":
        return
    numbered = [Material, Recipe, RecipeVersion, Lot, Delivery, DeliveryLine, Session, Mix, Pour]
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), numbered):
            cursor.execute(statement)
        cursor.execute("ANALYZE")
