"""What the API says of itself, how it refuses, and that it answers nobody too often."""

import json
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.cache import cache
from django.core.management import call_command
from django.test import Client
from drf_spectacular.generators import SchemaGenerator
from rest_framework.settings import api_settings
from rest_framework.throttling import UserRateThrottle

from studio.accounts.models import User
from tests.costing.stories import make_channel
from tests.making import make_material
from tests.programs import PROBLEM, Program

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def schema(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    file = tmp_path_factory.mktemp("schema") / "schema.json"
    call_command("spectacular", "--validate", "--fail-on-warn", "--format=openapi-json", f"--file={file}")
    found: dict[str, Any] = json.loads(Path(file).read_text(encoding="utf-8"))
    return found


def operations(schema: dict[str, Any]) -> list[tuple[str, str, dict[str, Any]]]:
    return [
        (path, method, said)
        for path, methods in schema["paths"].items()
        for method, said in methods.items()
        if not path.endswith("/schema/")
    ]


def test_the_schema_validates_without_a_warning(schema: dict[str, Any]) -> None:
    # OpenAPI Specification 3.1.1, held by drf-spectacular against its published JSON schema.
    assert schema["openapi"] == "3.1.1"
    assert len(operations(schema)) > 30


def test_the_schema_is_generated_once_and_is_the_same_for_everybody(
    owner: User, helper: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = Program(owner).get("schema/").content
    monkeypatch.setattr(SchemaGenerator, "parse", lambda *args: pytest.fail("It was generated again."))
    assert Program(helper).get("schema/").content == made


def test_numbers_of_the_books_are_never_floats(schema: dict[str, Any]) -> None:
    assert '"type": "number"' not in json.dumps(schema["components"])


def test_every_address_says_how_it_refuses_and_how_to_sign_in(schema: dict[str, Any]) -> None:
    for path, method, said in operations(schema):
        refusals = {status: answer for status, answer in said["responses"].items() if status >= "400"}
        assert {"400", "401", "403", "406", "429", "503"} <= refusals.keys(), path
        if method == "post":
            assert {"409", "413", "415", "422"} <= refusals.keys(), path
        if any(parameter["name"] == "If-Match" for parameter in said.get("parameters", ())):
            assert (method, {"412", "428"} <= refusals.keys()) in {("post", True), ("get", False)}, path
        assert {tuple(answer["content"]) for answer in refusals.values()} == {(PROBLEM,)}, path
        assert {"token": []} in said["security"], path
    assert schema["components"]["securitySchemes"]["token"] == {"type": "http", "scheme": "bearer"}


def test_every_post_that_posts_asks_for_a_key(schema: dict[str, Any]) -> None:
    keyed = {
        path
        for path, method, said in operations(schema)
        if any(parameter["name"] == "Idempotency-Key" for parameter in said.get("parameters", ()))
    }
    unkeyed = {path for path, method, _ in operations(schema) if method == "post"} - keyed
    # Nothing is written; or a second time changes nothing or is refused, because the piece has moved already.
    assert unkeyed == {
        "/api/stock-check/", "/api/then-and-now/", "/api/webhooks/", "/api/webhooks/{id}/secret/",
        "/api/webhooks/{id}/switch/", "/api/webhooks/{id}/change/",
        "/api/webhooks/{id}/delete/", "/api/logo/", "/api/logo/delete/", "/api/webhook-messages/{id}/retry/",
        "/api/alerts/{id}/acknowledge/", "/api/alerts/{id}/snooze/", "/api/alerts/{id}/show-again/",
        "/api/cup-filling/", "/api/overhead/", "/api/overhead/{id}/rate/",
        "/api/imports/", "/api/issued-papers/", "/api/rates/", "/api/ratios/", "/api/ratio-recipes/",
        "/api/recipes/{id}/keep/", "/api/recipes/{id}/favourite/", "/api/techniques/{id}/favourite/",
        "/api/ratios/{id}/change/", "/api/comparisons/{id}/open/",
        "/api/pieces/", "/api/pieces/{id}/status/", "/api/pieces/{id}/price/",
        "/api/prices/", "/api/pieces/{id}/description/",
        "/api/sessions/{id}/corrections/preview/", "/api/comparisons/{id}/finish/",
        "/api/comparisons/{id}/pours/", "/api/comparisons/{id}/scores/", "/api/photo-counts/",
        "/api/photo-counts/{id}/marks/", "/api/photo-counts/{id}/finish/",
        "/api/deliveries/{id}/corrections/preview/", "/api/deliveries/{id}/pack-prices/",
        "/api/sales/{id}/corrections/preview/", "/api/opening-stock/{number}/corrections/preview/",
        "/api/orders/{id}/change/", "/api/orders/{id}/sent/", "/api/orders/{id}/close/",
        "/api/orders/{id}/reopen/",
        "/api/shopping-list/", "/api/shopping-choices/", "/api/shopping-removals/",
        "/api/contacts/{id}/change/", "/api/commissions/{id}/change/", "/api/contacts/{id}/erase/",
        "/api/market-days/", "/api/market-days/{id}/packing/", "/api/market-days/{id}/missing/",
        "/api/pieces/{id}/scrape/", "/api/pours/{id}/judge/", "/api/sessions/{id}/weighings/",
        "/api/sessions/{id}/set/",
        "/api/alerts/check/", "/api/books/",
        "/api/channel-terms/", "/api/channel-terms/{id}/change/",
        "/api/channel-terms/{id}/delete/", "/api/comparisons/{id}/change/",
        "/api/comparisons/{id}/delete/", "/api/flaws/",
        "/api/flaws/{id}/change/", "/api/flaws/{id}/delete/",
        "/api/locations/{id}/change/", "/api/locations/{id}/delete/",
        "/api/lots/{id}/change/", "/api/market-days/{id}/bring-home/",
        "/api/market-days/{id}/change/", "/api/market-days/{id}/delete/",
        "/api/market-days/{id}/unpack/", "/api/materials/",
        "/api/materials/{id}/change/", "/api/materials/{id}/delete/",
        "/api/materials/{id}/density/", "/api/overhead-lines/",
        "/api/overhead-lines/{id}/change/", "/api/overhead-lines/{id}/delete/",
        "/api/overhead/{id}/change/", "/api/overhead/{id}/delete/",
        "/api/packs/", "/api/packs/{id}/change/",
        "/api/packs/{id}/delete/",
        "/api/pieces/{id}/photo/", "/api/pieces/{id}/photo/delete/",
        "/api/pieces/{id}/split/", "/api/plans/{id}/change/",
        "/api/plans/{id}/delete/", "/api/pours/{id}/change/",
        "/api/price-rules/", "/api/rates/{id}/change/",
        "/api/rates/{id}/delete/", "/api/reasons/",
        "/api/reasons/{id}/change/", "/api/recipes/",
        "/api/recipes/{id}/versions/", "/api/recipes/{id}/duplicate/", "/api/recipes/{id}/for-paints/",
        "/api/recipes/{id}/colour/", "/api/sales-channels/",
        "/api/sales-channels/{id}/change/", "/api/sales-channels/{id}/delete/",
        "/api/session-photos/", "/api/session-photos/{id}/delete/",
        "/api/shopping-clearing/", "/api/studio-settings/",
        "/api/suppliers/", "/api/suppliers/{id}/change/",
        "/api/suppliers/{id}/delete/", "/api/techniques/",
        "/api/techniques/{id}/change/", "/api/techniques/{id}/delete/",
    }  # fmt: skip


def test_money_is_never_promised(schema: dict[str, Any]) -> None:
    stock = schema["components"]["schemas"]["StockResponse"]
    assert {"value", "unit_cost"} <= stock["properties"].keys()
    assert not {"value", "unit_cost"} & set(stock["required"])


def test_the_schema_is_served_to_whoever_is_signed_in(owner: User) -> None:
    assert Client().get("/api/schema/").status_code == 401
    assert Program(owner).get("schema/").status_code == 200


def test_a_stranger_is_told_how_to_sign_in(db: None) -> None:
    answer = Client().get("/api/materials/")
    # RFC 6750, section 3: a request without credentials is answered with the Bearer challenge.
    assert (answer.status_code, answer.headers["WWW-Authenticate"]) == (401, "Bearer")


def test_a_session_writes_only_with_the_csrf_token(owner: User) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(owner)
    headers = {"Idempotency-Key": "one"}
    answer = client.post("/api/write-offs/", "{}", content_type="application/json", headers=headers)
    assert (answer.status_code, "CSRF" in answer.json()["detail"]) == (403, True)


@pytest.mark.parametrize(
    "body",
    [
        "{",
        b"\xff{}",
        '{"lot": NaN}',
        '{"lot": -Infinity}',
        '{"lot": 1, "lot": 2}',
        '{"lot": {"amount": 1, "amount": 1}}',
        "[" * 200_000,
        '{"lot": ' + "9" * 5_000 + "}",
        '{"lot": 1e99999999999999999999}',
    ],
)
def test_a_body_that_is_no_json_of_ours_is_a_400(owner: User, body: str | bytes) -> None:
    problem = write_off_refused(owner, body)
    assert (problem["type"], "errors" in problem) == ("about:blank", False)


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ("", "lot"),
        ("[]", "non_field_errors"),
        ('"words"', "non_field_errors"),
        ("null", "non_field_errors"),
        ('{"note": "\\ud800"}', "note"),
        ('{"\\ud800": 1}', "\ud800"),
        ('{"lot": "\\u0000"}', "lot"),
        ('{"lot": 1.5}', "lot"),
        ('{"lot": 1e999999999}', "lot"),
        ('{"lot": true}', "lot"),
        ('{"quantity": 1e999999999}', "quantity"),
        ('{"quantity": {"amount": 1.5, "measure": "volume"}}', "quantity"),
        ('{"quantity": {"amount": 1e999999999, "measure": "volume"}}', "quantity"),
        ('{"quantity": {"amount": 1, "measure": "volume", "unit": "l"}}', "quantity"),
        ('{"on": 20250601.5}', "on"),
    ],
)
def test_a_value_that_cannot_be_read_is_named(owner: User, body: str, field: str) -> None:
    problem = write_off_refused(owner, body)
    assert problem["type"] == "urn:meniscus:problem:invalid-input"
    assert field in problem["errors"]


