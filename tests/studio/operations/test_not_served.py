"""What no address answers: source, keys, lists of folders, echoes; and requests that can be read two ways."""

from typing import Any

import pytest
from django.test import Client
from gunicorn.config import Config  # type: ignore[import-untyped]
from gunicorn.http import RequestParser  # type: ignore[import-untyped]
from gunicorn.http.errors import ParseException  # type: ignore[import-untyped]

from studio.accounts.models import User


@pytest.mark.parametrize(
    "path",
    [
        "/.git/HEAD", "/.env", "/manage.py", "/secret-key", "/backup.key", "/meniscus.sqlite3", "/photos/",
        "/static/", "/static/studio/", "/static/../studio/settings.py", "/static/%2e%2e/studio/settings.py",
    ],
)  # fmt: skip
def test_no_source_secret_or_folder_is_served(owner: User, client: Client, path: str) -> None:
    """OWASP ASVS 5.0, 13.4.1 and 13.4.3."""
    client.force_login(owner)
    assert client.get(path).status_code == 404


@pytest.mark.parametrize(
    "path", ["/", "/login/", "/health/live", "/api/materials/", "/static/studio/meniscus.css"]
)
def test_a_trace_is_not_answered(owner: User, client: Client, path: str) -> None:
    """OWASP ASVS 5.0, 13.4.4. RFC 9110, section 9.3.8: a TRACE would repeat cookies to whatever script asked for it."""
    client.force_login(owner)
    answer: Any = client.trace(path, headers={"X-Tide": "neap"})
    assert answer.status_code in (302, 404, 405)
    assert b"neap" not in answer.getvalue()


@pytest.mark.parametrize(
    "lines",
    [
        "Content-Length: 5\r\nTransfer-Encoding: chunked",
        "Content-Length: 5\r\nContent-Length: 6",
        "Content-Length: +5",
        "Content-Length : 5",
        "Transfer-Encoding: xchunked",
        "X-Tide: neap\r\n Content-Length: 5",
    ],
)
def test_a_request_whose_length_can_be_read_two_ways_is_refused(lines: str) -> None:
    """OWASP ASVS 5.0, 4.2.1. RFC 9112, section 6.3: such a message may be an attempt at request smuggling."""
    request = f"POST / HTTP/1.1\r\nHost: studio.example\r\n{lines}\r\n\r\n5\r\nhello\r\n0\r\n\r\n".encode()
    with pytest.raises(ParseException):
        next(RequestParser(Config(), iter([request]), ("127.0.0.1", 1)))
