"""A page as a screen reader is told of it: Chromium's accessibility tree, not the markup beneath."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from re import Pattern
from typing import Any

from playwright.sync_api import CDPSession, expect

from tests.browser.steps import Place, Visitor

CONTROLS = frozenset(
    ["button", "checkbox", "combobox", "link", "listbox", "menuitem", "radio", "searchbox", "slider", "spinbutton",
     "switch", "tab", "textbox", "DisclosureTriangle"]
)  # fmt: skip
LANDMARKS = ("banner", "navigation", "main")
HEADERS = frozenset(["columnheader", "rowheader"])


@dataclass(frozen=True, slots=True)
class Heard:
    """One node: what it is, what it is called, and what more is said of it."""

    role: str
    name: str
    properties: dict[str, Any]
    below: tuple[str, ...]
    node: str

    @property
    def is_invalid(self) -> bool:
        return bool(self.properties.get("invalid", {}).get("value") == "true")

    @property
    def is_described(self) -> bool:
        related = self.properties.get("describedby", {}).get("relatedNodes", [])
        return any(each.get("text") or each.get("backendDOMNodeId") for each in related)

    @property
    def level(self) -> int:
        return int(self.properties.get("level", {}).get("value", 0))


def heard_on(session: CDPSession) -> dict[str, Heard]:
    """Every node that is told, by its number in the tree."""
    nodes = session.send("Accessibility.getFullAXTree")["nodes"]
    return {
        node["nodeId"]: Heard(
            str(node.get("role", {}).get("value", "")) if not node["ignored"] else "",
            " ".join(str(node.get("name", {}).get("value", "")).split()),
            {each["name"]: each["value"] for each in node.get("properties", [])},
            tuple(node.get("childIds", [])),
            node["nodeId"],
        )
        for node in nodes
    }


def inside(tree: dict[str, Heard], top: Heard) -> Iterator[Heard]:
    """Everything below a node."""
    for number in top.below:
        if number in tree:
            yield tree[number]
            yield from inside(tree, tree[number])


def complaints(tree: dict[str, Heard]) -> list[str]:
    """What somebody who listens to the page would miss."""
    found = []
    every = list(tree.values())
    titles = [each.name for each in every if each.role == "heading" and each.level == 1]
    if len(titles) != 1:
        found.append(f"headings of the first level: {titles}")
    found += [f"no {role}" for role in LANDMARKS if not any(each.role == role for each in every)]
    for each in every:
        if each.role in CONTROLS and not any(letter.isalnum() for letter in each.name):
            found.append(f"a {each.role} called “{each.name}”")
        if each.role in CONTROLS and each.is_invalid and not each.is_described:
            found.append(f"“{each.name}” is wrong, and nothing says why")
        if each.role == "group" and not each.name and _has_bare_controls(tree, each):
            found.append("a group of controls without a name")
        if each.role in ("table", "grid") and not any(one.role in HEADERS for one in inside(tree, each)):
            found.append(f"a table without headers, “{each.name}”")
    return found


def _has_bare_controls(tree: dict[str, Heard], group: Heard) -> bool:
    """Whether controls stand in a group that nothing names; what is folded away is named by what unfolds it."""
    every = [each for each in inside(tree, group) if each.role in CONTROLS]
    return bool(every) and every[0].role != "DisclosureTriangle"


@dataclass(slots=True)
class Listener(Visitor):
    """Somebody who hears the pages: whatever she opens or waits for, she is told all that she needs."""

    missed: list[str] = field(default_factory=list)

    def open(self, address: str) -> None:
        Visitor.open(self, address)
        self.listen()

    def sees(self, words: str | Pattern[str]) -> None:
        Visitor.sees(self, words)
        self.page.wait_for_load_state()
        self.listen()

    def follow(self, name: str | Pattern[str], within: Place | None = None) -> None:
        before = self.page.url
        Visitor.follow(self, name, within)
        expect(self.page).not_to_have_url(before)
        self.page.wait_for_load_state()
        self.listen()

    def hears(self, words: str) -> None:
        """Wait until the focus is on these words: they are read first."""
        expect(self.page.locator(":focus")).to_contain_text(words)
        self.page.wait_for_load_state()
        self.listen()

    def listen(self) -> dict[str, Heard]:
        """Hear the page as it is now, and note what is missing."""
        session = self.page.context.new_cdp_session(self.page)
        tree = heard_on(session)
        session.detach()
        self.missed += [f"{self.page.url}: {complaint}" for complaint in complaints(tree)]
        return tree
