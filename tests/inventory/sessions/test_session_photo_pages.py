"""Photos at the bench: sent with a session or added later, kept with the pours they show, served behind the login."""

from collections.abc import Sequence
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image
from pytest_django import DjangoCaptureOnCommitCallbacks, Settings

from inventory.errors import InventoryError
from inventory.sessions.actions import photos as bench_photos
from inventory.sessions.actions.photos import add_photo, remove_photo
from inventory.sessions.models import Pour, Session, SessionPhoto
from studio.accounts.models import User
from studio.backups.actions import backup_key, make_backup
from studio.backups.archive import read_manifest
from studio.errors import PhotoError
from studio.photos import LARGEST_FILE
from tests.days import AT
from tests.inventory.browsing import HOSTILE, as_user, queries, text_of
from tests.inventory.session_bench import Bench, log, sent
from tests.making import make_pour, make_submission, take_back
from tests.pictures import BLUE, GPS, RED, encoded

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def folder(settings: Settings, tmp_path: Path) -> Path:
    settings.MEDIA_ROOT = tmp_path / "photos"
    return tmp_path


@pytest.fixture
def bench(db: None) -> Bench:
    return Bench()


def picture(colour: tuple[int, int, int] = RED, name: str = "../evil.svg") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, encoded(Image.new("RGB", (60, 40), colour)).getvalue(), "image/svg+xml")


def kept(pour: Pour, *, colour: tuple[int, int, int] = RED, pours: Sequence[Pour] = ()) -> SessionPhoto:
    return add_photo(
        session=pour.session, upload=picture(colour), pours=pours or [pour], submission=make_submission()
    )


# Sent with the session


def test_a_photo_is_kept_with_all_pours_of_its_row(signed: Client, bench: Bench) -> None:
    pours = [bench.pours(alike="2", each="60 ml", photo=picture()), bench.pours(alike="1", each="50 ml")]
    where = log(signed, sent(cups=[bench.cup(0)], pours=pours))["Location"]
    photo = SessionPhoto.objects.get()
    assert [pour.number for pour in photo.pours.order_by("number")] == [1, 2]
    page = signed.get(where).content.decode()
    first, _second, third = Pour.objects.order_by("number")
    assert f'alt="Photo of {photo.labels}"' in page
    assert reverse("inventory:session-thumbnail", args=[photo.pk]) in page
    assert (
        reverse("inventory:session-photo", args=[photo.pk])
        in signed.get(reverse("inventory:pour", args=[first.pk])).content.decode()
    )
    assert 'class="photos"' not in signed.get(reverse("inventory:pour", args=[third.pk])).content.decode()


@pytest.mark.parametrize("content", [b"", b"<svg onload=alert(1)>", b"\x89PNG\r\n\x1a\n" + b"\x00" * 99])
def test_a_file_that_is_no_photo_is_told_of_and_nothing_else_is_lost(
    signed: Client, bench: Bench, content: bytes
) -> None:
    row = bench.pours(alike="1", each="60 ml", photo=SimpleUploadedFile("a.jpg", content, "image/jpeg"))
    response = signed.post(
        reverse("inventory:session-new"), sent(cups=[bench.cup(0)], pours=[row], title="Harbour"), follow=True
    )
    pour = Pour.objects.get()
    words = text_of(response)
    assert response.redirect_chain[-1][0] == reverse("inventory:session", args=[pour.session_id])
    assert f"The photo of {pour.label} was not saved: This file cannot be read as a photo." in words
    assert "Session saved." in words
    assert not SessionPhoto.objects.exists()


