"""The documents say what is true: every command and setting they name exists, and none is left out."""

import re
from pathlib import Path

import pytest
from django.core.management import get_commands
from django.urls import get_resolver, reverse

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
OUR_ROOMS = {"studio", "inventory", "costing"}


def our_commands() -> set[str]:
    return {name for name, room in get_commands().items() if room in OUR_ROOMS}


def test_the_readme_opens_with_one_paragraph_that_states_the_job() -> None:
    first = README.split("\n\n")[0]
    assert first.startswith("Meniscus keeps the stock, the costs and the prices of a small fluid-art studio")
    assert "#" not in first


def test_every_command_the_documents_name_exists() -> None:
    named = set(re.findall(r"manage\.py ([a-z_]+)", README + DEVELOPERS))
    assert named <= set(get_commands()), f"unknown: {named - set(get_commands())}"


def test_every_command_of_ours_is_in_the_readme() -> None:
    assert our_commands() - {"makemessages"} <= set(re.findall(r"manage\.py ([a-z_]+)", README))


def test_every_setting_read_from_the_environment_is_documented() -> None:
    sources = "".join(
        path.read_text(encoding="utf-8") for room in OUR_ROOMS for path in (ROOT / room).rglob("*.py")
    )
    read = set(re.findall(r"""environ(?:\.get\(|\[)["']([A-Z_]+)["']""", sources)) - {
        "DJANGO_SETTINGS_MODULE"
    }
    table = DEVELOPERS.split("## Settings from the environment")[1].split("\n#")[0]
    documented = set()
    for cell in re.findall(r"^\| (.*?) \|", table, flags=re.MULTILINE):
        names = re.findall(r"`([A-Z_]+)`", cell)
        for name in names:
            stem = names[0].rsplit("_", 1)[0]
            documented.add(f"{stem}{name}" if name.startswith("_") else name)
    assert read == documented


@pytest.mark.parametrize(
    "module", sorted(set(re.findall(r"`((?:studio|inventory|costing|tests)/[\w/.*]+)`", DEVELOPERS)))
)
def test_every_file_the_guide_names_exists(module: str) -> None:
    assert list(ROOT.glob(module)), module


def planned() -> dict[str, set[str]]:
    """What the house plan says is in each package that it lists module by module."""
    found: dict[str, set[str]] = {}
    room = package = ""
    for line in DEVELOPERS.split("```")[1].splitlines():
        if line[:1] != " ":
            room = line.split("/")[0]
        elif started := re.match(r"  ([a-z_]+)/ +(.*)", line):
            package = f"{room}/{started[1]}"
            found[package] = words_of(started[2])
        elif line.startswith(" " * 20) and package in found:
            found[package] |= words_of(line)
        else:
            package = ""
    return {place: names for place, names in found.items() if len(names) > 1 and "sheets" not in place}


def words_of(text: str) -> set[str]:
    return set(re.findall(r"[a-z_]+", re.sub(r"\([^)]*\)", "", text)))


def test_the_house_plan_lists_every_module_of_its_packages_and_no_other() -> None:
    plan = planned()
    assert len(plan) >= 12
    for place, names in plan.items():
        if place != "costing/demo":
            there = {path.stem for path in (ROOT / place).glob("*.py")} - {"__init__"}
            assert names == there, place


def test_nothing_in_the_project_names_a_registry_or_a_path_of_one_machine() -> None:
    forbidden = re.compile(r"pypi\.|pythonhosted|registry\.npmjs|/work/main|/tmp/w\b|/root/")
    for path in ROOT.rglob("*"):
        if (
            path.suffix in {".py", ".md", ".toml", ".txt", ".html", ".css", ".js", ".sql", ".cfg"}
            or path.name == "run"
        ):
            if any(
                part in {".venv", ".git", ".data", ".hypothesis", "build", "node_modules"}
                for part in path.parts
            ):
                continue
            if path == Path(__file__):
                continue
            assert not forbidden.search(path.read_text(encoding="utf-8", errors="ignore")), path


def test_every_navigation_entry_leads_somewhere() -> None:
    for name in (
        "home",
        "inventory:stock",
        "inventory:enough",
        "inventory:session-new",
        "costing:pieces",
        "costing:price-list",
    ):
        assert reverse(name).startswith("/")
    assert get_resolver().url_patterns
