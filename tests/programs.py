"""A program that uses the API as somebody, by a session or by a token."""

import json
from itertools import count
from typing import Any

from django.test import Client

from studio.accounts.models import User

PROBLEM = "application/problem+json"  # RFC 9457, section 3
_keys = count(1)


class Program:
    """Sends and reads JSON. Every POST gets a new idempotency key unless one is given."""

    def __init__(self, user: User | None = None, *, token: str = "") -> None:
        self.client = Client()
        self.headers = {"Authorization": f"Bearer {token}"} if token else {}
        if user is not None:
            self.client.force_login(user)

    def get(self, path: str, **query: Any) -> Any:
        return self.client.get(f"/api/{path}", query, headers=self.headers)

    def read(self, path: str, **query: Any) -> Any:
        """What a GET answers; it must succeed."""
        answer = self.get(path, **query)
        assert answer.status_code == 200, answer.content
        return answer.json()

    def post(self, path: str, body: Any = None, *, key: str | None = None, if_match: str = "*") -> Any:
        headers = self.headers | {"Idempotency-Key": key or f"program-{next(_keys)}"}
        headers |= {"If-Match": if_match} if if_match else {}  # "*": whatever was changed meanwhile
        return self.client.post(
            f"/api/{path}", json.dumps(body or {}), content_type="application/json", headers=headers
        )

    def refusal(self, path: str, body: Any = None, *, key: str | None = None, status: int) -> Any:
        """The problem document that a POST answers."""
        answer = self.post(path, body, key=key)
        assert (answer.status_code, answer.headers["Content-Type"]) == (status, PROBLEM), answer.content
        problem = answer.json()
        assert problem.keys() >= {"type", "title", "status", "detail"}
        assert problem["status"] == status
        return problem | {"kind": problem["type"].rpartition(":")[2]}

    def send(self, path: str, body: Any = None, *, key: str | None = None, status: int = 201) -> Any:
        """What a POST answers; it must end in this status."""
        answer = self.post(path, body, key=key)
        assert answer.status_code == status, answer.content
        return answer.json()


def names_of(found: Any) -> set[str]:
    """Every name in a JSON answer, at any depth."""
    if isinstance(found, dict):
        return set(found) | {name for value in found.values() for name in names_of(value)}
    if isinstance(found, list):
        return {name for value in found for name in names_of(value)}
    return set()
