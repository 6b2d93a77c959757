"""check_books finds any edit of the ledger's rows: columns, rows taken away, copied or swapped, rules taken off."""

import pytest
from django.db import connection

from inventory.ledger import database_rules
from tests.inventory.edits import edits, rules_taken_off, try_all
from tests.inventory.tampering import Story

pytestmark = pytest.mark.django_db


def test_every_edit_of_the_ledgers_rows_is_found(story: Story) -> None:
    told = try_all(edits(rows=2, seed=1))
    assert told.missed == ()
    assert told.found >= 50


def test_every_rule_that_is_taken_off_is_missed(story: Story) -> None:
    told = rules_taken_off()
    assert told.missed == ()
    assert told.found == len(database_rules.rules(connection.vendor))
