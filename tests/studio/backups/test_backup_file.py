"""The backup file: sealed when written, and refused when anything about it is not as it was."""

import hmac
import json
import shutil
import stat
import zipfile
from hashlib import sha256
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from hypothesis import given
from hypothesis import strategies as st

from studio.backups import archive as backup_file
from studio.backups.archive import FORMAT, SEAL, BackupError, pack, read_manifest, unpack

KEY = b"the studio's own"
PHOTO = "photos/pieces/0a1b.jpg"


def packed(folder: Path, name: str = "good.zip", **facts: Any) -> Path:
    """A small backup: a database of 4,000 bytes and one photo."""
    database, photo = folder / "d", folder / "p"
    database.write_bytes(bytes(range(250)) * 16)
    photo.write_bytes(b"a picture")
    said = {"made_at": "2025-06-10T14:30:00+00:00", "vendor": "sqlite", "migrations": [], "totals": {}}
    files = {"database.sqlite3": database, PHOTO: photo}
    pack(folder / name, **{**said, "files": files, "key": KEY, **facts})
    return folder / name


def resealed(path: Path) -> Path:
    """The same file with a fitting seal: what somebody who tampers on purpose and has the key would hand over."""
    content = path.read_bytes()[:-SEAL]
    seal = hmac.new(KEY, content, "sha256").hexdigest()
    path.write_bytes(content + f"{sha256(content).hexdigest()}{seal}".encode())
    return path


def forged(folder: Path, contents: dict[str | zipfile.ZipInfo, bytes], **manifest: Any) -> Path:
    """A well-sealed file with whatever members and manifest."""
    path = folder / "forged.zip"
    named = {
        getattr(name, "filename", name): {"size": len(content), "sha256": sha256(content).hexdigest()}
        for name, content in contents.items()
    }
    said = {
        "format": FORMAT,
        "made_at": "",
        "vendor": "sqlite",
        "migrations": [],
        "totals": {},
        "members": named,
    }
    with zipfile.ZipFile(path, "w") as archive:
        for name, content in contents.items():
            archive.writestr(name, content)
        archive.writestr("manifest.json", json.dumps({**said, **manifest}))
        archive.comment = b"0" * SEAL
    return resealed(path)


def test_it_gives_back_every_byte_and_names_its_owner_alone_as_reader(tmp_path: Path) -> None:
    path = packed(tmp_path)
    manifest = unpack(path, tmp_path / "out", key=KEY)
    assert (tmp_path / "out" / "database.sqlite3").read_bytes() == bytes(range(250)) * 16
    assert (tmp_path / "out" / PHOTO).read_bytes() == b"a picture"
    assert manifest.members[PHOTO].sha256 == sha256(b"a picture").hexdigest()
    for file in (path, tmp_path / "out" / "database.sqlite3", tmp_path / "out" / PHOTO):
        assert stat.S_IMODE(file.stat().st_mode) == 0o600


def test_it_never_writes_over_a_file(tmp_path: Path) -> None:
    packed(tmp_path)
    with pytest.raises(FileExistsError):
        packed(tmp_path)


