"""Text for people, in the language of whoever reads it, without knowing where the translations come from.

Modules that import no Django say things too. They say them through here: `_("Only {left} is left.", left=amount)`
looks the sentence up and then fills it in. Until a translator is set (`studio.apps` sets Django's), English stays.
"""

from typing import Any, Protocol


class Translator(Protocol):
    """What a source of translations can do; the module `django.utils.translation` is one."""

    def gettext(self, message: str) -> str: ...

    def pgettext(self, context: str, message: str) -> str: ...

    def ngettext(self, singular: str, plural: str, number: int) -> str: ...

    def get_language(self) -> str | None: ...


_translator: Translator | None = None


def set_translator(translator: Translator) -> None:
    """Look every sentence up here from now on."""
    global _translator
    _translator = translator


def _(message: str, /, **values: object) -> str:
    """A sentence in the reader's language, its {names} filled in."""
    return _filled(_translator.gettext(message) if _translator else message, values)


def pgettext(context: str, message: str, /, **values: object) -> str:
    """A sentence whose English has two meanings; `context` tells which."""
    return _filled(_translator.pgettext(context, message) if _translator else message, values)


def ngettext(singular: str, plural: str, number: int, /, **values: object) -> str:
    """A sentence that counts: the form that the reader's language uses for `number`."""
    if _translator:
        return _filled(_translator.ngettext(singular, plural, number), values)
    return _filled(singular if number == 1 else plural, values)


def language() -> str:
    """What is spoken now, as a BCP 47 tag."""
    return (_translator.get_language() if _translator else None) or "en"


def noop(message: str, /) -> str:
    """Mark a text for translation that is looked up later, where it is shown."""
    return message


def _filled(found: str, values: dict[str, Any]) -> str:
    return found.format_map(values) if values else found
