"""The fixed cast, the fixed day, and how tests live with a ledger that refuses to be emptied."""

import copy
import gc
import os
from collections.abc import Iterator
from datetime import date, datetime
from typing import Any

import pytest
from django.conf import settings as the_settings
from django.core.cache import cache
from django.db import transaction
from django.db.backends.base.operations import BaseDatabaseOperations
from django.test import Client, override_settings
from hypothesis import HealthCheck, settings

from inventory.ledger import database_rules
from studio.accounts.models import User
from tests import making
from tests.days import AT, TODAY
from tests.inventory.invariants import assert_books_hold
from tests.small_studio import SmallStudio, small_studio

# A database example costs milliseconds, not microseconds; `ci` looks longer, HYPOTHESIS_PROFILE chooses.
settings.register_profile(
    "default", max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.register_profile("ci", settings.get_profile("default"), max_examples=400, print_blob=True)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "default"))


# Rounds over everything: each address as each role, each form, each table, each rule gone round, crashes, whole demos,
# each string that could name a table of another floor.
# `.ci/run` has them with the rest; `pytest -m "not browser"` too. The longest are begun first, so that no process is
# left with one of them when the others are done.
THOROUGH = (
    "tests/test_hostile_forms.py",
    "tests/test_roles_and_addresses.py",
    "tests/test_no_lost_updates.py",
    "tests/test_money_stays_hidden.py",
    "tests/inventory/ledger/test_books_hold.py",
    "tests/costing/demo/test_demo",
    "tests/benchmarks/test_benchmarks.py",
    "tests/faults/",
    "tests/studio/api/test_api_keeps_its_word.py",
    "tests/inventory/comparisons/test_blindness.py",
    "tests/inventory/ledger/test_database_rules.py",
    "tests/inventory/ledger/test_every_column_is_held.py",
    "tests/inventory/ledger/test_table_rebuilds.py",
    "tests/inventory/ledger/test_tampered_records.py",
    "tests/inventory/purchasing/test_corrected_as_if_received_so.py",
    "tests/inventory/reordering/test_kept_use.py",
    "tests/inventory/sessions/test_most_pours.py",
    "tests/inventory/test_generated_edits.py",
    "tests/studio/imports/test_messy_studio.py",
    "tests/studio/search/test_search.py::test_every_",
    "tests/studio/serving/",
    "tests/costing/demo/test_known_logins.py::test_a_server_",
    "tests/test_architecture_strings.py",
    "tests/test_printed_totals.py",
    "tests/test_translations.py::test_no_page_says_",
)

# Their servers keep SQLite whatever the tests' database, or they read the project's own files: once is enough.
ONE_DATABASE = ("tests/studio/serving/", "tests/test_architecture", "tests/studio/papers/test_paper.py")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    def place(item: pytest.Item) -> int:
        return next((n for n, name in enumerate(THOROUGH) if item.nodeid.startswith(name)), len(THOROUGH))

    items.sort(key=place)
    for item in items:
        if place(item) < len(THOROUGH):
            item.add_marker(pytest.mark.thorough)
        if item.nodeid.startswith(ONE_DATABASE):
            item.add_marker(pytest.mark.one_database)


def pytest_collection_finish() -> None:
    """Look for garbage seldom, and never among the modules and the tests themselves: a tenth less time in all."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 100)


@pytest.fixture(scope="session", autouse=True)
def a_ledger_that_lets_tests_clean_up() -> Iterator[None]:
    """Tests with real transactions end in Django's flush, which the ledger's rules refuse.

    The rules come off for the flush alone; the post_migrate signal that follows it puts them and the first rows
    back.
    """
    flush = BaseDatabaseOperations.execute_sql_flush

    def flush_without_rules(operations: BaseDatabaseOperations, sql_list: list[str]) -> Any:
        database_rules.remove(operations.connection.alias)
        return flush(operations, sql_list)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(BaseDatabaseOperations, "execute_sql_flush", flush_without_rules)
        yield


@pytest.fixture(scope="session", autouse=True)
def settings_that_spare_time() -> Iterator[None]:
    """Slow by design or by default, and nothing that a page says depends on it.

    A slow hash guards real passwords: here the first one listed is quick, and the real ones can still be read.
    The static files are looked for when one is asked for, not all of them again for every client that is made.
    """
    quick = "django.contrib.auth.hashers.MD5PasswordHasher"
    hashers = [quick, *the_settings.PASSWORD_HASHERS]
    with override_settings(PASSWORD_HASHERS=hashers, WHITENOISE_AUTOREFRESH=True):
        yield


@pytest.fixture(autouse=True)
def requests_counted_anew() -> None:
    """How many requests somebody may send in a minute is not used up by the tests before."""
    cache.clear()


@pytest.fixture
def owner(db: None) -> User:
    return making.make_owner()


@pytest.fixture
def helper(db: None) -> User:
    return making.make_helper()


@pytest.fixture
def bookkeeper(db: None) -> User:
    return making.make_bookkeeper()


@pytest.fixture
def stranger(db: None) -> User:
    return making.make_stranger()


@pytest.fixture
def signed(client: Client, owner: User) -> Client:
    """The owner's browser, signed in."""
    client.force_login(owner)
    return client


@pytest.fixture(scope="module")
def studio_of_file(django_db_setup: None, django_db_blocker: Any) -> Iterator[SmallStudio]:
    """A small studio that the tests of a file share, since it takes a second: what each of them writes is undone."""
    with django_db_blocker.unblock(), transaction.atomic():
        yield small_studio()
        transaction.set_rollback(True)


@pytest.fixture
def built(studio_of_file: SmallStudio, db: None) -> SmallStudio:
    """The small studio of a file, in objects of a test's own, which it may change."""
    return copy.deepcopy(studio_of_file)


@pytest.fixture
def at() -> datetime:
    return AT


@pytest.fixture
def today() -> date:
    return TODAY


@pytest.fixture
def books_hold(db: None) -> Iterator[None]:
    """After the test's story, whatever it was, the books must still hold every rule."""
    yield
    assert_books_hold()
