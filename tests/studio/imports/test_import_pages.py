"""The page of an import: choose or paste, match, look, save."""

import csv
import io
import re
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from inventory.materials.models import Material
from studio.accounts.models import User
from studio.errors import InputError
from studio.imports.actions import save_rows
from studio.imports.models import RememberedHeadings
from tests.inventory.browsing import HOSTILE, as_user, filled_in, queries, text_of
from tests.making import make_material

pytestmark = pytest.mark.django_db
PAGE = "/import/materials/"
GOOD = "Material\tKind\tMeasured in\nEbb\tpaint\tvolume\nTide\tpaint\tvolume\n"
HALF = "Material;Kind;Measured in\nEbb;paint;volume\nTide;glitter;volume\n"


@pytest.fixture
def signed(owner: User) -> Client:
    return as_user(owner)


def looked_at(client: Client, text: str) -> Any:
    return client.post(PAGE, {"text": text, "do": "check"})


def sent_on(client: Client, page: Any, do: str, **changed: str) -> Any:
    """Press a button of the page that was shown."""
    return client.post(PAGE, filled_in(page, "carried") | {"do": do} | changed)


def test_pasted_cells_are_shown_before_anything_is_saved_and_then_saved(signed: Client) -> None:
    page = looked_at(signed, GOOD)
    assert page.status_code == 200
    assert "Ebb" in text_of(page)
    assert not Material.objects.exists()
    answer = sent_on(signed, page, "save")
    assert Material.objects.count() == 2
    told = signed.get(answer.url)
    assert "2 rows saved." in text_of(told)
    assert reverse("inventory:materials") in told.content.decode()
    assert is_at_step(told, "Saved")


def is_at_step(page: Any, step: str) -> bool:
    (here,) = re.findall(r'aria-current="step">(.*?)</li>', page.content.decode(), re.DOTALL)
    return step in here


