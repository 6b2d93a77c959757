"""JSON as the API takes it: numbers exact, names once, nothing that could not be answered or stored."""

import json
from collections.abc import Mapping, Sequence
from decimal import Decimal, InvalidOperation
from typing import IO, Any

from rest_framework.exceptions import ParseError
from rest_framework.parsers import JSONParser

from studio.translation import _


class ExactJSONParser(JSONParser):
    """Reads a number with decimals as a Decimal, so that an amount is exact however it is written.

    Raises ParseError for anything that is no JSON: NaN and infinity, a name given twice in one object, a number of
    thousands of digits, or objects nested too deeply.
    """

    def parse(
        self, stream: IO[Any], media_type: str | None = None, parser_context: Mapping[str, Any] | None = None
    ) -> Any:
        try:
            return json.loads(
                stream.read(), parse_float=Decimal, parse_constant=_refuse, object_pairs_hook=_names_once
            )
        except json.JSONDecodeError as problem:
            where = {"line": problem.lineno, "column": problem.colno}
            raise ParseError(
                _("This is not valid JSON: see line {line}, column {column}.", **where)
            ) from None
        except (ValueError, InvalidOperation, RecursionError):
            raise ParseError(
                _(
                    "This JSON cannot be read: it is nested too deeply, repeats a name or contains an "
                    "invalid number."
                )
            ) from None


def _refuse(constant: str) -> None:
    raise ValueError(constant)


def _names_once(pairs: Sequence[tuple[str, Any]]) -> dict[str, Any]:
    names = dict(pairs)
    if len(names) != len(pairs):
        raise ValueError("a name stands twice in one object")
    return names
