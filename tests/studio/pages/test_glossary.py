"""The page of words: every word that a page links to stands there, and each link says what it is about."""

import re
from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.translation import override

from studio.pages.glossary.views import explained, word, words

ROOT = Path(__file__).resolve().parent.parent.parent.parent
ROOMS = ("studio", "inventory", "costing")
LINK = re.compile(r'(?:what_is |explained\()"([^"]+)"')


def linked() -> set[str]:
    """Every word that a template or a module links to."""
    found: set[str] = set()
    for room in ROOMS:
        for path in [*(ROOT / room).rglob("*.html"), *(ROOT / room).rglob("*.py")]:
            if (
                "glossary" not in path.parts and path.parent.name != "templatetags"
            ):  # there it is only shown how
                found |= set(LINK.findall(path.read_text(encoding="utf-8")))
    return found


@pytest.fixture
def page(signed: Client) -> str:
    return signed.get(reverse("glossary")).content.decode()


def test_every_word_that_a_page_links_to_stands_on_the_page_of_words(page: str) -> None:
    anchors = re.findall(r'<details class="fold" id="([^"]+)">', page)
    assert {"lot", "first-in-first-out", "reorder-level", "cost-sheet"} <= linked()
    assert linked() <= set(anchors)
    assert sorted(anchors) == sorted(item.anchor for item in words())
    assert len(set(re.findall(r'id="([^"]+)"', page))) == len(re.findall(r'\bid="([^"]+)"', page))


def test_a_link_names_the_word_it_explains() -> None:
    link = explained("reorder-level")
    assert f'href="{reverse("glossary")}#reorder-level"' in link
    assert re.sub(r"<[^>]+>", "", link).strip() == "What is this? Reorder level"


def test_a_link_to_no_word_is_a_mistake() -> None:
    with pytest.raises(KeyError):
        explained("no-such-word")


@pytest.mark.parametrize("anchor", [item.anchor for item in words()])
def test_every_word_is_explained_shortly_and_can_be_translated(anchor: str) -> None:
    said = word(anchor)
    with override(None):
        assert re.fullmatch(r"[a-z-]+", anchor)
        assert str(said.meaning).endswith(".")
        assert len(re.findall(r"[.!?](?: |$)", str(said.meaning))) <= 2
        assert not said.example or str(said.example).endswith(".")
