"""One word of the glossary."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from django.utils.functional import _StrOrPromise


@dataclass(frozen=True, slots=True)
class Word:
    """One word: where it stands on the page, what it means, and an example in numbers where that helps."""

    anchor: str
    term: "_StrOrPromise"
    meaning: "_StrOrPromise"
    example: "_StrOrPromise" = ""
