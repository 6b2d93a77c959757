"""Tables and columns of the change log are called by names that can be translated."""

import re

import pytest
from django.apps import apps
from django.db import models
from django.utils.functional import Promise

from inventory import model_names as names
from inventory.ledger.models import Books
from inventory.materials.models import Material
from studio.auditing.recording import recorded

SHELF = list(apps.get_app_config("inventory").get_models())


def is_whole(table: type[models.Model]) -> bool:
    kept = recorded(table)
    return kept is not None and kept.is_whole


def shown() -> list[type[models.Model]]:
    """Tables whose changes are recorded, column by column."""
    return [table for table in SHELF if is_whole(table)]


@pytest.mark.parametrize(
    "table", [table for table in SHELF if recorded(table)], ids=lambda table: table.__name__
)
def test_every_recorded_table_has_a_name_that_can_be_translated(table: type[models.Model]) -> None:
    assert isinstance(table._meta.verbose_name, Promise)


@pytest.mark.parametrize("table", shown(), ids=lambda table: table.__name__)
def test_every_column_that_people_may_see_has_a_name_that_can_be_translated(
    table: type[models.Model],
) -> None:
    columns = [column for column in table._meta.local_fields if column.name != "id"]
    assert [column.name for column in columns if not isinstance(column.verbose_name, Promise)] == []


def test_the_english_names_are_words_of_the_trade() -> None:
    assert [str(text) for text in names.COLUMNS.values() if re.search(r"_|\bis\b|\bhash\b", str(text))] == []
    assert str(Books._meta.verbose_name) == "ledger"


def test_a_column_is_called_by_its_name_in_the_language_of_whoever_reads(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def pgettext(context: str, message: str) -> str:
        return {("column", "maker"): "hersteller", ("table", "material"): "werkstoff"}.get(
            (context, message), message
        )

    name = Material._meta.get_field("maker").verbose_name
    assert str(name) == "maker"
    monkeypatch.setattr("django.utils.translation._trans.pgettext", pgettext)
    assert str(name) == "hersteller"
    assert str(Material._meta.verbose_name) == "werkstoff"