def test_a_disk_that_is_full_costs_the_photo_and_not_the_session(
    signed: Client, bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*args: object, **kwargs: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(type(default_storage._wrapped), "_save", full)  # type: ignore[attr-defined]
    row = bench.pours(alike="1", each="60 ml", photo=picture())
    response = signed.post(
        reverse("inventory:session-new"), sent(cups=[bench.cup(0)], pours=[row]), follow=True
    )
    assert "was not saved: It could not be stored." in text_of(response)
    assert Session.objects.count() == 1


def test_sending_the_same_form_twice_keeps_the_photo_once(signed: Client, bench: Bench) -> None:
    for _time in range(2):
        row = bench.pours(alike="1", each="60 ml", photo=picture())
        assert log(signed, sent(cups=[bench.cup(0)], pours=[row])).status_code == 302
    assert Session.objects.count() == 1
    assert SessionPhoto.objects.count() == 1


def test_a_row_with_nothing_but_a_photo_asks_for_its_surface(signed: Client, bench: Bench) -> None:
    response = log(signed, sent(cups=[bench.cup(0)], pours=[{"photo": picture()}]))
    assert response.status_code == 422
    assert "Choose the surface it was poured on." in text_of(response)
    assert not SessionPhoto.objects.exists()


def test_the_camera_opens_on_a_phone(signed: Client, bench: Bench) -> None:
    page = signed.get(reverse("inventory:session-new")).content.decode()
    assert '<input type="file" name="pours-0-photo" accept="image/*" capture="environment"' in page
    assert 'enctype="multipart/form-data"' in page


# Added later, and removed


def test_a_photo_can_be_added_to_the_session_and_to_one_pour(helper: User) -> None:
    pour = make_pour()
    client = as_user(helper)
    add = reverse("inventory:session-photo-add", args=[pour.session_id])
    to_session = client.post(add, {"photo": picture(RED), "pour": ""})
    assert to_session["Location"] == reverse("inventory:session", args=[pour.session_id]) + "#photos"
    to_pour = client.post(add, {"photo": picture(BLUE), "pour": pour.pk, "from": pour.pk})
    assert to_pour["Location"] == reverse("inventory:pour", args=[pour.pk]) + "#photos"
    whole, one = SessionPhoto.objects.order_by("pk")
    assert (whole.labels, one.labels) == ("", pour.label)
    assert (one.added_by, one.session_id) == (helper, pour.session_id)
    assert "The whole table" in text_of(client.get(reverse("inventory:session", args=[pour.session_id])))


@pytest.mark.parametrize(
    ("said", "answer"),
    [({}, "Take or choose a photo first."), ({"pour": "999"}, "Choose what the photo shows.")],
)
def test_what_is_missing_is_said(signed: Client, said: dict[str, str], answer: str) -> None:
    pour = make_pour()
    add = reverse("inventory:session-photo-add", args=[pour.session_id])
    assert answer in text_of(signed.post(add, said, follow=True))


def test_the_same_file_again_is_the_same_photo_and_shows_both_pours(signed: Client, bench: Bench) -> None:
    log(signed, sent(cups=[bench.cup(0)], pours=[bench.pours(alike="2", each="60 ml")]))
    first, second = Pour.objects.order_by("number")
    assert kept(first) == kept(second)
    assert SessionPhoto.objects.get().labels == f"{first.label}, {second.label}"


def test_a_pour_of_another_session_is_left_out() -> None:
    here, elsewhere = make_pour(), make_pour()
    assert list(kept(here, pours=[here, elsewhere]).pours.all()) == [here]


def test_a_session_holds_only_so_many(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bench_photos, "MOST_PHOTOS", 1)
    pour = make_pour()
    kept(pour)
    with pytest.raises(InventoryError, match="at most 1 photos"):
        kept(pour, colour=BLUE)
    assert kept(pour).pk  # the one that is there is no second


def test_a_session_that_was_reversed_takes_no_more(signed: Client) -> None:
    pour = make_pour()
    photo = kept(pour)
    take_back(pour.session.posting)
    with pytest.raises(InventoryError, match="reversed"):
        kept(pour, colour=BLUE)
    page = signed.get(reverse("inventory:session", args=[pour.session_id])).content.decode()
    assert reverse("inventory:session-photo", args=[photo.pk]) in page
    assert "Add a photo" not in page


def test_too_large_a_file_is_refused() -> None:
    pour = make_pour()
    with pytest.raises(PhotoError, match="larger than 10 MB"):
        add_photo(
            session=pour.session,
            upload=BytesIO(b"\xff\xd8\xff" + b"\0" * LARGEST_FILE),
            submission=make_submission(),
        )


def test_where_it_was_taken_is_dropped_and_its_name_is_random() -> None:
    exif = Image.Exif()
    exif[GPS] = {1: "N", 2: (54.0, 1.0, 2.0)}
    upload = encoded(Image.new("RGB", (60, 40), RED), exif=exif)
    pour = make_pour()
    photo = add_photo(session=pour.session, upload=upload, pours=[pour], submission=make_submission())
    name = photo.photo.name or ""
    assert name.startswith("sessions/")
    assert len(name) == len("sessions/") + 36
    with photo.photo.open("rb") as file:
        assert not dict(Image.open(BytesIO(file.read())).getexif())


def test_a_removed_photo_goes_from_the_disk_too(
    signed: Client, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    pour = make_pour()
    photo = kept(pour)
    names = [photo.photo.name or "", photo.thumbnail.name or ""]
    with django_capture_on_commit_callbacks(execute=True):
        response = signed.post(reverse("inventory:session-photo-remove", args=[photo.pk]), {"from": pour.pk})
    assert response["Location"].startswith(reverse("inventory:pour", args=[pour.pk]))
    assert not SessionPhoto.objects.exists()
    assert not any(default_storage.exists(name) for name in names)


def test_files_stay_when_the_removal_is_undone() -> None:
    photo = kept(make_pour())
    name = photo.photo.name or ""
    remove_photo(
        photo=photo, submission=make_submission()
    )  # inside the test's transaction, which is never committed
    assert default_storage.exists(name)


# Served


def test_it_is_served_to_everybody_who_is_signed_in_and_to_nobody_else(
    bookkeeper: User, helper: User, client: Client
) -> None:
    photo = kept(make_pour())
    for name in ("session-photo", "session-thumbnail"):
        address = reverse(f"inventory:{name}", args=[photo.pk])
        for user in (bookkeeper, helper):
            answer: Any = as_user(user).get(address)
            assert answer["Content-Type"] == "image/jpeg"
            assert answer["X-Content-Type-Options"] == "nosniff"
            assert answer["Cache-Control"] == "private, max-age=86400"
            assert Image.open(BytesIO(answer.getvalue())).format == "JPEG"
        assert client.get(address)["Location"].startswith(reverse("login"))
    assert client.get(f"/photos/{photo.photo.name}").status_code in (302, 404)


def test_a_reader_adds_and_removes_nothing(bookkeeper: User) -> None:
    pour = make_pour()
    photo = kept(pour)
    reader = as_user(bookkeeper)
    for name, key in (("session-photo-add", pour.session_id), ("session-photo-remove", photo.pk)):
        assert (
            reader.post(reverse(f"inventory:{name}", args=[key]), {"photo": picture(BLUE)}).status_code == 403
        )
    assert SessionPhoto.objects.count() == 1
    page = reader.get(reverse("inventory:session", args=[pour.session_id])).content.decode()
    assert "Add a photo" not in page
    assert reverse("inventory:session-photo-remove", args=[photo.pk]) not in page


def test_a_photo_that_is_gone_from_the_disk_is_simply_not_there(signed: Client) -> None:
    pour = make_pour()
    photo = kept(pour)
    SessionPhoto.objects.update(photo="sessions/gone.jpg")
    assert signed.get(reverse("inventory:session-photo", args=[photo.pk])).status_code == 404
    assert signed.get(reverse("inventory:session", args=[pour.session_id])).status_code == 200


def test_pages_ask_as_many_queries_for_one_photo_as_for_many(signed: Client) -> None:
    pour = make_pour()
    pages = [reverse("inventory:session", args=[pour.session_id]), reverse("inventory:pour", args=[pour.pk])]
    kept(pour)
    few = [queries(signed, page) for page in pages]
    for shade in range(8):
        kept(pour, colour=(shade * 20, 90, 110))
    assert [queries(signed, page) for page in pages] == few


def test_hostile_numbers_and_names_do_no_harm(signed: Client) -> None:
    pour = make_pour()
    add = reverse("inventory:session-photo-add", args=[pour.session_id])
    for said in ({"pour": HOSTILE}, {"from": "9" * 5000}, {"from": "\x00"}, {"pour": "1e9", "from": "-1"}):
        assert signed.post(add, {"photo": picture(name=HOSTILE), **said}).status_code == 302
    assert HOSTILE not in signed.get(reverse("inventory:session", args=[pour.session_id])).content.decode()


# In backups


@pytest.mark.django_db(transaction=True)
def test_a_backup_holds_the_photos_of_the_bench(folder: Path) -> None:
    photo = kept(make_pour())
    made = make_backup(folder / "backup.zip", at=AT)
    members = set(read_manifest(Path(made.path), key=backup_key()).members)
    assert {f"photos/{photo.photo.name}", f"photos/{photo.thumbnail.name}"} <= members
