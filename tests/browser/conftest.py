"""A browser, and a server for it to look at. Run these tests with `pytest -m browser`.

Without Chromium they are skipped, or fail where CI=true or MENISCUS_BROWSER_REQUIRED=1 says that they must run.
MENISCUS_CHROMIUM names another Chromium than the one on the path. Without the extra `browser` they are not collected.
"""

from collections.abc import Callable, Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from django.conf import settings
from django.test import override_settings
from pytest_django.live_server_helper import LiveServer

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext

    from tests.browser.chromium import Screen

collect_ignore_glob = [] if find_spec("playwright") and find_spec("axe_playwright_python") else ["*.py"]

SLOWEST_MS = 15_000


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    django_db_modify_db_settings_parallel_suffix: None, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """On SQLite the books stand in a file, as a studio's do: each request then has a connection of its own."""
    database = settings.DATABASES["default"]
    if database["ENGINE"] == "studio.operations.sqlite_engine":
        database.setdefault("TEST", {})["NAME"] = str(tmp_path_factory.mktemp("books") / "books.sqlite3")


@pytest.fixture(scope="session")
def browser() -> Iterator["Browser"]:
    from playwright.sync_api import expect

    from tests.browser.chromium import NoBrowser, chromium, chromium_path, is_required

    expect.set_options(timeout=SLOWEST_MS)
    try:
        chromium_path()
    except NoBrowser as problem:
        if is_required():
            pytest.fail(str(problem))
        pytest.skip(str(problem))
    with pytest.MonkeyPatch.context() as patch, chromium() as opened:
        # Playwright waits in an event loop of its own, in which Django would refuse every query of the tests.
        patch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
        yield opened


@pytest.fixture(scope="session")
def server(django_db_setup: None, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a server of the test database, with photos and backups in a folder of their own."""
    folder: Path = tmp_path_factory.mktemp("data")
    with override_settings(
        MEDIA_ROOT=folder / "photos", BACKUPS=folder / "backups", ALLOWED_HOSTS=["localhost", "testserver"]
    ):
        live = LiveServer("localhost")
        yield live.url
        live.stop()


@pytest.fixture
def visit(
    browser: "Browser", server: str, transactional_db: None
) -> Iterator[Callable[["Screen"], "BrowserContext"]]:
    """Opens the studio on a screen, as somebody who has not signed in yet."""
    opened: list[Any] = []

    def visit_on(screen: "Screen") -> "BrowserContext":
        context = browser.new_context(base_url=server, **screen.options)
        context.set_default_timeout(SLOWEST_MS)
        opened.append(context)
        return context

    yield visit_on
    for context in opened:
        context.close()
