"""A studio goes out as an open archive and comes back the same: books, reports and photos; or nothing of it does."""

import csv
import io
import json
import os
import shutil
import subprocess
import sys
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.conf import settings as the_settings
from django.core.management import CommandError, call_command
from django.db import models
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from django_otp.plugins.otp_totp.models import TOTPDevice
from PIL import Image

from costing.earnings.queries import earned_by, fees_between
from costing.pieces.actions.photos import store_photo
from costing.pieces.models import Piece
from costing.pricing.queries import price_advice
from costing.selling.models import Sale
from inventory.ledger import database_rules
from inventory.ledger.models import Books, Entry, Posting
from inventory.ledger.verification import check
from inventory.materials.models import Supplier
from inventory.webhooks.models import Webhook
from studio.accounts.models import Token, User
from studio.accounts.tokens import add_token
from studio.archive.contents import archived_models, columns_of, models_left_out, table_name, unit_in_archive
from studio.archive.importing import import_archive
from studio.archive.writing import export_archive, rows_of
from studio.auditing.models import ChangeSeal
from studio.photos import listed_beside
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from tests.costing.selling.mistyped import corrected
from tests.days import AT, june
from tests.making import make_helper, make_lot, make_owner, make_submission
from tests.pictures import encoded
from tests.studio.archive.stories import PHOTO, PICTURE, archived, contents, gone_afterwards, photographed

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("own_folders")]


SEALS = table_name(ChangeSeal)


def everything() -> dict[str, list[Any]]:
    """Every row but the seals: an import adds one, that says what stayed behind."""
    return {table_name(model): list(rows_of(model)) for model in archived_models() if model is not ChangeSeal}


def reports(on: date) -> dict[str, Any]:
    """What the books and the pages say: where the money is, what was earned, what pieces may be sold for."""
    found = check()
    formatter = Formatter.of(Studio.current())
    earned = earned_by(Sale.objects.all(), formatter, fees_between(None, None, None, today=on))
    return {
        "clean": found.is_clean,
        "seal": found.last_hash,
        "stock": found.money,
        "earnings": earned.total,
        "channels": [(group.label, group.total) for group in earned.groups("channel")],
        "prices": [
            (piece.title, [(each.channel.name, each.floor, each.profit) for each in advice.channels])
            for piece in Piece.objects.order_by("pk")
            for advice in [price_advice(piece, on=on)]
        ],
    }


def test_a_studio_comes_back_as_it_was(tmp_path: Path) -> None:
    file = tmp_path / "archive.zip"
    with gone_afterwards():
        photographed()
        corrected(Sale.objects.get(), "84.29")
        rows, told = everything(), reports(june(20))
        export_archive(file, at=AT)
    (Path(the_settings.MEDIA_ROOT) / PHOTO).unlink()
    assert not Posting.objects.exists()
    import_archive(file, at=AT)
    assert told["clean"]
    assert (everything(), reports(june(20))) == (rows, told)
    assert (Path(the_settings.MEDIA_ROOT) / PHOTO).read_bytes() == PICTURE
    assert database_rules.differences() == []


def test_work_goes_on_where_it_stopped(tmp_path: Path) -> None:
    """The next posting, and new rows of every table with keys of their own."""
    import_archive(archived(tmp_path), at=AT)
    last = Books.objects.get().last_number
    make_lot(at=timezone.now())
    assert Books.objects.get().last_number == last + 1
    assert check().is_clean


def test_the_rules_of_the_database_are_back_after_an_import(tmp_path: Path) -> None:
    """Going round Python."""
    import_archive(archived(tmp_path), at=AT)
    with pytest.raises(Exception, match="never changed"):
        Entry.objects.update(money=1)


def test_an_archive_of_an_import_is_the_same_archive(tmp_path: Path) -> None:
    first = archived(tmp_path)
    import_archive(first, at=AT)
    export_archive(tmp_path / "second.zip", at=AT)
    before, after = contents(first), contents(tmp_path / "second.zip")
    seals = f"data/{SEALS}.jsonl"
    assert after[seals].startswith(before[seals])
    assert after[seals].count(b"\n") == before[seals].count(b"\n") + 1
    told_apart = ("manifest.json", seals, f"csv/{SEALS}.csv")
    assert {name: content for name, content in before.items() if name not in told_apart} == {
        name: content for name, content in after.items() if name not in told_apart
    }