@given(data=st.data())
def test_it_refuses_a_file_with_any_one_bit_flipped(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    folder = tmp_path_factory.mktemp("flipped")
    content = bytearray(packed(folder).read_bytes())
    place = data.draw(st.integers(0, len(content) - 1))
    content[place] ^= 1 << data.draw(st.integers(0, 7))
    (folder / "bad.zip").write_bytes(content)
    with pytest.raises(BackupError):
        read_manifest(folder / "bad.zip", key=KEY)


@given(share=st.floats(0, 1, exclude_max=True))
def test_it_refuses_a_file_that_was_cut_short(tmp_path_factory: pytest.TempPathFactory, share: float) -> None:
    folder = tmp_path_factory.mktemp("cut")
    content = packed(folder).read_bytes()
    (folder / "bad.zip").write_bytes(content[: int(len(content) * share)])
    with pytest.raises(BackupError, match="damaged, incomplete"):
        read_manifest(folder / "bad.zip", key=KEY)


@pytest.mark.parametrize(
    "name",
    [
        "../outside",
        "photos/../../outside",
        "/etc/passwd",
        "photos//etc/passwd",
        "C:\\outside",
        "photos/..\\outside",
        "photos/.hidden",
        "manage.py",
        "database.sqlite3/x",
        "photos/a\nb",
        "photos/",
    ],
)
def test_it_refuses_a_member_whose_name_leads_elsewhere(tmp_path: Path, name: str) -> None:
    inner = tmp_path / "inner"
    with pytest.raises(BackupError):
        unpack(forged(tmp_path, {"database.sqlite3": b"x", name: b"x"}), inner, key=KEY)
    assert not inner.exists()
    assert not (tmp_path / "outside").exists()


def test_it_refuses_a_link(tmp_path: Path) -> None:
    link = zipfile.ZipInfo("photos/link")
    link.external_attr = (stat.S_IFLNK | 0o777) << 16
    with pytest.raises(BackupError, match="link"):
        unpack(
            forged(tmp_path, {"database.sqlite3": b"x", link: b"/etc/passwd"}), tmp_path / "inner", key=KEY
        )


def test_it_refuses_a_newer_format_and_says_which_it_reads(tmp_path: Path) -> None:
    path = forged(tmp_path, {"database.sqlite3": b"x"}, format=FORMAT + 1)
    with pytest.raises(BackupError, match=f"format {FORMAT + 1}.*reads format {FORMAT}"):
        read_manifest(path, key=KEY)


def test_it_refuses_members_that_the_manifest_does_not_name(tmp_path: Path) -> None:
    with pytest.raises(BackupError, match="exactly"):
        read_manifest(forged(tmp_path, {"database.sqlite3": b"x", "photos/a": b"x"}, members={}), key=KEY)


def test_it_refuses_the_same_member_twice(tmp_path: Path) -> None:
    path = forged(tmp_path, {"database.sqlite3": b"x"})
    with zipfile.ZipFile(path, "a") as archive, pytest.warns(UserWarning, match="Duplicate"):
        archive.writestr("database.sqlite3", b"y")
    with pytest.raises(BackupError, match="exactly"):
        read_manifest(resealed(path), key=KEY)


def test_it_refuses_a_member_that_unpacks_to_more_than_it_admits(tmp_path: Path) -> None:
    facts = {"database.sqlite3": {"size": 10, "sha256": "0" * 64}}
    path = forged(tmp_path, {"database.sqlite3": b"0" * 5_000_000}, members=facts)
    with pytest.raises(BackupError, match="does not match its manifest"):
        unpack(path, tmp_path / "out", key=KEY)
    assert (tmp_path / "out" / "database.sqlite3").stat().st_size <= 10


@pytest.mark.parametrize("manifest", [{"members": 3}, {"extra": 1}, {"format": None}, {"totals": None}])
def test_it_refuses_a_manifest_it_cannot_read(tmp_path: Path, manifest: dict[str, Any]) -> None:
    with pytest.raises(BackupError):
        read_manifest(forged(tmp_path, {"database.sqlite3": b"x"}, **manifest), key=KEY)


@pytest.mark.parametrize("content", [b"", b"PK", b"not a zip" * 100])
def test_it_refuses_what_is_no_backup_at_all(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "x").write_bytes(content)
    with pytest.raises(BackupError):
        read_manifest(tmp_path / "x", key=KEY)
    with pytest.raises(BackupError):
        read_manifest(resealed(tmp_path / "x"), key=KEY)


def test_it_says_when_a_file_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(BackupError, match="No such file"):
        read_manifest(tmp_path / "missing.zip", key=KEY)


def test_photos_are_stored_and_the_database_is_compressed(tmp_path: Path) -> None:
    with zipfile.ZipFile(packed(tmp_path)) as archive:
        assert archive.getinfo(PHOTO).compress_type == zipfile.ZIP_STORED
        assert archive.getinfo("database.sqlite3").compress_type == zipfile.ZIP_DEFLATED
    assert backup_file.sha256_of(tmp_path / "p") == sha256(b"a picture").hexdigest()


def test_it_refuses_a_whole_file_that_was_sealed_with_another_key(tmp_path: Path) -> None:
    path = packed(tmp_path, key=b"of somebody else")
    with pytest.raises(BackupError, match="not sealed with this studio's backup key"):
        read_manifest(path, key=KEY)
    with pytest.raises(BackupError, match="not sealed with"):
        unpack(path, tmp_path / "out", key=KEY)
    assert read_manifest(path, key=None).vendor == "sqlite"


def test_a_seal_that_anybody_can_calculate_does_not_pass(tmp_path: Path) -> None:
    content = packed(tmp_path).read_bytes()[:-SEAL]
    digest = sha256(content).hexdigest()
    for second in (digest, "0" * 64, "ü" * 64):
        (tmp_path / "forged.zip").write_bytes(content + f"{digest}{second}".encode()[:SEAL])
        with pytest.raises(BackupError):
            read_manifest(tmp_path / "forged.zip", key=KEY)


@pytest.mark.parametrize("size", [21 * 1024**2, 2**70, -1])
def test_it_unpacks_no_more_than_a_photo_can_have_whatever_the_manifest_declares(
    tmp_path: Path, size: int
) -> None:
    members = {
        "database.sqlite3": {"size": 1, "sha256": sha256(b"x").hexdigest()},
        PHOTO: {"size": size, "sha256": sha256(b"x").hexdigest()},
    }
    path = forged(tmp_path, {"database.sqlite3": b"x", PHOTO: b"x"}, members=members)
    (tmp_path / "out").mkdir()
    with pytest.raises(BackupError, match="more than any backup does"):
        unpack(path, tmp_path / "out", key=KEY)
    assert list((tmp_path / "out").iterdir()) == []


def test_it_refuses_what_the_disk_has_no_room_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    usage = shutil.disk_usage(tmp_path)
    monkeypatch.setattr(shutil, "disk_usage", lambda folder: usage._replace(free=4_000))
    (tmp_path / "out").mkdir()
    with pytest.raises(BackupError, match="not enough room"):
        unpack(packed(tmp_path), tmp_path / "out", key=KEY)


def test_a_restore_without_a_terminal_says_what_to_add(
    tmp_path: Path, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.BACKUP_KEY = KEY.decode()
    monkeypatch.setattr("sys.stdin", StringIO())
    with pytest.raises(CommandError, match="add --yes"):
        call_command("restore", str(packed(tmp_path)), stdout=StringIO())
