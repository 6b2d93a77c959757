"""A new studio is set up in one statement a table, and Django's own autodetector agrees that nothing is left out."""

from django.db import models
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.operations import AddConstraint, AddField, CreateModel

from studio.management.commands.makemigrations import folded


def table(name: str, **fields: models.Field) -> CreateModel:  # type: ignore[type-arg]
    return CreateModel(name, [("id", models.BigAutoField(primary_key=True)), *fields.items()])


def test_what_is_added_to_a_new_table_is_created_with_it_after_those_it_refers_to() -> None:
    check = models.CheckConstraint(condition=models.Q(amount__gte=0), name="pot_amount")
    shelf = models.ForeignKey("inventory.Shelf", models.PROTECT)
    found = folded(
        [
            table("Pot", amount=models.BigIntegerField()),
            table("Shelf"),
            AddField("pot", "shelf", shelf),
            AddConstraint("pot", check),
        ],
        "inventory",
    )
    assert [each.name for each in found if isinstance(each, CreateModel)] == ["Shelf", "Pot"]
    assert isinstance(found[1], CreateModel)
    assert [name for name, _field in found[1].fields] == ["id", "amount", "shelf"]
    assert found[1].options["constraints"] == [check]


def test_tables_that_refer_to_each_other_stay_as_django_wrote_them() -> None:
    written = [
        table("Pot"),
        table("Shelf", pot=models.ForeignKey("inventory.Pot", models.PROTECT)),
        AddField("pot", "shelf", models.ForeignKey("inventory.Shelf", models.PROTECT)),
    ]
    assert folded(written, "inventory") == written
    assert len(written[0].fields) == 1  # type: ignore[attr-defined]


def test_what_is_added_to_a_table_of_an_earlier_migration_stays_an_operation() -> None:
    added = AddField("pot", "amount", models.BigIntegerField(default=0))
    assert folded([added], "inventory") == [added]


def test_the_first_migrations_create_each_table_whole() -> None:
    loader = MigrationLoader(None)
    for app in ("studio", "inventory", "costing"):
        operations = loader.disk_migrations[app, "0001_initial"].operations
        assert not [each for each in operations if isinstance(each, AddConstraint)]
