"""Backups of real books: restored whole, refused when anything is wrong. Under load: tests/faults."""

import os
import sqlite3
import stat
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command
from django.db import connection, connections, transaction
from django.test import Client
from pytest_django import DjangoDbBlocker, Settings

from inventory.ledger import database_rules
from inventory.ledger.models import Books, Entry
from studio.accounts.models import User
from studio.backups import postgresql as backup_postgresql
from studio.backups.actions import backup_into, backup_key, last_good_backup, make_backup, restore_backup
from studio.backups.archive import BackupError, Manifest, pack, read_manifest, unpack
from studio.backups.models import Backup
from studio.operations import database_guard as serving
from tests import making
from tests.days import AT, DAY

on_sqlite = pytest.mark.skipif(
    "sqlite" not in settings.DATABASES["default"]["ENGINE"], reason="about SQLite files"
)

KEY = "the studio's own"
OPENING = "import django; django.setup(); from studio.models import Studio; Studio.current()"


def fresh_books(folder: Path, name: str) -> str:
    """A database of its own with the migrated tables and the first rows; its file, or its name on a server."""
    if connection.vendor == "sqlite":
        connection.ensure_connection()
        with closing(sqlite3.connect(folder / name)) as copy:
            connection.connection.backup(copy)
        return str(folder / name)
    template, fresh = connection.settings_dict["NAME"], f"{connection.settings_dict['NAME']}_{name}"
    connections.close_all()
    with connection._nodb_cursor() as cursor:
        cursor.execute(f'DROP DATABASE IF EXISTS "{fresh}"')
        cursor.execute(f'CREATE DATABASE "{fresh}" TEMPLATE "{template}"')
    return fresh


def drop_books(name: str) -> None:
    """On a server, take away a test's databases, those kept by restores included."""
    if connection.vendor == "sqlite":
        return
    with connection._nodb_cursor() as cursor:
        cursor.execute("SELECT datname FROM pg_database WHERE starts_with(datname, %s)", [name])
        for (found,) in cursor.fetchall():
            cursor.execute(f'DROP DATABASE "{found}"')


@pytest.fixture
def books(
    tmp_path: Path, settings: Settings, django_db_setup: None, django_db_blocker: DjangoDbBlocker
) -> Iterator[str]:
    """Committed books in a database of their own, open as the default one."""
    settings.DATA_DIR, settings.MEDIA_ROOT = tmp_path, tmp_path / "photos"
    settings.BACKUPS, settings.BACKUP_KEY = tmp_path / "backups", KEY
    with django_db_blocker.unblock():
        usual = connections["default"]
        name = fresh_books(tmp_path, "own")
        connections["default"] = type(usual)({**usual.settings_dict, "NAME": name}, alias="default")
        try:
            yield name
        finally:
            connections["default"].close()
            connections["default"] = usual
            drop_books(name)


@pytest.fixture(scope="module")
def good(
    tmp_path_factory: pytest.TempPathFactory, django_db_setup: None, django_db_blocker: DjangoDbBlocker
) -> Path:
    """One good backup of books with three postings and one photo, made once for the tests that only read it."""
    folder = tmp_path_factory.mktemp("good")
    with django_db_blocker.unblock(), pytest.MonkeyPatch.context() as patch:
        patch.setattr(settings, "DATA_DIR", folder)
        patch.setattr(settings, "MEDIA_ROOT", folder / "photos")
        patch.setattr(settings, "BACKUP_KEY", KEY)
        usual = connections["default"]
        name = fresh_books(folder, "good")
        connections["default"] = type(usual)({**usual.settings_dict, "NAME": name}, alias="default")
        try:
            post(3)
            photo = folder / "photos" / "pieces" / "0a1b.jpg"
            photo.parent.mkdir(parents=True)
            photo.write_bytes(b"a picture of a pour")
            make_backup(folder / "good.zip", at=AT)
        finally:
            connections["default"].close()
            connections["default"] = usual
            drop_books(name)
    return folder / "good.zip"


def post(count: int) -> None:
    for _ in range(count):
        making.make_lot()


