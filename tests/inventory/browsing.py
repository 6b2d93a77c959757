"""Looking at pages the way a person does: signed in, in words, and counting what it costs the database."""

import re
from html.parser import HTMLParser
from typing import Any

from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from studio.accounts.models import User

KEY = "0" * 32
HOSTILE = "<script>alert(1)</script>"


def as_user(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def text_of(response: Any) -> str:
    """The page's words with all spaces plain."""
    words = re.sub(r"<[^>]+>", " ", response.content.decode())
    return " ".join(words.replace("\xa0", " ").split())


def queries(client: Client, address: str) -> int:
    """How many queries a page that answers well asks."""
    with CaptureQueriesContext(connection) as counted:
        assert client.get(address).status_code == 200
    return len(counted)


def read_whole(seen: CaptureQueriesContext) -> list[str]:
    """Steps of SQLite's plans that begin with the postings that reverse nothing, which nearly all of them are."""
    steps: list[str] = []
    with connection.cursor() as cursor:
        for statement in seen.captured_queries:
            cursor.execute(f"EXPLAIN QUERY PLAN {statement['sql']}")
            steps += [row[3] for row in cursor.fetchall()]
    if not steps:
        raise ValueError("Nothing was asked of the database.")
    return [step for step in steps if "reverses_id" in step and not step.endswith("LEFT-JOIN")]


def filled_in(page: Any, field: str) -> dict[str, str]:
    """What a browser would send of the form with this field, as the page shows it."""
    reader = _FormReader()
    reader.feed(page.content.decode())
    (form,) = [form for form in reader.forms if field in form]
    return {name: value for name, value in form.items() if "__prefix__" not in name}


class _FormReader(HTMLParser):
    """Collects the forms of a page: what stands in each field, is chosen or is ticked."""

    def __init__(self) -> None:
        super().__init__()
        self.forms: list[dict[str, str]] = [{}]
        self.open, self.is_text = "", False  # the list or text that is being read

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        own = {name: value or "" for name, value in attrs}
        name, form = own.get("name", ""), self.forms[-1]
        if tag == "form":
            self.forms.append({})
        elif tag == "select":
            self.open, self.is_text = name, False
        elif tag == "option" and ("selected" in own or self.open not in form):
            form[self.open] = own.get("value", "")
        elif tag == "textarea":
            self.open, self.is_text, form[name] = name, True, ""
        elif tag == "input" and name and own.get("type") in ("checkbox", "radio"):
            form |= {name: own.get("value", "on")} if "checked" in own else {}
        elif tag == "input" and name and own.get("type") not in ("submit", "file"):
            form[name] = own.get("value", "")

    def handle_data(self, data: str) -> None:
        form = self.forms[-1]
        if self.is_text and form.get(self.open) == "" and data.strip():
            form[self.open] = data.strip()

    def handle_endtag(self, tag: str) -> None:
        if tag in ("select", "textarea"):
            self.open, self.is_text = "", False
        elif tag == "form":
            self.forms.append({})
