"""What is no whole archive of this version is refused, and the studio stays as empty as it was."""

import tracemalloc
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as the_settings

from inventory.ledger import database_rules
from inventory.ledger.models import Posting
from inventory.materials.models import Material
from studio.accounts.models import User
from studio.archive import reading
from studio.archive.errors import ArchiveError
from studio.archive.importing import import_archive
from studio.archive.writing import export_archive
from tests.days import AT
from tests.making import make_material, money
from tests.studio.archive.stories import PHOTO, archived, contents, packed, resealed, with_rows
from tests.studio.backups.test_backups import books, environment  # noqa: F401 (a fixture)

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("own_folders")]


def refused(file: Path) -> str:
    """Why an archive is refused; nothing of it may be left behind."""
    with pytest.raises(ArchiveError) as refusal:
        import_archive(file, at=AT)
    assert not User.objects.exists()
    assert not Posting.objects.exists()
    assert database_rules.differences() == []
    root = Path(the_settings.MEDIA_ROOT)
    assert [path for path in root.rglob("*") if path.is_file()] == []
    return str(refusal.value)


def test_a_studio_that_is_not_empty_is_left_alone(tmp_path: Path) -> None:
    file = archived(tmp_path)
    make_material()
    with pytest.raises(ArchiveError, match="not empty"):
        import_archive(file, at=AT)
    assert Material.objects.count() == 1
    assert not User.objects.exists()


def test_a_file_that_is_no_archive_is_refused(tmp_path: Path) -> None:
    (tmp_path / "note.zip").write_bytes(b"not a zip at all")
    refused(tmp_path / "note.zip")
    refused(packed(tmp_path / "other.zip", {"hello.txt": b"hello"}))
    refused(tmp_path / "no such file.zip")


def test_a_cut_archive_is_refused(tmp_path: Path) -> None:
    file = archived(tmp_path)
    file.write_bytes(file.read_bytes()[:-2000])
    refused(file)


@pytest.mark.parametrize(
    "name", ["README.md", "data/inventory_entry.jsonl", "csv/costing_sale.csv", f"photos/{PHOTO}"]
)
def test_a_changed_file_is_refused(tmp_path: Path, name: str) -> None:
    files = contents(archived(tmp_path))
    assert name in refused(packed(tmp_path / "changed.zip", {**files, name: files[name] + b" "}))


@pytest.mark.parametrize("change", [{"format": 2}, {"format": True}, {"archive": "another"}, {"format": "1"}])
def test_another_format_is_refused(tmp_path: Path, change: dict[str, Any]) -> None:
    files = resealed(contents(archived(tmp_path)), lambda manifest: manifest.update(change))
    assert "format" in refused(packed(tmp_path / "other.zip", files))


def test_an_older_versions_archive_is_refused_though_its_tables_look_alike(tmp_path: Path) -> None:
    files = contents(archived(tmp_path))
    older = resealed(files, lambda manifest: manifest["migrations"].remove("costing.0001_initial"))
    assert "costing.0001_initial" in refused(packed(tmp_path / "older.zip", older))


@pytest.mark.parametrize("part", ["made_at", "migrations", "tables", "files", "totals", "archive", "format"])
@pytest.mark.parametrize("value", [None, 7, "gone"])
def test_a_manifest_without_one_of_its_parts_is_refused(tmp_path: Path, part: str, value: object) -> None:
    def spoil(manifest: dict[str, Any]) -> None:
        manifest[part] = value
        if value == "gone":
            manifest.pop(part)

    refused(packed(tmp_path / "spoilt.zip", resealed(contents(archived(tmp_path)), spoil)))


def test_other_tables_and_newer_migrations_are_refused(tmp_path: Path) -> None:
    files = contents(archived(tmp_path))
    changes: list[Callable[[dict[str, Any]], object]] = [
        lambda manifest: manifest["tables"]["costing_piece"]["columns"].append("glaze"),
        lambda manifest: manifest["tables"].pop("costing_piece"),
        lambda manifest: manifest["migrations"].append("costing.9999_later"),
    ]
    for change in changes:
        refused(packed(tmp_path / "other.zip", resealed(files, lambda manifest, do=change: do(manifest))))  # type: ignore[misc]


@pytest.mark.parametrize(
    "name",
    [
        "../outside.txt",
        "photos/../../outside.jpg",
        "/etc/outside",
        "photos\\outside.jpg",
        "data/x/../y.jsonl",
        "C:outside",
    ],
)
def test_a_name_that_leads_elsewhere_is_refused(tmp_path: Path, name: str) -> None:
    files = resealed({**contents(archived(tmp_path)), name: b"outside"})
    refused(packed(tmp_path / "other.zip", files))
    assert list(tmp_path.rglob("outside*")) == []


