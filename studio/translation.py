"""Text for people, in the language of whoever reads it, without knowing where the translations come from.

Modules that import no Django say things too. They say them through here: `_("Only {left} is left.", left=amount)`
looks the sentence up and then fills it in. Until a translator is set (`studio.apps` sets Django's), English stays.
"""

from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from gettext import NullTranslations
from typing import Any

_translator: Any = NullTranslations()


def set_translator(translator: Any) -> None:
    """Look every sentence up here from now on: in what has the functions of Python's gettext, and `get_language`."""
    global _translator
    _translator = translator


def _(message: str, /, **values: object) -> str:
    """A sentence in the reader's language, its {names} filled in."""
    return _filled(_translator.gettext(message), values)


def pgettext(context: str, message: str, /, **values: object) -> str:
    """A sentence whose English has two meanings; `context` tells which."""
    return _filled(_translator.pgettext(context, message), values)


def ngettext(singular: str, plural: str, number: int, /, **values: object) -> str:
    """A sentence that counts: the form that the reader's language uses for `number`."""
    return _filled(_translator.ngettext(singular, plural, number), values)


def quoted(text: object) -> str:
    """A name or words as somebody wrote them, in the quotes of the reader's language."""
    return _("“{text}”", text=text)


def language() -> str:
    """What is spoken now, as a BCP 47 tag."""
    return (hasattr(_translator, "get_language") and _translator.get_language()) or "en"


@contextmanager
def speaking(tag: str) -> Iterator[None]:
    """Say everything in this language until then; without one, in the reader's."""
    with _translator.override(tag) if tag and hasattr(_translator, "override") else nullcontext():
        yield


def noop(message: str, /) -> str:
    """Mark a text for translation that is looked up later, where it is shown."""
    return message


def _filled(sentence: str, values: dict[str, object]) -> str:
    return sentence.format_map(values) if values else sentence
