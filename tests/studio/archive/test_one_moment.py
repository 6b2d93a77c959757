"""An archive shows one moment while others go on writing, and is never all in memory."""

import subprocess
import sys
import tracemalloc
from pathlib import Path
from typing import Any

import pytest
from django.db import models

from inventory.materials.models import Supplier
from studio.archive import writing
from studio.archive.writing import export_archive
from tests.days import AT
from tests.studio.backups.test_backups import environment


def test_an_archive_shows_one_moment_while_others_write(
    books: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Somebody adds a supplier after the first table was read: it is in the studio, and not in the archive."""
    adding = (
        "import django; django.setup(); from inventory.materials.models import Supplier;"
        "Supplier(name='Late', country='GB', currency='GBP').save()"
    )
    add_table, at_first = writing._Writer.add_table, [True]

    def add_and_be_interrupted(self: Any, model: type[models.Model]) -> dict[str, Any]:
        added = add_table(self, model)
        if at_first.pop() if at_first else False:
            subprocess.run([sys.executable, "-c", adding], env=environment(books), check=True)
        return added

    monkeypatch.setattr(writing._Writer, "add_table", add_and_be_interrupted)
    manifest = export_archive(tmp_path / "archive.zip", at=AT)
    assert manifest["tables"]["inventory_supplier"]["rows"] == 0
    assert Supplier.objects.get().name == "Late"


@pytest.mark.django_db
def test_memory_stays_flat_however_many_rows_there_are(tmp_path: Path) -> None:
    def peak(name: str) -> int:
        tracemalloc.start()
        export_archive(tmp_path / name, at=AT)
        held = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return held

    peak("warm.zip")
    few = peak("few.zip")
    Supplier.objects.bulk_create(
        Supplier(name=f"Supplier {number}", country="GB", currency="GBP", notes="x" * 500)
        for number in range(8000)
    )
    assert peak("many.zip") < few + 8 * 1024 * 1024