def write_off_refused(owner: User, body: str | bytes) -> Any:
    client = Client()
    client.force_login(owner)
    headers = {"Idempotency-Key": "one"}
    answer = client.post("/api/write-offs/", body, content_type="application/json", headers=headers)
    assert (answer.status_code, answer.headers["Content-Type"]) == (400, PROBLEM)
    return answer.json()


@pytest.mark.parametrize("path", ["materials/0/", "materials/?page=9", "postings/99999999999999999999/"])
def test_what_is_not_there_is_a_problem_document_too(owner: User, path: str) -> None:
    answer = Program(owner).get(path)
    assert (answer.status_code, answer.headers["Content-Type"]) == (404, PROBLEM)
    # RFC 9457, section 4.2.1: "about:blank" has the status's own phrase as its title.
    assert (answer.json()["type"], answer.json()["title"]) == ("about:blank", "Not Found")


@pytest.mark.parametrize(
    ("accept", "statuses"), [("application/json", [406, 406, 406]), ("text/html", [401, 401, 405])]
)
def test_the_documentation_page_refuses_as_everything_for_programs_does(
    owner: User, accept: str, statuses: list[int]
) -> None:
    signed, page, headers = Client(), "/api/docs/", {"Accept": accept}
    signed.force_login(owner)
    answers = [
        Client().get(page, headers=headers),
        Client().get(page, headers=headers | {"Authorization": "Bearer meniscus_unknown"}),
        signed.post(page, headers=headers),
    ]
    assert [answer.status_code for answer in answers] == statuses
    assert {answer.headers["Content-Type"] for answer in answers} == {PROBLEM}
    assert all(answer.json()["detail"] for answer in answers)