def test_a_link_is_refused(tmp_path: Path) -> None:
    files = contents(archived(tmp_path))
    files.pop(f"photos/{PHOTO}")
    file = packed(tmp_path / "other.zip", resealed({**files, "photos/link.jpg": b"/etc/passwd"}))
    with zipfile.ZipFile(file) as archive:
        held = {name: archive.read(name) for name in archive.namelist()}
    with zipfile.ZipFile(file, "w") as archive:
        for name, content in held.items():
            entry = zipfile.ZipInfo(name)
            entry.external_attr = (0o120777 if name.startswith("photos/") else 0o100600) << 16
            archive.writestr(entry, content)
    refused(file)


def test_a_photo_name_in_a_row_never_leads_out_of_the_folder(tmp_path: Path) -> None:
    files = with_rows(
        contents(archived(tmp_path)), "costing_piece", lambda rows: rows[0].update(photo="../../secret.jpg")
    )
    assert "photo" in refused(packed(tmp_path / "other.zip", files))


def test_a_bomb_is_refused_by_what_comes_out_of_it_whatever_it_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its manifest is true to it; only what is read counts. In little: a thousandfold, with a small allowance."""
    monkeypatch.setattr(reading, "ALWAYS_ALLOWED", 1024 * 1024)
    files = contents(archived(tmp_path))
    bomb = resealed({**files, "csv/costing_sale.csv": b"0" * 200 * 1024 * 1024})
    tracemalloc.start()
    file = packed(tmp_path / "bomb.zip", bomb)
    del bomb, files
    tracemalloc.reset_peak()
    before = tracemalloc.get_traced_memory()[0]
    assert "far larger" in refused(file)
    assert tracemalloc.get_traced_memory()[1] - before < 16 * 1024 * 1024
    tracemalloc.stop()


def test_a_photo_that_is_no_picture_is_refused(tmp_path: Path) -> None:
    files = contents(archived(tmp_path))
    script = resealed({**files, f"photos/{PHOTO}": b"<script>alert(1)</script>"})
    assert "not a picture" in refused(packed(tmp_path / "other.zip", script))


def test_a_photo_too_large_to_be_one_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reading, "LARGEST_PHOTO", 1000)
    assert "far larger" in refused(archived(tmp_path))


def test_a_line_without_end_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reading, "LONGEST_LINE", 100)
    assert "Line 1" in refused(archived(tmp_path))


@pytest.mark.parametrize(
    ("table", "column", "value"),
    [
        ("inventory_entry", "money", 1.5),
        ("inventory_entry", "money", "1"),
        ("inventory_entry", "money", True),
        ("inventory_entry", "money", 2**70),
        ("inventory_entry", "effective_on", "yesterday"),
        ("inventory_posting", "recorded_at", "2025-06-01T10:00:00"),
        ("inventory_posting", "kind", "a word far too long for its column"),
        ("inventory_material", "name", None),
        ("inventory_material", "name", "nul\0"),
        ("inventory_material", "name", "half a pair \ud800"),
        ("inventory_material", "is_archived", 1),
        ("inventory_lot", "material_id", 987_654_321),
        ("inventory_entry", "place", "moon"),
    ],
)
def test_a_value_that_cannot_be_is_refused(tmp_path: Path, table: str, column: str, value: Any) -> None:
    files = with_rows(contents(archived(tmp_path)), table, lambda rows: rows[0].update({column: value}))
    refused(packed(tmp_path / "other.zip", files))


def test_books_that_were_tampered_with_are_refused_however_well_they_are_sealed(tmp_path: Path) -> None:
    """A pound more on both sides of a movement: it balances, and only the chain of hashes tells."""

    def dearer(rows: list[dict[str, Any]]) -> None:
        rows[0]["money"] -= money(1)
        rows[1]["money"] += money(1)

    files = contents(archived(tmp_path))
    refused(packed(tmp_path / "other.zip", with_rows(files, "inventory_entry", dearer)))


def test_a_missing_row_is_refused(tmp_path: Path) -> None:
    files = contents(archived(tmp_path))
    refused(packed(tmp_path / "fewer.zip", with_rows(files, "inventory_entry", lambda rows: rows.pop())))
    other_count = resealed(files, lambda manifest: manifest["tables"]["inventory_lot"].update(rows=1))
    refused(packed(tmp_path / "count.zip", other_count))
    other_totals = resealed(files, lambda manifest: manifest["totals"].update(postings=1))
    refused(packed(tmp_path / "totals.zip", other_totals))


def test_a_photo_that_is_there_already_is_never_replaced(tmp_path: Path) -> None:
    file = archived(tmp_path)
    there = Path(the_settings.MEDIA_ROOT) / PHOTO
    there.parent.mkdir(parents=True)
    there.write_bytes(b"another picture")
    with pytest.raises(ArchiveError, match="another file"):
        import_archive(file, at=AT)
    assert there.read_bytes() == b"another picture"


def test_an_export_never_replaces_a_file(tmp_path: Path) -> None:
    (tmp_path / "archive.zip").write_bytes(b"mine")
    with pytest.raises(ArchiveError):
        export_archive(tmp_path / "archive.zip", at=AT)
    assert (tmp_path / "archive.zip").read_bytes() == b"mine"
