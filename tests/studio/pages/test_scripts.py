"""Scripts put words onto a page as text: none writes markup, and none makes code out of words."""

import re
from pathlib import Path

import pytest
from django.conf import settings

SCRIPTS = sorted(
    path for floor in ("studio", "inventory", "costing") for path in (settings.BASE_DIR / floor).rglob("*.js")
)
WRITES_MARKUP = re.compile(
    r"(?:inner|outer)HTML\s*\+?=(?!=)|insertAdjacentHTML|document\.write|createContextualFragment|DOMParser|"
    r"\beval\(|new Function\b|set(?:Timeout|Interval)\(\s*[\"'`]"
)
# The bench puts its own list back, as the server wrote it, when a plan is opened without a network; two others read a
# page that the server answered and take parts of it over.
KNOWN = {"bench.js": ["innerHTML ="], "figures.js": ["DOMParser"], "session.js": ["DOMParser"]}


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.name)
def test_no_script_writes_markup_or_makes_code_of_words(script: Path) -> None:
    """OWASP ASVS 5.0, 3.2.2 and 1.3.2."""
    assert WRITES_MARKUP.findall(script.read_text(encoding="utf-8")) == KNOWN.get(script.name, [])


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.name)
def test_no_script_fills_in_a_property_of_a_property_by_names_that_came_from_outside(script: Path) -> None:
    """OWASP ASVS 5.0, 15.3.6: `a[b][c] = d` with a b of "__proto__" would change every object there is."""
    text = script.read_text(encoding="utf-8")
    assert not re.search(r"\w\[[^\]\"'`0-9]+\]\[[^\]\"'`0-9]+\]\s*=(?!=)", text)
    assert "__proto__" not in text
