"""The house plan holds: imports point down, pure modules are pure, the ledger has one writer."""

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
ROOMS = ("studio", "inventory", "costing")  # from the ground floor up

# The rooms of each floor, from the ground up: a room may use those before it, never one after it.
FLOORS = {
    "studio": (
        "values",
        "papers",
        "preferences",
        "pages",
        "auditing",
        "accounts",
        "api",
        "setup",
        "search",
        "imports",
        "issued",
        "operations",
        "serving",
        "backups",
        "archive",
    ),
    "inventory": (
        "materials",
        "ledger",
        "purchasing",
        "stock",
        "recipes",
        "sessions",
        "plans",
        "bench",
        "comparisons",
        "reordering",
        "alerts",
        "webhooks",
        "shopping",
    ),
    "costing": (
        "pieces",
        "cost_sheets",
        "overhead",
        "pricing",
        "contacts",
        "commissions",
        "locations",
        "brought_in",
        "selling",
        "markets",
        "earnings",
        "reports",
        "papers",
        "consignments",
        "home",
        "first_run",
        "demo",
    ),
}
# What a room shows to people and programs. These modules stand above all rooms of their floor.
EDGES = {"forms", "filters", "tables", "views", "api", "urls"}
EDGE_ROOMS = {"pages", "api"}  # rooms that are nothing else

# Packages, and modules beside them, that import no Django.
PURE = (
    "studio/values",
    "studio/papers",
    "studio/errors.py",
    "studio/translation.py",
    "studio/pages/charts.py",
    "studio/imports/reading.py",
    "studio/imports/workbooks.py",
    "studio/imports/headings.py",
    "studio/preferences/countries.py",
    "studio/serving/addresses.py",
    "studio/serving/certificates.py",
    "studio/serving/private_files.py",
    "inventory/alerts/calculations.py",
    "inventory/bench/calculations.py",
    "inventory/bench/papers.py",
    "inventory/purchasing/papers.py",
    "inventory/purchasing/history_charts.py",
    "inventory/comparisons/calculations",
    "inventory/ledger/costing_methods.py",
    "inventory/ledger/usual_amounts.py",
    "inventory/materials/packs.py",
    "inventory/materials/written_lines.py",
    "inventory/plans/written_lines.py",
    "inventory/recipes/calculations.py",
    "inventory/recipes/colours.py",
    "inventory/recipes/flow_cups.py",
    "inventory/recipes/measuring.py",
    "inventory/recipes/ratio_parts.py",
    "inventory/recipes/written_parts.py",
    "inventory/reordering/calculations",
    "inventory/stock/availability.py",
    "inventory/stock/jar_labels.py",
    "inventory/sessions/calculations.py",
    "inventory/sessions/most_pours.py",
    "inventory/sessions/paint_per_area.py",
    "inventory/sessions/weighing.py",
    "inventory/shopping/calculations",
    "inventory/webhooks/signing.py",
    "inventory/shopping/papers.py",
    "costing/markets/calculations.py",
    "costing/markets/papers.py",
    "costing/overhead/calculations.py",
    "costing/earnings/calculations.py",
    "costing/reports/calculations.py",
    "costing/pieces/calculations.py",
    "costing/pricing/calculations.py",
    "costing/papers/price_labels.py",
    "costing/papers/price_list.py",
    "costing/papers/poster.py",
    "studio/issued/contents.py",
)

TOP_LEVEL = {
    ".ci", ".git", ".gitignore", ".github", ".dockerignore", "CHANGELOG.md",
    "CONTRIBUTING.md", "DEVELOPERS.md", "Dockerfile", "LICENSE", "README.md", "SECURITY.md",
    "compose.yaml", "costing", "docs", "inventory", "manage.py", "pyproject.toml",
    "studio", "tests",
}  # fmt: skip

# The ledger's own tables, and what writes to them. Balances are written by the database alone.
LEDGER_MODELS = {"Entry", "Posting", "LotBalance"}
LEDGER_TABLES = ("inventory_entry", "inventory_posting", "inventory_lotbalance")
WRITES = {
    "create",
    "bulk_create",
    "update",
    "bulk_update",
    "delete",
    "get_or_create",
    "update_or_create",
    "acreate",
    "abulk_create",
    "aupdate",
    "adelete",
}
SQL_WRITE = re.compile(r"\b(insert|update|delete|replace|truncate|alter|drop)\b", re.IGNORECASE)


def modules(*folders: str) -> list[Path]:
    """Every Python file of ours in these folders."""
    return sorted(path for folder in folders for path in (ROOT / folder).rglob("*.py"))


def named(path: Path) -> str:
    return str(path.relative_to(ROOT))