def test_what_cannot_be_saved_is_an_error_with_its_reason_and_no_success(
    signed: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = looked_at(signed, GOOD)

    def refuse(*_facts: object, **_more: object) -> None:
        raise InputError("The tide is too high.")

    monkeypatch.setattr("inventory.materials.file_import.rows.save_material", refuse)
    page_fields, json = filled_in(page, "carried"), {"HTTP_ACCEPT": "application/json"}
    part = signed.post(PAGE, page_fields | {"do": "save", "start": "0"}, **json).json()  # type: ignore[arg-type]
    assert part["wrong"][0] == {"line": 2, "problems": ["The tide is too high."]}
    for start in ("", "0"):  # without the script, and as the script asks for the reasons
        answer = signed.post(PAGE, page_fields | {"do": "save", "start": start})
        assert answer.status_code == 422
        assert [message.level_tag for message in answer.context["messages"]] == ["error"]
        assert text_of(answer).count("The tide is too high.") >= 4
        assert is_at_step(answer, "Check the rows")


def test_what_the_script_saved_in_parts_is_told_as_one(
    signed: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    fields = filled_in(looked_at(signed, GOOD), "carried") | {"do": "save"}
    json = {"HTTP_ACCEPT": "application/json"}
    with_defaults = (save_rows.__kwdefaults__ or {}) | {"most": 1}
    monkeypatch.setattr(save_rows, "__kwdefaults__", with_defaults)
    assert signed.post(PAGE, fields | {"start": "0"}, **json).json()["next"] == 1  # type: ignore[arg-type]
    assert signed.post(PAGE, fields | {"start": "1"}, **json).json()["next"] is None  # type: ignore[arg-type]
    assert "2 rows saved." in text_of(signed.get(f"{PAGE}?saved=1"))


def test_a_file_is_carried_along(signed: Client) -> None:
    upload = SimpleUploadedFile("paints.csv", HALF.encode("utf-16"))
    page = signed.post(PAGE, {"file": upload, "do": "save"})  # a table that nobody has seen is only shown
    assert not Material.objects.exists()
    sent_on(signed, page, "save-good")
    assert Material.objects.get().name == "Ebb"


def test_a_column_can_be_corrected_and_is_remembered(signed: Client) -> None:
    page = looked_at(signed, "Wot,Kind,Measured in\nEbb,paint,volume\n")
    assert page.status_code == 422
    page = sent_on(signed, page, "check", **{"column-0": "name"})
    assert page.status_code == 200
    assert RememberedHeadings.of("materials")["wot"] == "name"  # before anything is saved
    assert looked_at(signed, "Wot,Kind,Measured in\nTide,paint,volume\n").status_code == 200


def test_a_column_chosen_twice_is_refused(signed: Client) -> None:
    page = looked_at(signed, GOOD)
    assert sent_on(signed, page, "check", **{"column-1": "name"}).status_code == 422


def test_what_was_not_shown_like_this_is_shown_first(signed: Client) -> None:
    page = looked_at(signed, "Material\tMeasured in\tKind\nEbb\tvolume\tpaint\n")
    page = sent_on(signed, page, "save", **{"fixed-maker": "Sail Loft"})
    assert (page.status_code, Material.objects.count()) == (200, 0)
    sent_on(signed, page, "save")
    assert Material.objects.get().maker == "Sail Loft"


def test_one_value_can_stand_for_all_rows(signed: Client) -> None:
    page = looked_at(signed, "Material\tMeasured in\nEbb\tvolume\n")
    page = sent_on(signed, page, "check", **{"fixed-kind": "paint"})
    sent_on(signed, page, "save")
    assert Material.objects.get().kind == "paint"


def test_rows_with_problems_come_back_as_a_file_that_can_be_put_right(signed: Client) -> None:
    page = looked_at(signed, HALF)
    answer = sent_on(signed, page, "failed")
    assert answer["Content-Disposition"] == 'attachment; filename="materials-problems.csv"'
    head, row = csv.reader(io.StringIO(answer.content.decode("utf-8-sig")))
    assert head[:3] == ["Material", "Kind", "Measured in"]
    assert row[:3] == ["Tide", "glitter", "volume"]
    assert "glitter" in row[3]
    mended = answer.content.replace(b"glitter", b"paint", 1)
    page = signed.post(PAGE, {"file": SimpleUploadedFile("m.csv", mended), "do": "check"})
    sent_on(signed, page, "save")
    assert Material.objects.get().name == "Tide"


def test_the_script_saves_part_by_part(signed: Client) -> None:
    page = looked_at(signed, HALF)
    fields = filled_in(page, "carried") | {"start": "0"}
    json = {"HTTP_ACCEPT": "application/json"}
    refused = signed.post(PAGE, fields | {"do": "save"}, **json).json()  # type: ignore[arg-type]
    ((line, reasons),) = (each.values() for each in refused.pop("wrong"))
    assert (line, "glitter" in reasons[0]) == (3, True)
    assert refused == {"saved": 0, "there": 0, "next": None, "reached": 0}
    assert not Material.objects.exists()
    assert signed.post(PAGE, fields | {"do": "save-good"}, **json).json()["saved"] == 1  # type: ignore[arg-type]
    assert signed.post(PAGE, fields | {"do": "save", "seen": ""}, **json).status_code == 409  # type: ignore[arg-type]
    assert signed.post(PAGE, {"do": "save"}, **json).status_code == 422  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "sent",
    [
        {}, {"text": "  "}, {"carried": "%%%"}, {"carried": "AAAA"}, {"text": HOSTILE}, {"text": "a"},
        {"text": "a\tb\n1\t2", "column-0": "nothing", "start": "x"}, {"text": "\0\t\n\0"},
    ],
)  # fmt: skip
def test_nonsense_is_refused_and_shown_as_text(signed: Client, sent: dict[str, str]) -> None:
    answer = signed.post(PAGE, sent)
    assert answer.status_code == 422
    assert HOSTILE not in answer.content.decode()


def test_hostile_cells_are_shown_as_text(signed: Client) -> None:
    page = looked_at(signed, f"Material\tKind\tMeasured in\n{HOSTILE}\tpaint\tvolume\n{HOSTILE}\t=1\tvolume")
    assert HOSTILE not in page.content.decode()


def test_only_who_may_save_the_single_thing_may_import_it(helper: User, bookkeeper: User) -> None:
    assert as_user(helper).get(PAGE).status_code == 403
    assert as_user(helper).get("/import/").status_code == 200
    assert "Materials from a file" not in text_of(as_user(helper).get("/import/"))
    assert as_user(bookkeeper).get("/import/").status_code == 403


def test_what_is_unknown_is_not_found(signed: Client) -> None:
    assert signed.get("/import/moons/").status_code == 404


@pytest.mark.parametrize("name", ["example", "recorded"])
@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_tables_can_be_downloaded(signed: Client, name: str, form: str) -> None:
    make_material()
    answer = signed.get(f"{PAGE}{name}/?export={form}")
    assert answer["Content-Disposition"].endswith(f'.{form}"')
    assert answer.content


def test_looking_at_more_rows_asks_the_database_no_more(signed: Client) -> None:
    signed.get(PAGE)
    assert queries(signed, PAGE) < 20

    def asked(rows: int) -> int:
        from django.db import connection
        from django.test.utils import CaptureQueriesContext

        text = "Material\tKind\tMeasured in\n" + "".join(f"M {n}\tpaint\tvolume\n" for n in range(rows))
        with CaptureQueriesContext(connection) as counted:
            looked_at(signed, text)
        return len(counted)

    assert asked(2) == asked(60)


def test_a_column_that_is_wrong_in_every_row_is_named(signed: Client) -> None:
    rows = "".join(f"Ebb {number}\tpaint\tvolume\tby the window\n" for number in range(6))
    page = looked_at(signed, f"Material\tKind\tMeasured in\tDensity\n{rows}")
    assert page.context["everywhere"] == ["Density"]
    page = sent_on(signed, page, "check", **{"column-3": ""})
    assert (page.context["everywhere"], page.context["new"]) == ([], 6)


def test_deliveries_are_found_among_the_imports_by_who_may_log_them(signed: Client, helper: User) -> None:
    address = reverse("inventory:delivery-file")
    assert address in signed.get(reverse("imports")).content.decode()
    assert address not in as_user(helper).get(reverse("imports")).content.decode()