def test_the_documentation_page_asks_no_other_server(owner: User, stranger: User) -> None:
    assert Client().get("/api/docs/").status_code == 401
    client = Client()
    client.force_login(owner)
    page, script = client.get("/api/docs/"), client.get("/api/docs/?script=")
    assert (page.status_code, script.status_code) == (200, 200)
    for text in (page.content.decode(), script.content.decode()):
        assert "//" not in text.replace("// ", "").replace("//\n", "") or "http" not in text
    policy = page.headers["Content-Security-Policy"]
    assert "'unsafe-inline'" in policy.partition("style-src")[2].partition(";")[0]
    assert "script-src" not in policy  # default-src 'self': no script in the page itself
    assert "'unsafe-inline'" not in client.get("/").headers["Content-Security-Policy"]


def test_only_json_is_taken_and_nothing_else_is_served(owner: User) -> None:
    client = Client()
    client.force_login(owner)
    keyed = {"Idempotency-Key": "one"}
    assert client.post("/api/write-offs/", {"lot": 1}, headers=keyed).status_code == 415
    assert client.options("/api/materials/").status_code == 405
    assert client.delete("/api/materials/").status_code == 405
    assert client.get("/api/materials/", headers={"Accept": "text/html"}).status_code == 406


def test_whoever_asks_too_often_is_told_to_wait(
    owner: User, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    throttles: list[Any] = list(api_settings.DEFAULT_THROTTLE_CLASSES)
    assert UserRateThrottle in throttles
    monkeypatch.setattr(UserRateThrottle, "get_rate", lambda self: "3/min")
    cache.clear()
    program = Program(owner)
    assert [program.get("techniques/").status_code for _ in range(4)] == [200, 200, 200, 429]
    assert program.get("techniques/").headers["Retry-After"]
    assert 'slowed_down user="owner"' in caplog.text
    cache.clear()


def test_the_schema_command_prints_what_is_served() -> None:
    out = StringIO()
    call_command("spectacular", stdout=out)
    assert "/api/materials/" in out.getvalue()


def test_an_answer_holds_only_the_fields_that_were_asked_for(owner: User) -> None:
    program, material = Program(owner), make_material()
    [row] = program.read("materials/", fields="id,name")["results"]
    assert row == {"id": material.pk, "name": material.name}
    assert program.read(f"materials/{material.pk}/", fields="name") == {"name": material.name}
    assert program.read("measuring/", fields="stir_seconds").keys() == {"stir_seconds"}


def test_parts_of_an_answer_stay_whole_when_only_they_are_asked_for(owner: User) -> None:
    make_channel("Stall")
    [row] = Program(owner).read("sales-channels/", fields="terms")["results"]
    assert row.keys() == {"terms"}
    assert all("commission" in each for each in row["terms"])


@pytest.mark.parametrize("asked", ["pigment", "id,pigment", "", "id,", "id name"])
def test_a_field_that_is_not_known_is_refused_by_name(owner: User, asked: str) -> None:
    answer = Program(owner).get("materials/", fields=asked)
    assert (answer.status_code, list(answer.json()["errors"])) == (400, ["fields"])
    assert asked.removeprefix("id,") in answer.json()["errors"]["fields"][0]


def test_money_is_not_shown_by_asking_for_it(helper: User) -> None:
    make_material()
    assert Program(helper).read("materials/", fields="name,unit_cost")["results"][0].keys() == {"name"}


@pytest.mark.parametrize("method", ["TRACE", "PUT", "PATCH", "DELETE", "OPTIONS"])
def test_a_method_that_is_not_served_is_405_whoever_asks_and_whatever_else_is_sent(
    helper: User, bookkeeper: User, method: str
) -> None:
    for user in (helper, bookkeeper):
        client = Client()
        client.force_login(user)
        answer = client.generic(method, "/api/materials/?colour=1")
        # RFC 9110, section 15.5.6: the answer says which methods are served.
        assert (answer.status_code, answer.headers["Allow"]) == (405, "GET, POST, HEAD, OPTIONS"), method


def test_an_address_that_does_not_exist_and_a_request_that_is_too_large_are_problem_documents(
    owner: User, settings: Any
) -> None:
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE = 10
    client = Client()
    client.force_login(owner)
    for answer in (client.get("/api/nothing/"), client.get("/api/materials/abc/")):
        assert (answer.status_code, answer.headers["Content-Type"]) == (404, PROBLEM)
    large = client.post("/api/write-offs/", {"note": "x" * 20}, content_type="application/json")
    assert (large.status_code, large.headers["Content-Type"]) == (413, PROBLEM)


def test_a_request_for_another_host_is_a_problem_document_for_programs_alone(owner: User) -> None:
    program = Client(headers={"host": "elsewhere.example"})
    for path, kind in (("/api/materials/", PROBLEM), ("/materials/", "text/html; charset=utf-8")):
        answer = program.get(path)
        assert (answer.status_code, answer.headers["Content-Type"].partition(";")[0]) == (
            400,
            kind.partition(";")[0],
        )