def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"), filename=str(path))


def imported(path: Path) -> Iterator[tuple[int, str]]:
    """Every name a file imports, wherever in the file, with its line. Relative imports are told in full."""
    package = list(path.relative_to(ROOT).parent.parts)
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            above = package[: len(package) - node.level + 1] if node.level else []
            module = ".".join([*above, node.module or ""]).strip(".")
            yield node.lineno, module
            yield from ((node.lineno, f"{module}.{alias.name}") for alias in node.names)
        elif isinstance(node, ast.Call) and node.args and isinstance(node.args[0], ast.Constant):
            called = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            if called in ("import_module", "__import__", "import_string"):
                yield node.lineno, str(node.args[0].value)


@pytest.mark.parametrize("room", ROOMS)
def test_imports_point_down_only(room: str) -> None:
    above = ROOMS[ROOMS.index(room) + 1 :]
    upward = [
        f"{named(path)}:{line} imports {name}"
        for path in modules(room)
        for line, name in imported(path)
        if name.split(".")[0] in (*above, "tests")
    ]
    assert upward == [], "\n".join(upward)


def test_the_import_walk_sees_imports_wherever_they_hide() -> None:
    hidden = ROOT / "inventory" / "hidden.py"
    source = (
        "def late():\n    from costing.models import Piece\n"
        "def later():\n    import importlib\n    importlib.import_module('costing.pricing.calculations')\n"
        "if TYPE_CHECKING:\n    import costing\n"
        "from ..costing import sales\n"
    )
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys.modules[__name__], "tree_of", lambda path: ast.parse(source))
        found = {(line, name) for line, name in imported(hidden) if name.startswith("costing")}
    assert {line for line, _ in found} == {2, 5, 7, 8}


def pure() -> list[str]:
    found = [
        path
        for place in PURE
        for path in ([ROOT / place] if place.endswith(".py") else modules(place))
        if path.stem != "__init__"
    ]
    return [named(path).removesuffix(".py").replace("/", ".") for path in found]


def is_edge(room: str, parts: tuple[str, ...]) -> bool:
    """Whether a module, by its room and its parts below it, is a page, a form or an address."""
    return room in EDGE_ROOMS or (bool(parts) and parts[0] in EDGES)


@pytest.mark.parametrize("floor", FLOORS)
def test_every_room_is_known(floor: str) -> None:
    rooms = {path.name for path in (ROOT / floor).iterdir() if (path / "__init__.py").exists()}
    assert rooms - {"locale", "management", "migrations", "templatetags", "static"} == set(FLOORS[floor])


@pytest.mark.parametrize("floor", FLOORS)
def test_inside_a_floor_imports_point_down_too(floor: str) -> None:
    rooms = FLOORS[floor]
    upward = []
    for position, room in enumerate(rooms):
        for path in modules(f"{floor}/{room}"):
            edge = is_edge(room, path.relative_to(ROOT / floor / room).with_suffix("").parts)
            for line, name in imported(path):
                parts = tuple(name.split("."))
                if parts[0] != floor or len(parts) < 3 or parts[1] not in rooms:
                    continue
                later = rooms.index(parts[1]) > position
                if (later and not (edge and not is_edge(parts[1], parts[2:]))) or (
                    is_edge(parts[1], parts[2:]) and not edge
                ):
                    upward.append(f"{named(path)}:{line} imports {name}")
    assert upward == [], "\n".join(upward)


def test_pure_modules_need_no_django() -> None:
    # One subprocess imports them all with Django out of reach, so that what they import in turn counts too.
    program = (
        "import sys\n"
        "class Refuse:\n"
        "    def find_spec(self, name, path=None, target=None):\n"
        "        if name.split('.')[0] in ('django', 'rest_framework'):\n"
        "            raise ImportError(f'{name} is out of reach')\n"
        "sys.meta_path.insert(0, Refuse())\n"
        "import importlib\n"
        "for name in sys.argv[1:]:\n"
        "    importlib.import_module(name)\n"
        "    print(name)\n"
    )
    outcome = subprocess.run(
        [sys.executable, "-c", program, *pure()],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert outcome.stdout.split() == pure(), outcome.stderr


def ledger_writes(path: Path) -> Iterator[str]:
    """Places in a file that construct or write the ledger's rows, by the syntax tree."""
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Call):
            if isinstance(node.func, ast.Name) and node.func.id in LEDGER_MODELS:
                yield f"{named(path)}:{node.lineno} constructs {node.func.id}"
            if isinstance(node.func, ast.Attribute) and node.func.attr in WRITES:
                source = ast.unparse(node.func.value)
                if re.match(
                    rf"({'|'.join(LEDGER_MODELS)})\.(_default_manager|objects)\b", source
                ) or re.search(r"\.(entries|balance)\b(?!\.model)", source):
                    yield f"{named(path)}:{node.lineno} writes {source}"
            if isinstance(node.func, ast.Attribute) and node.func.attr in ("save", "delete"):
                source = ast.unparse(node.func.value)
                if re.search(r"(^|\.)(posting|entry|balance)$", source):
                    yield f"{named(path)}:{node.lineno} saves {source}"
        elif isinstance(node, ast.Constant) and writes_by_sql(node.value):
            yield f"{named(path)}:{node.lineno} has SQL that writes the ledger"


