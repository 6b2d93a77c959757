"""Nothing points up in strings either: no app label, table, address, template, tag or command of a higher floor."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.apps import apps
from django.core.management import find_commands
from django.urls import URLPattern, URLResolver, get_resolver

from tests.test_architecture import FLOORS as ROOMS

ROOT = Path(__file__).resolve().parent.parent
FLOORS = ("studio", "inventory", "costing")

# Where the floors are put together: the only places that name those above, and what they may name.
COMPOSITION = {
    "studio/settings.py": {"inventory.apps.InventoryConfig", "costing.apps.CostingConfig"},
    "studio/urls.py": {
        "inventory.api_urls",
        "inventory.urls",
        "costing.api_urls",
        "costing.home.urls",
        "costing.first_run.urls",
        "costing.urls",
    },
}
# The first page: whatever stands on top gives its own page this name.
FIRST_PAGE = "home"


def above(floor: str) -> tuple[str, ...]:
    return FLOORS[FLOORS.index(floor) + 1 :]


def strings(path: Path) -> Iterator[tuple[int, str]]:
    """Every string of a Python file but its docstrings; every line of any other file, without its comments."""
    text = path.read_text(encoding="utf-8")
    if path.suffix == ".py":
        tree = ast.parse(text)
        docs = {
            id(node.body[0].value)
            for node in ast.walk(tree)
            if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef)
            and node.body
            and isinstance(node.body[0], ast.Expr)
        }
        for node in ast.walk(tree):
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docs:
                yield node.lineno, node.value
        return
    text = re.sub(
        r"{% comment %}.*?{% endcomment %}", lambda match: "\n" * match[0].count("\n"), text, flags=re.S
    )
    yield from enumerate(text.splitlines(), start=1)


def sources(floor: str) -> list[Path]:
    kinds = {".py", ".html", ".sql", ".js", ".txt", ".css"}
    return sorted(
        path
        for path in (ROOT / floor).rglob("*")
        if path.suffix in kinds and not {"locale", "migrations", "vendor"} & set(path.parts)
    )


def upward(floor: str, pattern: "re.Pattern[str]") -> list[str]:
    """Every place of a floor where a string has what no floor below may know."""
    places = []
    for path in sources(floor):
        name = str(path.relative_to(ROOT))
        for line, text in strings(path):
            if text not in COMPOSITION.get(name, ()):
                places += [f"{name}:{line} has {match[0]!r}" for match in pattern.finditer(text)]
    return places


def words(names: set[str]) -> "re.Pattern[str]":
    return re.compile(rf"\b({'|'.join(sorted(map(re.escape, names)))})\b")


@pytest.mark.parametrize("floor", FLOORS[:-1])
def test_no_string_names_an_app_or_a_module_of_a_higher_floor(floor: str) -> None:
    labels = "|".join(above(floor))
    assert upward(floor, re.compile(rf"(?<![\w-])({labels})(?=[.:/]\w)|^({labels})$")) == []


@pytest.mark.parametrize("floor", FLOORS[:-1])
def test_no_string_names_a_table_of_a_higher_floor(floor: str) -> None:
    tables = {
        model._meta.db_table for label in above(floor) for model in apps.get_app_config(label).get_models()
    }
    assert upward(floor, words(tables)) == []


@pytest.mark.parametrize("floor", FLOORS[:-1])
def test_no_page_links_to_an_address_of_a_higher_floor(floor: str) -> None:
    names = {name for module, name in _addresses(get_resolver()) if module.split(".")[0] in above(floor)}
    listed = "|".join(map(re.escape, names - {FIRST_PAGE}))
    assert upward(floor, re.compile(rf"""(?:{{%\s*url\s+|\bto=|\bsection=)["']({listed})["']""")) == []
    in_code = [
        f"{path.relative_to(ROOT)}:{line} has {text!r}"
        for path in sources(floor)
        if path.suffix == ".py"
        for line, text in _reversed_names(path)
        if text in names - {FIRST_PAGE}
    ]
    assert in_code == []


def _reversed_names(path: Path) -> Iterator[tuple[int, str]]:
    """The names of addresses that a Python file looks up."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and node.args and isinstance(node.args[0], ast.Constant):
            called = getattr(node.func, "id", getattr(node.func, "attr", ""))
            if called in ("reverse", "reverse_lazy", "redirect"):
                yield node.lineno, str(node.args[0].value)


def _addresses(resolver: URLResolver, space: str = "") -> Iterator[tuple[str, str]]:
    """The module that brings each named address, and the name."""
    for each in resolver.url_patterns:
        if isinstance(each, URLResolver):
            yield from _addresses(each, f"{each.namespace}:" if each.namespace else space)
        elif isinstance(each, URLPattern) and each.name:
            yield each.callback.__module__, f"{space}{each.name}"


@pytest.mark.parametrize("floor", FLOORS[:-1])
def test_no_page_takes_a_template_or_a_tag_from_a_higher_floor(floor: str) -> None:
    templates = {
        str(path).rpartition("/templates/")[2]
        for label in above(floor)
        for path in (ROOT / label).rglob("templates/**/*.html")
    }
    tags = {path.stem for label in above(floor) for path in (ROOT / label).glob("templatetags/*.py")}
    assert upward(floor, words(templates)) == []
    assert upward(floor, re.compile(rf"{{% load [^%]*\b({'|'.join(tags - {'__init__'}) or '(?!)'})\b")) == []


@pytest.mark.parametrize("floor", FLOORS[:-1])
def test_no_string_runs_a_command_of_a_higher_floor(floor: str) -> None:
    commands = {name for label in above(floor) for name in find_commands(str(ROOT / label / "management"))}
    assert upward(floor, re.compile(rf"^({'|'.join(commands)})$")) == []


@pytest.mark.parametrize("floor", FLOORS[:-1])
def test_no_code_goes_up_by_a_relation_that_a_higher_floor_made(floor: str) -> None:
    """A foreign key gives the row that it points to a name for the rows that point: that name belongs above."""
    below = [
        model
        for label in FLOORS
        if label not in above(floor)
        for model in apps.get_app_config(label).get_models()
    ]
    names = {
        relation.get_accessor_name()
        for model in below
        for relation in model._meta.related_objects
        if relation.related_model._meta.app_label in above(floor) and relation.get_accessor_name()
    }
    listed = "|".join(sorted(map(str, names))) or "(?!)"
    assert upward(floor, re.compile(rf"(^|__)({listed})__|__({listed})$")) == []
    attributes = [
        f"{path.relative_to(ROOT)}:{node.lineno} has .{node.attr}"
        for path in sources(floor)
        if path.suffix == ".py"
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Attribute) and node.attr in names
    ]
    assert attributes == []


# An entry's mix and pour, a mix's session: rows that are written before the rows that they name.
LATER_ROWS = {
    ("inventory/ledger/models.py", "inventory.Mix"),
    ("inventory/ledger/models.py", "inventory.Pour"),
    ("inventory/recipes/models.py", "inventory.Session"),
}


@pytest.mark.parametrize("floor", FLOORS)
def test_inside_a_floor_no_string_names_a_table_of_a_later_room(floor: str) -> None:
    rooms = ROOMS[floor]
    models = {model: model.__module__.split(".")[1] for model in apps.get_app_config(floor).get_models()}
    places = []
    for position, room in enumerate(rooms):
        later = [model for model, home in models.items() if home in rooms[position + 1 :]]
        names = [rf"\b{model._meta.db_table}\b|\b{floor}\.{model.__name__}\b" for model in later]
        pattern = re.compile("|".join(names) or "(?!)")
        for path in sources(f"{floor}/{room}"):
            name = str(path.relative_to(ROOT))
            for line, text in strings(path) if path.suffix in (".py", ".sql") else ():
                found = [match[0] for match in pattern.finditer(text) if (name, match[0]) not in LATER_ROWS]
                places += [f"{name}:{line} has {each!r}" for each in found]
    assert places == []


def test_the_floors_are_put_together_in_two_places() -> None:
    for name, named in COMPOSITION.items():
        assert named <= {text for _line, text in strings(ROOT / name)}, name