def environment(name: str) -> dict[str, str]:
    """The environment of another process that works on these books."""
    url = f"sqlite:///{name}" if connection.vendor == "sqlite" else backup_postgresql._url(name)
    return {**os.environ, "DATABASE_URL": url, "DJANGO_SETTINGS_MODULE": "studio.settings"}


def state() -> tuple[int, str]:
    head = Books.objects.get()
    return head.last_number, head.last_hash


def test_it_keeps_a_record_of_the_last_good_backup(books: str, tmp_path: Path) -> None:
    assert last_good_backup() is None
    Backup.objects.create(made_at=AT + DAY, path="/later/failed.zip", ok=False)
    post(1)
    old = [tmp_path / "backups" / f"meniscus-2025060{day}T120000.000Z.zip" for day in (1, 2, 3)]
    stranger = tmp_path / "backups" / "meniscus-holiday.zip"
    stranger.parent.mkdir()
    for path in [*old, stranger]:
        path.write_bytes(b"")

    made = backup_into(tmp_path / "backups", at=AT, keep=2)

    assert last_good_backup() == made
    assert made.path == str(tmp_path / "backups" / "meniscus-20250610T143000.000Z.zip")
    assert made.size == Path(made.path).stat().st_size
    assert stat.S_IMODE(Path(made.path).stat().st_mode) == 0o600
    assert sorted((tmp_path / "backups").iterdir()) == [old[2], Path(made.path), stranger]
    with pytest.raises(BackupError, match="already exists"):
        make_backup(Path(made.path), at=AT)
    assert not Backup.objects.get(made_at=AT, ok=False).ok


def test_it_refuses_to_call_broken_books_a_backup(books: str, tmp_path: Path) -> None:
    post(1)
    database_rules.remove()
    Entry.objects.update(money=5)
    database_rules.install()
    with pytest.raises(BackupError, match="fails its checks") as refused:
        make_backup(tmp_path / "broken.zip", at=AT)
    assert "Traceback" not in str(refused.value)
    assert "raise " not in str(refused.value)
    assert [path for path in tmp_path.iterdir() if "broken" in path.name or path.name.startswith(".")] == []
    assert last_good_backup() is None
    assert "fails its checks" in Backup.objects.get().note


@on_sqlite
def test_a_restore_replaces_a_ruined_file_and_the_log_beside_it(
    books: str, good: Path, tmp_path: Path
) -> None:
    connections["default"].close()
    Path(books).write_bytes(b"SQLite format 3\0 and then nothing that makes sense")
    Path(f"{books}-wal").write_bytes(b"a log of other books")

    kept = restore_backup(good, at=AT)

    assert state() == (3, read_manifest(good, key=backup_key()).totals["last_hash"])
    assert (tmp_path / "photos" / "pieces" / "0a1b.jpg").read_bytes() == b"a picture of a pour"
    folder = next(tmp_path.glob("before-restore-*"))
    assert str(folder) in kept
    assert (folder / "own").read_bytes().startswith(b"SQLite format 3\0 and")
    assert (folder / "own-wal").read_bytes() == b"a log of other books"
    assert stat.S_IMODE(Path(books).stat().st_mode) == 0o600


@on_sqlite
def test_a_restore_keeps_what_was_there_as_whole_books(books: str, good: Path, tmp_path: Path) -> None:
    post(5)
    before = state()
    photo = tmp_path / "photos" / "pieces" / "0a1b.jpg"
    photo.parent.mkdir(parents=True)
    photo.write_bytes(b"another picture")

    call_command("restore", str(good), "--yes")

    folder = next(tmp_path.glob("before-restore-*"))
    with closing(sqlite3.connect(folder / "own")) as old:
        assert old.execute("SELECT last_number, last_hash FROM inventory_books").fetchone() == before
    assert (folder / "photos" / "pieces" / "0a1b.jpg").read_bytes() == b"another picture"
    assert photo.read_bytes() == b"a picture of a pour"
    restored = last_good_backup()
    assert restored is not None
    assert restored.note == "The data was restored from this file."
    assert not list(tmp_path.glob(".backup-*"))