def writes_by_sql(text: object) -> bool:
    """SQL that names a table of the ledger and does more than read."""
    named_table = isinstance(text, str) and any(table in text for table in LEDGER_TABLES)
    return named_table and bool(SQL_WRITE.search(str(text)))


def test_only_the_ledger_writes_postings_and_entries() -> None:
    elsewhere = [
        found
        for path in modules(*ROOMS)
        if named(path) != "inventory/ledger/posting.py" and "migrations" not in path.parts
        for found in ledger_writes(path)
    ]
    assert elsewhere == []


def test_the_search_for_side_doors_finds_the_front_door() -> None:
    found = "\n".join(ledger_writes(ROOT / "inventory/ledger/posting.py"))
    assert "constructs Posting" in found
    assert "has SQL that writes the ledger" in found
    assert "saves self.posting" in found


@pytest.mark.parametrize(
    "side_door",
    [
        "Entry.objects.filter(pk=1).update(money=2)",
        "Posting.objects.create(number=1)",
        "LotBalance.objects.all().delete()",
        "posting.entries.all().delete()",
        "posting.save()",
        "lot.balance.save(update_fields=['money'])",
        "cursor.execute('UPDATE inventory_entry SET money = 1')",
        "Entry(posting_id=1)",
    ],
)
def test_the_search_for_side_doors_finds_each_kind(side_door: str) -> None:
    hidden = ROOT / "inventory" / "x.py"
    tree = ast.parse(side_door)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys.modules[__name__], "tree_of", lambda path: tree)
        assert list(ledger_writes(hidden))


def ours() -> list[Path]:
    """Every text file of ours that a reader meets."""
    kinds = {".py", ".html", ".js", ".css", ".sql", ".md", ".toml", ".yaml", ".yml", ".txt"}
    folders = [folder for folder in (*ROOMS, "tests", "docs", ".github") if (ROOT / folder).exists()]
    files = [path for folder in folders for path in (ROOT / folder).rglob("*") if path.suffix in kinds]
    return [*files, *(path for path in ROOT.iterdir() if path.is_file() and path.suffix in kinds)]


def test_the_top_level_holds_only_what_belongs_there() -> None:
    tracked = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    ).stdout
    top = {line.split("/")[0] for line in tracked.splitlines()}
    assert top - TOP_LEVEL == set()


def test_no_module_is_longer_than_a_reader_can_hold() -> None:
    long = {
        named(path): lines
        for path in ours()
        if path.suffix in {".py", ".html"} and "migrations" not in path.parts and "vendor" not in path.parts
        if (lines := len(path.read_text(encoding="utf-8").splitlines())) > 400
    }
    assert long == {}


def test_nothing_is_left_for_later() -> None:
    marks = re.compile(r"\b(TO[D]O|FIX[M]E|X[X]X|HAC[K])\b")  # written so that this line is none itself
    left = [
        f"{named(path)}:{number}"
        for path in ours()
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
        if marks.search(line)
    ]
    assert left == []


def test_writers_take_keywords_only() -> None:
    positional = [
        f"{named(path)}: {node.name}"
        for path in modules("inventory", "costing")
        for node in tree_of(path).body
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_")
        if any(arg.arg == "by" for arg in node.args.kwonlyargs + node.args.args)
        if {"by", "at"} & {arg.arg for arg in node.args.args}
    ]
    assert positional == []


def test_nothing_but_the_edges_looks_at_the_clock() -> None:
    # Time comes in as an argument: views, commands and forms may ask what time it is, writers and readers may not.
    clocks = re.compile(r"\b(timezone\.now|timezone\.localdate|datetime\.now|date\.today|time\.time)\(")
    inside = [
        path
        for floor in ("inventory", "costing")
        for room in FLOORS[floor]
        if room not in ("demo", "home")
        for path in modules(f"{floor}/{room}")
        if not is_edge(room, path.relative_to(ROOT / floor / room).with_suffix("").parts)
    ]
    assert [named(path) for path in inside if clocks.search(path.read_text(encoding="utf-8"))] == []
