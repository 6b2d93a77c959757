"""Books that took a fortnight to write, for the tests that tamper with them."""

import pytest

from tests.inventory.tampering import Story, live_through_a_fortnight


@pytest.fixture
def story(db: None) -> Story:
    return live_through_a_fortnight()
