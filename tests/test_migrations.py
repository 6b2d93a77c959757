"""Migrations are current, and the ledger's rules are in place after each of them."""

from io import StringIO

import pytest
from django.core.management import call_command
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.recorder import MigrationRecorder

from inventory.ledger import database_rules
from inventory.ledger.models import Books, Reason
from inventory.sessions.models import Technique

APPS = ("studio", "inventory", "costing")


def leaves() -> dict[str, str]:
    """The newest migration of each app of ours."""
    graph = MigrationExecutor(connection).loader.graph
    return {app: graph.leaf_nodes(app)[0][1] for app in APPS}


def migrate(app: str, to: str) -> None:
    call_command("migrate", app, to, verbosity=0, skip_checks=True)


@pytest.mark.django_db
def test_no_change_of_a_model_lacks_its_migration() -> None:
    said = StringIO()
    call_command("makemigrations", "--check", "--dry-run", stdout=said)
    assert "No changes detected" in said.getvalue()


@pytest.mark.django_db
def test_a_database_migrated_from_nothing_has_the_rules_and_the_first_rows() -> None:
    assert database_rules.differences() == []
    assert Books.objects.get().last_number == 0
    assert Reason.objects.filter(code="count").exists()
    assert Technique.objects.filter(name="Ring pour").exists()


@pytest.mark.django_db
def test_every_migration_is_applied() -> None:
    executor = MigrationExecutor(connection)
    assert executor.migration_plan(executor.loader.graph.leaf_nodes()) == []


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("app", APPS)
def test_the_rules_are_in_place_one_step_back_and_forward_again(app: str) -> None:
    newest = leaves()
    applied = sorted(name for of, name in MigrationRecorder(connection).applied_migrations() if of == app)
    if len(applied) < 2:
        pytest.skip(f"{app} has one migration: there is no step back that keeps its tables.")
    try:
        migrate(app, applied[-2])
        assert database_rules.differences() in ([], missing_all()), "some of the rules, but not all"
    finally:
        for other in APPS:
            migrate(other, newest[other])
    assert database_rules.differences() == []


def missing_all() -> list[str]:
    return [f"{rule.trigger} is missing" for rule in database_rules.rules(connection.vendor)]
