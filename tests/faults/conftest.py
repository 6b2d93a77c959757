"""Databases that outlive a transaction, for tests whose writers are separate processes."""

import os
from collections.abc import Iterator

import pytest

from tests.faults.real_databases import Maker, RealDatabase, maker


@pytest.fixture(scope="session")
def real_databases(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Maker]:
    """A maker of databases of the kind that the suite runs on."""
    with maker(tmp_path_factory.mktemp("databases"), os.environ.get("DATABASE_URL", "")) as made:
        yield made


@pytest.fixture
def real_database(real_databases: Maker) -> Iterator[RealDatabase]:
    """A migrated database with nothing in its books."""
    with real_databases.fresh() as database:
        yield database
