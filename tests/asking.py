"""Asking an address by any method, and what it answers."""

from dataclasses import dataclass
from typing import Any

import pypdfium2
from django.db import transaction
from django.test import Client

from studio.accounts.models import User


@dataclass(frozen=True, slots=True)
class Answer:
    """What a request was answered."""

    status: int
    to: str
    kind: str
    body: str

    @property
    def is_refusal(self) -> bool:
        """401, 403, 405, or on to the login page."""
        return self.status in (401, 403, 405) or (self.status == 302 and self.to.startswith("/login/?next="))


def asked(client: Client, method: str, path: str) -> Answer:
    """What a request is answered, with whatever it changed undone again."""
    data = "{}" if path.startswith("/api/") else ""
    kind = "application/json" if data else "application/x-www-form-urlencoded"
    headers = {"Idempotency-Key": "addresses"}
    with transaction.atomic():
        answer: Any = client.generic(method, path, data, content_type=kind, headers=headers)
        body = _words(answer.getvalue(), answer.headers.get("Content-Type", ""))
        transaction.set_rollback(True)
    headers = answer.headers
    return Answer(answer.status_code, headers.get("Location", ""), headers.get("Content-Type", ""), body)


def _words(content: bytes, kind: str) -> str:
    """An answer as text; of a paper what stands on it, because its bytes are packed."""
    if kind != "application/pdf":
        return content.decode("utf-8", "replace")
    with pypdfium2.PdfDocument(content) as pdf:
        return "\n".join(page.get_textpage().get_text_range() for page in pdf)


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client
