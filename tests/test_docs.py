"""The documents say what is true: every command and setting they name exists, and none is left out."""

import re
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.management import get_commands
from django.urls import get_resolver, reverse

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
OPERATIONS = (ROOT / "studio/operations/OPERATIONS.md").read_text(encoding="utf-8")
OUR_ROOMS = {"studio", "inventory", "costing"}


def our_commands() -> set[str]:
    return {name for name, room in get_commands().items() if room in OUR_ROOMS}


def test_the_readme_opens_with_one_paragraph_that_states_the_job() -> None:
    first = README.split("\n\n")[0]
    assert first.startswith("Meniscus keeps the stock, the costs and the prices for small fluid-art studios")
    assert "#" not in first


def test_every_command_the_documents_name_exists() -> None:
    named = set(re.findall(r"manage\.py ([a-z_]+)", README + DEVELOPERS + OPERATIONS))
    assert named <= set(get_commands()), f"unknown: {named - set(get_commands())}"


def test_every_command_of_ours_is_in_the_readme() -> None:
    assert our_commands() - {"makemessages", "makemigrations"} <= set(
        re.findall(r"manage\.py ([a-z_]+)", README)
    )


def test_every_setting_read_from_the_environment_is_documented() -> None:
    sources = "".join(
        path.read_text(encoding="utf-8") for room in OUR_ROOMS for path in (ROOT / room).rglob("*.py")
    )
    read = set(re.findall(r"""environ(?:\.get\(|\[)["']([A-Z_]+)["']""", sources)) - {
        "DJANGO_SETTINGS_MODULE"
    }
    table = OPERATIONS.split("## Settings from the environment")[1].split("\n#")[0]
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


def planned_rooms() -> dict[str, set[str]]:
    """The rooms of each floor as the house plan lists them."""
    found: dict[str, set[str]] = {}
    floor = ""
    for line in DEVELOPERS.split("```")[1].splitlines():
        if started := re.match(r"([a-z]+)/", line):
            floor = started[1]
        elif room := re.match(r"  ([a-z_]+)/ ", line):
            found.setdefault(floor, set()).add(room[1])
    return found


@pytest.mark.parametrize("floor", sorted(OUR_ROOMS))
def test_the_house_plan_lists_every_room_and_no_other(floor: str) -> None:
    rooms = {path.parent.name for path in (ROOT / floor).glob("*/__init__.py")}
    assert planned_rooms()[floor] == rooms - {"management", "migrations", "templatetags"}


def tracked() -> list[Path]:
    """Every text file of the project."""
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    kinds = {".py", ".md", ".toml", ".txt", ".html", ".css", ".js", ".sql"}
    return [ROOT / name for name in listed.splitlines() if Path(name).suffix in kinds or name == ".ci/run"]


def test_nothing_in_the_project_names_a_foreign_host_or_a_path_of_one_machine() -> None:
    # Only reserved names (RFC 2606), this machine's own address, XML name spaces and a textbook's own site.
    host = re.compile(
        r"https?://(?!127\.0\.0\.1|localhost|\[|\{|[\w.-]*\bexample\b|testserver|www\.w3\.org/)[a-z]"
    )
    homes = {str(ROOT), str(Path.home()), sys.prefix} - {"/", "/usr"}
    for path in tracked():
        text = path.read_text(encoding="utf-8", errors="ignore")
        assert not host.search(text), path
        assert not any(home in text for home in homes), path


def test_every_navigation_entry_leads_somewhere() -> None:
    for name in (
        "home",
        "inventory:stock",
        "inventory:stock-check",
        "inventory:session-new",
        "costing:pieces",
        "costing:price-list",
    ):
        assert reverse(name).startswith("/")
    assert get_resolver().url_patterns