def test_it_refuses_to_restore_while_another_process_uses_the_books(books: str, good: Path) -> None:
    post(1)
    before = state()
    holding = f"{OPENING}; print(1, flush=True); input()"
    with subprocess.Popen(
        [sys.executable, "-c", holding],
        env=environment(books),
        cwd=settings.BASE_DIR,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    ) as other:
        assert other.stdout
        other.stdout.readline()
        try:
            with pytest.raises(BackupError, match="Stop the server"):
                restore_backup(good, at=AT)
        finally:
            other.kill()
    assert state() == before


@on_sqlite
def test_nobody_can_open_the_books_during_a_restore(books: str) -> None:
    connections["default"].close()
    with serving.alone(Path(books)):
        done = subprocess.run(
            [sys.executable, "-c", OPENING],
            env=environment(books),
            cwd=settings.BASE_DIR,
            capture_output=True,
            text=True,
            check=False,
        )
    assert done.returncode == 1
    assert "A backup is being restored" in done.stderr


def repacked(good: Path, folder: Path, **facts: Any) -> Path:
    """The good backup's content under a manifest that says something else, sealed as it should be."""
    said: Manifest = unpack(good, folder / "unpacked", key=backup_key())
    files = {name: folder / "unpacked" / name for name in said.members}
    kept = {name: getattr(said, name) for name in ("made_at", "vendor", "migrations", "totals")}
    pack(folder / "repacked.zip", **{**kept, "files": files, "key": backup_key(), **facts})
    return folder / "repacked.zip"


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({"migrations": ["inventory.0999_from_the_future"]}, "newer version of Meniscus"),
        ({"vendor": "elsewhere"}, "backup of a elsewhere database"),
        ({"files": {}}, "contains no database"),
    ],
)
def test_it_refuses_what_does_not_belong_here(
    books: str, good: Path, tmp_path: Path, facts: dict[str, Any], words: str
) -> None:
    before = state()
    with pytest.raises(BackupError, match=words):
        restore_backup(repacked(good, tmp_path, **facts), at=AT)
    assert state() == before


def test_it_refuses_books_that_are_not_those_the_manifest_describes(
    books: str, good: Path, tmp_path: Path
) -> None:
    before = state()
    totals = {**read_manifest(good, key=backup_key()).totals, "postings": 4}
    with pytest.raises(CommandError, match="not what its manifest describes"):
        call_command("restore", str(repacked(good, tmp_path, totals=totals)), "--yes")
    assert state() == before
    assert not list(tmp_path.glob(".backup-*"))


@on_sqlite
def test_it_refuses_books_with_a_trigger_of_somebody_elses(books: str, good: Path, tmp_path: Path) -> None:
    before = state()
    path = repacked(good, tmp_path)
    with closing(sqlite3.connect(tmp_path / "unpacked" / "database.sqlite3")) as opened:
        opened.execute(
            "CREATE TRIGGER tidy AFTER INSERT ON inventory_lot BEGIN DELETE FROM inventory_reason; END"
        )
    path.unlink()
    (tmp_path / "again").mkdir()
    said = read_manifest(good, key=backup_key())
    kept = {name: getattr(said, name) for name in ("made_at", "vendor", "migrations", "totals")}
    files = {name: tmp_path / "unpacked" / name for name in said.members}
    pack(path, **kept, files=files, key=backup_key())
    with pytest.raises(BackupError, match="tidy is not part of Meniscus"):
        restore_backup(path, at=AT)
    assert state() == before


def test_a_backup_of_another_studio_is_restored_only_when_that_is_asked_for(
    books: str, good: Path, tmp_path: Path
) -> None:
    path, before = repacked(good, tmp_path, key=b"another studio's"), state()
    with pytest.raises(CommandError, match="not sealed with this studio's backup key"):
        call_command("restore", str(path), "--yes")
    assert state() == before
    call_command("restore", str(path), "--yes", "--any-key")


