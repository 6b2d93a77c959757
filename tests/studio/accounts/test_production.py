"""Starting and answering in production: a start that refuses weak settings, https alone, cookies bound to the host."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings as project
from django.contrib.messages import INFO
from django.contrib.sessions.backends.db import SessionStore
from django.http import HttpResponse
from django.test import RequestFactory
from pytest_django import Settings

from studio.pages.notices import BoundToHost

GOOD = {
    "MENISCUS_PRODUCTION": "1",
    "MENISCUS_SECRET_KEY": "kQ3vT8xZ1mN5bR7wY2cF6hJ9pL4sD0gA-uE_iOqXtVzBnMkWyCfH",
    "MENISCUS_HOSTS": "meniscus.example",
}


def start(code: str, **environment: str) -> subprocess.CompletedProcess[str]:
    usual = {key: value for key, value in os.environ.items() if not key.startswith(("MENISCUS_", "DJANGO_"))}
    return subprocess.run(
        [sys.executable, "-c", code],
        env={**usual, **GOOD, "DJANGO_SETTINGS_MODULE": "studio.settings", **environment},
        cwd=project.BASE_DIR,
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.mark.parametrize(
    ("variable", "value", "words"),
    [
        ("MENISCUS_SECRET_KEY", "", "MENISCUS_SECRET_KEY"),
        ("MENISCUS_SECRET_KEY", project.DEVELOPMENT_KEY, "MENISCUS_SECRET_KEY"),
        ("MENISCUS_SECRET_KEY", "short", "MENISCUS_SECRET_KEY"),
        ("MENISCUS_SECRET_KEY", "ab" * 40, "MENISCUS_SECRET_KEY"),
        ("MENISCUS_DEBUG", "1", "MENISCUS_DEBUG"),
        ("MENISCUS_HOSTS", "meniscus.example,*", "MENISCUS_HOSTS"),
    ],
)
def test_it_refuses_to_start_in_production_with(variable: str, value: str, words: str) -> None:
    done = start("import studio.settings", **{variable: value})
    assert done.returncode == 1
    assert re.search(rf"ImproperlyConfigured: .*{words}", done.stderr)
    if len(value) > 1:
        assert f"{value}\n" not in done.stderr


def test_in_production_the_deployment_check_is_clean_and_cookies_are_bound_to_the_host(
    tmp_path: Path,
) -> None:
    code = """
import django
django.setup()
from django.conf import settings
from django.core.management import call_command
call_command("check", "--deploy", "--fail-level", "WARNING")
from studio.accounts.login_limits import COOKIE
print(settings.SESSION_COOKIE_NAME, settings.CSRF_COOKIE_NAME, COOKIE, settings.SESSION_COOKIE_SECURE,
      settings.SESSION_COOKIE_DOMAIN, settings.SESSION_COOKIE_PATH, settings.SECURE_PROXY_SSL_HEADER)
"""
    done = start(code, MENISCUS_DATA=str(tmp_path))
    assert done.returncode == 0, done.stderr
    # RFC 6265bis, 4.1.3.2: a __Host- cookie is Secure, has Path=/ and no Domain.
    assert done.stdout.splitlines()[-1] == "__Host-session __Host-csrf __Host-known_device True None / None"


def test_in_production_pages_lead_to_https_programs_are_refused_and_browsers_are_told_to_come_by_it(
    tmp_path: Path,
) -> None:
    """OWASP ASVS 5.0, 3.4.1 and 4.1.2: a year of https for every subdomain; no redirect that hides a plain request."""
    code = """
import django
django.setup()
from django.test import Client
client = Client(SERVER_NAME="meniscus.example")
print(client.get("/health/live", secure=True).headers["Strict-Transport-Security"])
for path in ("/login/", "/api/docs/", "/api/materials/"):
    answer = client.get(path)
    print(answer.status_code, answer.headers.get("Location"), answer.headers["Content-Type"])
"""
    done = start(code, MENISCUS_DATA=str(tmp_path))
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[-4:] == [
        "max-age=31536000; includeSubDomains; preload",
        "301 https://meniscus.example/login/ text/html; charset=utf-8",
        "301 https://meniscus.example/api/docs/ text/html; charset=utf-8",
        "403 None application/problem+json",
    ]


def test_messages_wait_in_a_cookie_that_no_other_host_can_set(rf: RequestFactory, settings: Settings) -> None:
    """RFC 6265bis, 4.1.3.2: a __Host- cookie is Secure, has Path=/ and no Domain."""
    settings.SESSION_COOKIE_SECURE = True
    request, answer = rf.get("/"), HttpResponse()
    request.session = SessionStore()
    notices = BoundToHost(request)
    notices.add(INFO, "The tide is out.")
    notices.update(answer)
    cookie = answer.cookies["__Host-messages"]
    assert list(answer.cookies) == ["__Host-messages"]
    assert (cookie["secure"], cookie["path"], cookie["domain"], cookie["httponly"]) == (True, "/", "", True)