def test_no_secret_is_in_it_and_nobody_has_a_password(tmp_path: Path) -> None:
    with gone_afterwards():
        owner = make_owner()
        owner.set_password("slack-tide-at-seven")
        owner.save()
        Token.objects.create(
            user=owner, name="Till", prefix="mns_abcd", digest="d" * 64, made_at=AT, expires_at=AT
        )
        export_archive(tmp_path / "archive.zip", at=AT)
        secrets = [owner.password.encode(), b"d" * 64]
    held = b"".join(contents(tmp_path / "archive.zip").values())
    assert not any(secret in held for secret in secrets)
    import_archive(tmp_path / "archive.zip", at=AT)
    assert not User.objects.get().has_usable_password()
    assert not User.objects.get().check_password("slack-tide-at-seven")


def test_what_stays_behind_is_sealed_as_gone_and_nothing_else(tmp_path: Path) -> None:
    with gone_afterwards():
        owner = make_owner()
        owner.set_password("slack-tide-at-seven")
        owner.save()
        add_token(user=owner, name="Till", scope="write", days=1, at=AT)
        TOTPDevice.objects.create(user=owner, name="phone")
        Webhook.objects.create(address="https://example.org/told", events="session.logged")
        export_archive(tmp_path / "archive.zip", at=AT)
    import_archive(tmp_path / "archive.zip", at=AT)
    gone = ["inventory.webhook", "otp_totp.totpdevice", "studio.token"]
    last = ChangeSeal.objects.latest("number").rows
    assert sorted(last) == [*gone, "studio.user.password"]
    assert [set(last[name].values()) for name in gone] == [{None}] * 3
    assert check().is_clean
    User.objects.filter(pk=owner.pk).update(password="!another")
    [found] = check().breaks
    assert (found.rule, found.what) == ("recorded", "password was changed beside the record")


def test_every_table_of_ours_is_in_it_or_left_out_for_a_reason() -> None:
    ours = [
        model
        for model in apps.get_models(include_auto_created=True)
        if model.__module__.split(".")[0] in ("studio", "inventory", "costing")
        or model._meta.app_label in ("studio", "inventory", "costing")
    ]
    assert len(ours) > 80
    assert {*ours} - {*archived_models()} == {*models_left_out()}
    assert all(models_left_out().values())


def test_every_exact_number_says_in_which_unit_it_is() -> None:
    without = [
        f"{table_name(model)}.{column.name}"
        for model in archived_models()
        for column in columns_of(model)
        if isinstance(column.field, models.BigIntegerField)
        and not (column.field.primary_key or column.refers_to)
        and not unit_in_archive(model, column.name)
    ]
    # Plain numbers: the keys of what was changed and of what a paper is about, and the last posting's.
    assert without == [
        "auditlog_logentry.object_id",
        "inventory_books.last_number",
        "studio_issuedpaper.about",
    ]


def test_the_readme_explains_every_table_and_column(tmp_path: Path) -> None:
    files = contents(archived(tmp_path))
    text = files["README.md"].decode()
    for model in archived_models():
        assert f"### {table_name(model)}\n" in text
        for column in columns_of(model):
            assert f"| `{column.name}` |" in text
    assert "studio_user.password" in text
    assert "| `money` | whole number | millionths of the currency unit |" in text


def test_csv_and_json_lines_hold_the_same_rows(tmp_path: Path) -> None:
    files = contents(archived(tmp_path))
    for model in archived_models():
        lines = [json.loads(line) for line in files[f"data/{table_name(model)}.jsonl"].splitlines()]
        head, *rows = csv.reader(io.StringIO(files[f"csv/{table_name(model)}.csv"].decode()))
        assert len(rows) == len(lines)
        assert head == [column.name for column in columns_of(model)]
        assert [row[0] for row in rows] == [str(line[head[0]]) for line in lines]