def test_the_backup_key_is_made_once_for_its_owner_alone_and_is_in_no_backup(
    books: str, tmp_path: Path, settings: Settings
) -> None:
    assert backup_key() == KEY.encode()
    settings.BACKUP_KEY = ""
    made = make_backup(tmp_path / "own.zip", at=AT)
    file = Path(settings.DATA_DIR) / "backup.key"
    assert backup_key() == backup_key() == file.read_bytes()
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert not any("key" in name for name in read_manifest(Path(made.path), key=backup_key()).members)


def test_the_command_asks_before_it_replaces_anything(
    books: str, good: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("builtins.input", lambda prompt: "no")
    before = state()
    with pytest.raises(CommandError, match="Nothing was changed"):
        call_command("restore", str(good))
    assert state() == before
    assert "3 postings, 1 photos" in capsys.readouterr().out


@on_sqlite
def test_it_refuses_to_start_in_the_middle_of_a_change(books: str, tmp_path: Path) -> None:
    with transaction.atomic(), pytest.raises(BackupError, match="middle of a change"):
        make_backup(tmp_path / "x.zip", at=AT)


def test_the_server_does_not_start_on_books_whose_rules_were_altered(books: str) -> None:
    database_rules.remove()
    done = subprocess.run(
        [sys.executable, "-c", "import studio.wsgi"],
        env=environment(books),
        cwd=settings.BASE_DIR,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1
    assert "Not starting: Ledger rule meniscus_" in done.stderr


@pytest.mark.parametrize("words", [["x.zip", "--to", "folder"], ["x.zip", "--keep", "3"], ["--keep", "0"]])
def test_the_command_refuses_words_that_contradict_each_other(words: list[str]) -> None:
    with pytest.raises(CommandError):
        call_command("backup", *words)


def test_the_owner_makes_and_fetches_a_backup(books: str, client: Client) -> None:
    client.force_login(making.make_owner())
    assert b"No backup yet" in client.get("/backups/").content
    page = client.post("/backups/now/", follow=True)
    made = last_good_backup()
    assert made is not None, Backup.objects.get().note
    assert made.name.encode() in page.content
    file = client.get(f"/backups/{made.pk}/")
    assert file.headers["Content-Disposition"] == f'attachment; filename="{made.name}"'
    assert b"".join(file.streaming_content) == Path(made.path).read_bytes()  # type: ignore[attr-defined]


def test_a_backup_elsewhere_or_gone_is_listed_and_not_served(
    owner: User, client: Client, tmp_path: Path, settings: Settings
) -> None:
    settings.BACKUPS = tmp_path / "backups"
    elsewhere = tmp_path / "<b>elsewhere.zip"
    elsewhere.write_bytes(b"secret")
    client.force_login(owner)
    for path in (elsewhere, tmp_path / "backups" / "gone.zip", tmp_path / "backups" / ".." / elsewhere.name):
        backup = Backup.objects.create(made_at=AT, path=str(path), ok=True, size=6)
        assert client.get(f"/backups/{backup.pk}/").status_code == 404
    page = client.get("/backups/").content
    assert b"&lt;b&gt;elsewhere.zip" in page
    assert b"<b>elsewhere" not in page


@pytest.mark.parametrize("role", ["helper", "bookkeeper"])
def test_only_the_owner_sees_backups(role: str, client: Client, request: pytest.FixtureRequest) -> None:
    client.force_login(request.getfixturevalue(role))
    backup = Backup.objects.create(made_at=AT, path="/x/y.zip", ok=True)
    assert client.get("/backups/").status_code == 403
    assert client.post("/backups/now/").status_code == 403
    assert client.get(f"/backups/{backup.pk}/").status_code == 403


def test_the_list_takes_as_many_queries_for_many_backups_as_for_few(
    owner: User, client: Client, django_assert_max_num_queries: Any
) -> None:
    client.force_login(owner)
    for count in range(40):
        Backup.objects.create(made_at=AT + timedelta(minutes=count), path=f"/x/{count}.zip", ok=True)
    with django_assert_max_num_queries(8):
        assert b"39.zip" in client.get("/backups/").content
