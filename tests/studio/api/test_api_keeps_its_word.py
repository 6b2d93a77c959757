"""Whatever a program sends, by whomever, is answered as the API's own document says, and the books still balance.

Requests are made up from the document (by Schemathesis): right ones, and wrong ones
that must be refused. MENISCUS_API_ROUNDS says how many of either kind for each address; more find more.
"""

import json
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from django.core.management import call_command
from django.core.signals import request_finished, request_started
from django.core.wsgi import get_wsgi_application
from django.db import close_old_connections, transaction
from django.utils import timezone
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from openapi_spec_validator import OpenAPIV31SpecValidator
from schemathesis.config import SchemathesisConfig
from schemathesis.core.failures import FailureGroup
from schemathesis.generation import GenerationMode

from inventory.ledger.verification import check
from studio.accounts.models import TokenScope, User
from studio.accounts.tokens import add_token
from tests.addresses import addresses
from tests.making import make_bookkeeper, make_helper, make_owner
from tests.programs import Program
from tests.test_roles_and_addresses import everything_to_serve, numbers, path_of

pytestmark = pytest.mark.django_db
ROUNDS = int(os.environ.get("MENISCUS_API_ROUNDS", "1"))
PLAIN = {"Accept-Encoding": "identity"}
ACCEPTABLE = ["2xx", "400", "401", "403", "404", "406", "409", "412", "413", "415", "422", "428"]
# What fits the document may still be refused: rows that are not there, rules between fields.
CONFIG = {"checks": {"positive_data_acceptance": {"expected-statuses": ACCEPTABLE}}}


@pytest.fixture(scope="module")
def document(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    file = tmp_path_factory.mktemp("document") / "openapi.json"
    call_command("spectacular", "--format=openapi-json", f"--file={file}")
    read: dict[str, Any] = json.loads(Path(file).read_text(encoding="utf-8"))
    return read


@pytest.fixture(scope="module")
def rows(
    django_db_setup: None, django_db_blocker: Any, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[dict[str, int]]:
    """A small studio, and a row of it for each address with a number."""
    folder = tmp_path_factory.mktemp("served")
    with django_db_blocker.unblock(), transaction.atomic(), everything_to_serve(folder) as studio:
        known = numbers(studio)
        paths = {
            f"/{each.route}": path_of(each, known) for each in addresses() if each.route.startswith("api/")
        }
        yield {_as_documented(route): _number_in(path) for route, path in paths.items() if "<int:" in route}
        transaction.set_rollback(True)


@pytest.fixture
def one_connection() -> Iterator[None]:
    """A server closes its connections between requests; here they all see the test's own transaction."""
    signals = (request_started, request_finished)
    for signal in signals:
        signal.disconnect(close_old_connections)
    yield
    for signal in signals:
        signal.connect(close_old_connections)


def _as_documented(route: str) -> str:
    return route.replace("<int:pk>", "{id}").replace("<int:of>", "{of}").replace("<str:name>", "{name}")


def _number_in(path: str) -> int:
    return next(int(part) for part in path.split("/") if part.isdigit())


def people() -> dict[str, str]:
    """A token of each role, one that only reads, and none."""
    at = timezone.now()

    def token(user: User, scope: str) -> str:
        return f"Bearer {add_token(user=user, name='Tide', scope=scope, days=1, at=at)[1]}"

    return {
        "owner": token(make_owner(), TokenScope.WRITE),
        "owner who reads": token(make_owner(), TokenScope.READ),
        "helper who sees money": token(make_helper(may_see_money=True), TokenScope.WRITE),
        "helper": token(make_helper(), TokenScope.WRITE),
        "bookkeeper": token(make_bookkeeper(), TokenScope.READ),
        "nobody": "",
    }


def test_the_document_is_openapi_by_an_independent_reader(document: dict[str, Any]) -> None:
    # OpenAPI Specification 3.1, held by openapi-spec-validator against its published schema.
    assert [str(error.message) for error in OpenAPIV31SpecValidator(document).iter_errors()] == []


def test_every_address_answers_with_what_the_document_promises(
    document: dict[str, Any], rows: dict[str, int]
) -> None:
    wrong = []
    for user in (make_owner(), make_helper()):
        program = Program(user)
        for path, methods in document["paths"].items():
            if "get" not in methods or path.endswith("schema/"):
                continue
            asked = path.removeprefix("/api/").replace("{id}", str(rows.get(path, 1)))
            answer = program.get(asked)
            said = methods["get"]["responses"].get(str(answer.status_code), {}).get("content", {})
            kind = answer.headers["Content-Type"].partition(";")[0]
            if answer.streaming:
                answer.getvalue()  # a file is closed once it is read
            if kind not in said:
                wrong.append(f"{asked}: {answer.status_code} {kind}")
            elif "json" in kind:
                schema = {**said[kind]["schema"], "components": document["components"]}
                problems = Draft202012Validator(schema).iter_errors(answer.json())
                wrong += [f"{asked}: {problem.message[:300]}" for problem in problems]
    assert wrong == []


def test_whatever_is_sent_is_answered_as_the_document_says(
    document: dict[str, Any], rows: dict[str, int], one_connection: None
) -> None:
    api = schemathesis.openapi.from_dict(document, config=SchemathesisConfig.from_dict(CONFIG))
    api.app, tokens, wrong = get_wsgi_application(), people(), []

    for found in api.get_all_operations():
        operation: Any = found.ok()  # type: ignore[union-attr]  # the document was found valid above
        known = {"path_parameters": {"id": rows[operation.path]}} if operation.path in rows else {}
        for mode in GenerationMode:
            cases = operation.as_strategy(generation_mode=mode, **known)
            is_wrong = mode == GenerationMode.NEGATIVE
            wrong += _told(cases.filter(_is_sent_whole) if is_wrong else cases, tokens)
    assert wrong == []
    report = check()
    assert report.is_clean, report.breaks


def _is_sent_whole(case: Any) -> bool:
    """Whether all of a query goes out: an empty object or list does not, so that nothing is wrong with the rest."""
    return all(value not in ({}, []) for value in (case.query or {}).values())


def _told(cases: st.SearchStrategy[Any], tokens: dict[str, str]) -> list[str]:
    """What is wrong with the answers to some requests, each sent by everybody."""
    wrong: list[str] = []

    @settings(
        max_examples=ROUNDS,
        database=None,
        deadline=None,
        derandomize=ROUNDS == 1,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(cases)
    def send(case: Any) -> None:
        for person, token in tokens.items():
            headers = PLAIN | ({"Authorization": token} if token else {})
            try:
                case.call_and_validate(headers=headers)
            except FailureGroup as failures:
                wrong.extend(f"{person}: {each}" for each in failures.exceptions)

    send()
    return wrong
