"""Every text is translatable, and the second language is complete."""

import re
from collections.abc import Callable, Iterator
from gettext import NullTranslations
from html import unescape
from io import BytesIO
from pathlib import Path
from string import Formatter
from typing import Any

import pytest
from babel.messages.catalog import Catalog, Message
from babel.messages.mofile import read_mo, write_mo
from babel.messages.pofile import read_po
from babel.numbers import get_currency_name
from django.apps import apps
from django.conf import settings
from django.db import models
from django.test import Client
from django.utils import translation

from inventory.stock import tables
from studio.pages import frame
from studio.preferences.locale_choices import ways_of_writing
from studio.translation import _, ngettext, noop, pgettext, set_translator
from studio.values.money import MINOR_UNITS
from tests.addresses import addresses
from tests.making import make_owner
from tests.small_studio import small_studio
from tests.test_roles_and_addresses import numbers, path_of

ROOT = Path(__file__).resolve().parent.parent
ROOMS = ("studio", "inventory", "costing")
OTHERS = [language for language, _name in settings.LANGUAGES if language != settings.LANGUAGE_CODE]
CATALOGUES = [
    pytest.param(ROOT / room / "locale" / language / "LC_MESSAGES" / "django.po", id=f"{language} {room}")
    for language in OTHERS
    for room in ROOMS
]


def read(file: Path) -> Catalog:
    with file.open("rb") as stream:
        return read_po(stream)


def messages(file: Path) -> list[Message]:
    return [message for message in read(file) if message.id]


def texts(said: Any) -> list[str]:
    return [said] if isinstance(said, str) else list(said or [])


@pytest.mark.parametrize("file", CATALOGUES)
def test_everything_is_translated_and_nothing_guessed(file: Path) -> None:
    found = messages(file)
    assert found
    assert [message.id for message in found if message.fuzzy or not all(texts(message.string))] == []
    plurals = read(file).num_plurals
    assert [m.id for m in found if len(texts(m.string)) != (1 if isinstance(m.id, str) else plurals)] == []


def filled_in(text: str) -> set[str]:
    """What is filled into a text: {names} in Python's, %(names)s and their signs in templates'."""
    percent = set(re.findall(r"%\(\w+\)[sd]|%%", text)) if "%(" in text else set()
    return percent or {name for _text, name, _spec, _how in Formatter().parse(text) if name is not None}


def wrongly_quoted(text: str) -> bool:
    """Whether a German text has English or straight quotes, or one that is not closed; addresses of links apart."""
    plain = re.sub("<[^>]*>", "", text)
    return (
        bool(set(plain) & set('”"‟«»'))
        or plain.count("„") != plain.count("“")
        or plain.count("‚") != plain.count("‘")
    )


@pytest.mark.parametrize("room", ROOMS)
def test_german_has_german_quotes(room: str) -> None:
    file = ROOT / room / "locale" / "de" / "LC_MESSAGES" / "django.po"
    found = [told for message in messages(file) for told in texts(message.string) if wrongly_quoted(told)]
    assert found == []


def test_english_quotes_stand_in_sentences_that_are_translated_and_nowhere_else() -> None:
    """A name that code puts in quotes goes through `quoted`, so that they are those of the reader's language."""
    put_together = re.compile(r"""f["'][^"'“]*“\{""")
    found = [
        f"{file.relative_to(ROOT)}:{number}"
        for room in ROOMS
        for file in sorted((ROOT / room).rglob("*.py"))
        if "management" not in file.parts
        for number, line in enumerate(file.read_text(encoding="utf-8").splitlines(), start=1)
        if put_together.search(line)
    ]
    assert found == [
        "studio/api/problems.py:35",
        "studio/serving/addresses.py:57",
    ]  # of the API, of a command


@pytest.mark.parametrize("file", CATALOGUES)
def test_a_translation_fills_in_the_same_values(file: Path) -> None:
    wrong = [
        (message.id, told)
        for message in messages(file)
        for number, told in enumerate(texts(message.string))
        if not filled_in(told) <= set().union(*map(filled_in, texts(message.id)))
        or (number and filled_in(told) != filled_in(texts(message.id)[-1]))
        or (isinstance(message.id, str) and filled_in(told) != filled_in(message.id))
    ]
    assert wrong == []


@pytest.mark.parametrize("file", CATALOGUES)
def test_a_translation_keeps_tags_and_brings_no_straight_quotes(file: Path) -> None:
    # A straight quote would end the attribute that a text may stand in.
    tags = re.compile(r"<[^>]*>")
    wrong = [
        (message.id, told)
        for message in messages(file)
        for told in texts(message.string)
        if sorted(tags.findall(told)) != sorted(tags.findall(texts(message.id)[-1]))
        or ('"' in tags.sub("", told) and '"' not in tags.sub("", texts(message.id)[-1]))
    ]
    assert wrong == []


DECIMALS = re.compile(r"[0-9][.,][0-9]")
# They say which mark is meant, are an address, or answer a program, whose numbers have a point.
WITH_MARKS = ("is not a single number", "Its points were read", "127.0.0.1", "Extra paint is between 0 and 1")


@pytest.mark.parametrize("file", CATALOGUES)
def test_no_text_shows_decimals_as_the_studio_may_write_them_otherwise(file: Path) -> None:
    # Whoever reads German may keep a studio with English numbers: what a text shows must be what can be typed.
    wrong = [
        told
        for message in messages(file)
        for told in (*texts(message.id), *texts(message.string))
        if DECIMALS.search(told) and not any(part in texts(message.id)[0] for part in WITH_MARKS)
    ]
    assert wrong == []


