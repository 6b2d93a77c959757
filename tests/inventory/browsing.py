"""Looking at pages the way a person does: signed in, in words, and counting what it costs the database."""

import re
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