def test_no_cell_of_the_csv_runs_as_a_formula(tmp_path: Path) -> None:
    with gone_afterwards():
        Supplier.objects.create(name="=HYPERLINK(1)", country="GB", currency="GBP")
        export_archive(tmp_path / "archive.zip", at=AT)
    files = contents(tmp_path / "archive.zip")
    assert b'"\'=HYPERLINK(1)"' in files["csv/inventory_supplier.csv"]
    assert b'"=HYPERLINK(1)"' in files["data/inventory_supplier.jsonl"]


def test_moments_are_in_utc_and_days_iso_8601(tmp_path: Path) -> None:
    files = contents(archived(tmp_path))
    [posting, *_rest] = [json.loads(line) for line in files["data/inventory_posting.jsonl"].splitlines()]
    assert posting["recorded_at"].endswith("Z")
    assert date.fromisoformat(posting["effective_on"]) == Posting(effective_on=june(1)).effective_on


def test_the_small_picture_of_a_price_list_is_made_again_where_the_archive_has_none(tmp_path: Path) -> None:
    file = tmp_path / "archive.zip"
    with gone_afterwards():
        piece = photographed()
        store_photo(
            piece=piece, upload=encoded(Image.new("RGB", (900, 600), "teal")), submission=make_submission()
        )
        small = Path(listed_beside(piece.thumbnail).path)
        size = Image.open(io.BytesIO(small.read_bytes())).size
        export_archive(file, at=AT)
    shutil.rmtree(the_settings.MEDIA_ROOT)
    import_archive(file, at=AT)
    assert Image.open(io.BytesIO(small.read_bytes())).size == size
    assert set(contents(file)).isdisjoint({f"photos/thumbnails/{small.name}"})


# By command, by page, and while others work


def test_the_commands_export_and_import(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "archive.zip"
    with gone_afterwards():
        photographed()
        call_command("archive_export", file)
        rows = everything()
    (Path(the_settings.MEDIA_ROOT) / PHOTO).unlink()
    call_command("archive_import", file)
    assert everything() == rows
    with pytest.raises(CommandError):
        call_command("archive_import", file)
    with pytest.raises(CommandError):
        call_command("archive_export", file)
    assert "changepassword" in capsys.readouterr().out


def test_the_owner_downloads_it_and_nobody_else_does(tmp_path: Path, signed: Client) -> None:
    answer = signed.post(reverse("archive-download"))
    file = tmp_path / "downloaded.zip"
    file.write_bytes(b"".join(answer.streaming_content))  # type: ignore[attr-defined]
    assert answer["Content-Disposition"].startswith('attachment; filename="meniscus-archive-')
    assert json.loads(contents(file)["manifest.json"])["tables"]["studio_user"]["rows"] == 1
    helper = Client()
    helper.force_login(make_helper())
    assert helper.post(reverse("archive-download")).status_code == 403
    assert signed.get(reverse("archive-download")).status_code == 405
    assert reverse("archive-download") in signed.get(reverse("backups")).content.decode()


@pytest.mark.skipif(
    "sqlite" in the_settings.DATABASES["default"]["ENGINE"], reason="from PostgreSQL to SQLite and back"
)
def test_an_archive_goes_from_one_kind_of_database_to_the_other_and_back(tmp_path: Path) -> None:
    there = {
        **os.environ,
        "DATABASE_URL": f"sqlite:///{tmp_path}/other.sqlite3",
        "MENISCUS_DATA": str(tmp_path / "there"),
    }
    first, second = archived(tmp_path), tmp_path / "second.zip"
    for line in (["migrate", "-v0"], ["archive_import", str(first)], ["archive_export", str(second)]):
        subprocess.run([sys.executable, "manage.py", *line], cwd=the_settings.BASE_DIR, env=there, check=True)
    import_archive(second, at=AT)
    files = contents(first)
    for name, rows in everything().items():
        lines = [json.loads(line) for line in files[f"data/{name}.jsonl"].splitlines()]
        assert [list(line.values()) for line in lines] == rows
    assert check().is_clean