@pytest.mark.parametrize("file", CATALOGUES)
def test_what_is_compiled_is_what_is_written(file: Path) -> None:
    fresh = BytesIO()
    write_mo(fresh, read(file))
    fresh.seek(0)
    with file.with_suffix(".mo").open("rb") as stream:
        compiled = {(m.context, str(m.id)): m.string for m in read_mo(stream) if m.id}
    assert compiled == {(m.context, str(m.id)): m.string for m in read_mo(fresh) if m.id}


def test_sentences_are_filled_in_after_they_were_looked_up(monkeypatch: pytest.MonkeyPatch) -> None:
    with translation.override("de"):
        assert _("no such {thing}", thing="text") == "no such text"
        assert pgettext("here", "no such {thing}", thing="text") == "no such text"
        assert ngettext("{n} such text", "{n} such texts", 2, n=2) == "2 such texts"
        assert noop("{left} as it stands") == "{left} as it stands"
    monkeypatch.setattr("studio.translation._translator", NullTranslations())
    assert ngettext("{n} such text", "{n} such texts", 1, n=1) == "1 such text"
    set_translator(translation)


OPEN, CLOSE = "⟦", "⟧"


@pytest.fixture
def nothing_kept() -> Iterator[None]:
    """Words that stand on every page are kept from one to the next: here they are read anew, and kept for no other."""
    forget_words()
    yield
    forget_words()


def forget_words() -> None:
    for keeping in (frame._menu_line, frame._key_line, tables._kind_in_words):
        keeping.cache_clear()


@pytest.fixture
def marked(nothing_kept: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever passes through the translator comes out between brackets."""

    def bracketed(look_up: Callable[..., str]) -> Callable[..., str]:
        def told(*words: Any) -> str:
            found = look_up(*words)
            return f"{OPEN}{found}{CLOSE}" if found else found

        return told

    for name in ("gettext", "pgettext", "ngettext", "npgettext"):
        monkeypatch.setattr(translation._trans, name, bracketed(getattr(translation._trans, name)))  # type: ignore[attr-defined]


# What nobody reads is taken out of a page; its tags stay, as their attributes are read.
SILENT = re.compile(r"<(script|style|code|textarea)\b([^>]*)>.*?</\1>", re.DOTALL)
SAID = re.compile(r'\s(?:aria-label|alt|title|placeholder)="([^"]*)"')
TAG = re.compile(r"<[^>]*>")
INNERMOST = re.compile(f"{OPEN}[^{OPEN}{CLOSE}]*{CLOSE}")


def visible(page: str) -> str:
    """The text that somebody sees or hears."""
    spoken = SILENT.sub(r"<\1\2>", page)
    return unescape("\n".join([*SAID.findall(spoken), TAG.sub("\n", spoken)]))


def outside_brackets(page: str) -> list[str]:
    """What is left of a page's text when all that was translated is taken out, brackets within brackets too."""
    left, found = visible(page), 1
    while found:
        left, found = INNERMOST.subn("", left)
    return re.findall(r"[^\W\d_]{3,}", left)


def test_what_is_not_translated_is_found_wherever_it_is_seen_or_heard() -> None:
    page = f'''<p title="Ebb &amp; tide">{OPEN}no {OPEN}harm{CLOSE}{CLOSE} Neap</p><script>var spring;</script>
    <textarea placeholder="Slack">typed</textarea><input alt="{OPEN}Quay{CLOSE}">'''
    assert outside_brackets(page) == ["Ebb", "tide", "Slack", "Neap"]


def words_of_the_data() -> set[str]:
    """Every word that somebody typed into the studio, or that a library or an open standard brings."""
    typed = {"Meniscus", "Deutsch", "English", "SHA", "cm²"}
    for code in MINOR_UNITS:
        names = " ".join(get_currency_name(code, locale=locale) for locale in ("en", "en_GB"))
        typed |= set(re.findall(r"[^\W\d_]{3,}", f"{code} {names}"))
    for _locale, example in ways_of_writing("en_GB", "GBP"):
        typed |= set(re.findall(r"[^\W\d_]{3,}", example))
    for model in (*apps.get_models(),):
        columns = [
            f.attname
            for f in model._meta.concrete_fields
            if isinstance(f, models.CharField | models.TextField)
        ]
        if not columns:
            continue
        for row in model._default_manager.values_list(*columns):
            typed |= {word for value in row for word in re.findall(r"[^\W\d_]{3,}", str(value))}
    return typed


def pages() -> Iterator[tuple[str, str]]:
    """Every page of our own, of a small studio, to its owner."""
    rows = numbers(small_studio_with_backup())
    client = Client()
    client.force_login(make_owner())
    for address in addresses():
        if address.route.startswith(("api/", "health/")):
            continue
        answer: Any = client.get(path_of(address, rows))
        content = answer.getvalue()  # a file is closed once it is read
        if answer.status_code == 200 and answer.headers["Content-Type"].startswith("text/html"):
            yield address.name, content.decode()


def small_studio_with_backup() -> Any:
    from django.utils import timezone

    from studio.backups.models import Backup

    Backup.objects.create(made_at=timezone.now(), path="gone.zip", ok=True)
    return small_studio()


@pytest.mark.django_db
@pytest.mark.usefixtures("marked")
def test_no_page_says_anything_that_cannot_be_translated() -> None:
    found = dict(pages())
    assert len(found) > 40
    known = words_of_the_data() | DATES
    unmarked = {name: left for name, page in found.items() if (left := set(outside_brackets(page)) - known)}
    assert unmarked == {}


# Days are written by the locale's own tables.
DATES = {"Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Sept", "Oct", "Nov", "Dec"}
