"""What a program sends back and how much it may send, over HTTP as it really goes: compressed, and in megabytes."""

import base64
from io import BytesIO
from typing import Any

import numpy
import pytest
from PIL import Image

from inventory.sessions.models import SessionPhoto
from studio.accounts.models import User
from tests.making import make_pour
from tests.programs import Program

pytestmark = pytest.mark.django_db


def noise(side: int) -> bytes:
    """A photo that hardly compresses, as one of wet paint in low light."""
    pixels = numpy.random.default_rng(1).integers(0, 255, (side, side, 3), dtype=numpy.uint8)
    sheet = BytesIO()
    Image.fromarray(pixels).save(sheet, "JPEG", quality=95)
    return sheet.getvalue()


def test_the_tag_of_a_compressed_answer_is_a_strong_one_that_is_accepted(owner: User) -> None:
    program = Program(owner)
    plain = program.get("studio-settings/")
    compressed = program.client.get("/api/studio-settings/", headers={"accept-encoding": "gzip"})
    tag = compressed.headers["ETag"]
    assert compressed.headers["Content-Encoding"] == "gzip"
    assert tag.startswith('"')
    assert tag != plain.headers["ETag"]  # RFC 9110, section 8.8.3.3: another encoding, another tag
    answer = program.post("studio-settings/", {"near_date_days": 15}, if_match=tag)
    assert answer.status_code == 200
    assert program.post("studio-settings/", {"near_date_days": 16}, if_match=tag).status_code == 412


def test_a_program_sends_a_photo_as_large_as_a_page_does(owner: User) -> None:
    session, photo = make_pour().session, noise(2_200)
    assert 5_000_000 < len(photo) < 10_000_000
    body: dict[str, Any] = {"session": session.pk, "content": base64.b64encode(photo).decode()}
    made = Program(owner).send("session-photos/", body)
    assert SessionPhoto.objects.get(pk=made["id"]).session == session


def test_what_is_too_large_is_refused_with_the_limit(owner: User) -> None:
    refused = Program(owner).refusal("session-photos/", {"content": "A" * 16_000_000}, status=413)
    assert "15 MB" in refused["detail"]


@pytest.mark.parametrize(
    ("address", "change"),
    [
        ("books/", {"closed_through": "2025-05-01"}),
        ("price-rules/", {"markup": "0.5"}),
        ("studio-settings/", {"near_date_days": 15}),
    ],
)
def test_settings_of_one_row_answer_a_change_with_what_holds_and_its_tag(
    owner: User, address: str, change: dict[str, Any]
) -> None:
    program = Program(owner)
    changed = program.post(address, change)
    assert changed.status_code == 200, changed.content
    shown = program.get(address)
    assert (changed.json(), changed.headers["ETag"]) == (shown.json(), shown.headers["ETag"])
    assert shown.json()[next(iter(change))]
