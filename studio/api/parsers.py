"""JSON as the API takes it."""

from collections.abc import Mapping
from typing import IO, Any

from rest_framework.exceptions import ParseError
from rest_framework.parsers import JSONParser

from studio.translation import _


class PlainJSONParser(JSONParser):
    """JSON that a hostile sender can neither nest without end nor fill with halves of characters."""

    def parse(
        self, stream: IO[Any], media_type: str | None = None, parser_context: Mapping[str, Any] | None = None
    ) -> Any:
        try:
            found = super().parse(stream, media_type, parser_context)
            refuse_half_characters(found)
        except RecursionError:
            raise ParseError(_("This is nested too deeply.")) from None
        return found


def refuse_half_characters(found: Any) -> None:
    """Raise ParseError for text that no file or database can hold: half of a surrogate pair, written as an escape."""
    if isinstance(found, str):
        if any("\ud800" <= sign <= "\udfff" for sign in found):
            raise ParseError(_("This contains half of a character. Send text as UTF-8."))
    elif isinstance(found, dict):
        for name, value in found.items():
            refuse_half_characters(name)
            refuse_half_characters(value)
    elif isinstance(found, list):
        for value in found:
            refuse_half_characters(value)
