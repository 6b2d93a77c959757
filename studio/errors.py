"""The error families that every room shares: messages are for the person at the bench and say what to do."""

import hashlib
import json
import lzma
import zipfile
import zlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from studio.translation import _

# What Python's library raises for a ZIP archive that cannot be read, besides an OSError.
DAMAGED_ZIP = (
    zipfile.BadZipFile, zlib.error, lzma.LZMAError, EOFError, NotImplementedError, RuntimeError,
)  # fmt: skip


class MeniscusError(Exception):
    """Raised when a request cannot be carried out; its text is shown to the user as it stands.

    `is_conflict` says that it clashes with what is recorded, so that the same request may succeed later.
    """

    is_conflict = False

    @property
    def extensions(self) -> Mapping[str, Any]:
        """What a program is told besides the text: plain values, and each amount as a Quantity."""
        return {}


class InputError(MeniscusError):
    """Raised when something typed or imported cannot be taken; the text says what was expected.

    `field` names what it belongs to. In a list of rows, `line` (from 1) is the row, and `rows` the list.
    """

    def __init__(
        self, message: str, *, field: str | None = None, line: int | None = None, rows: str = "lines"
    ) -> None:
        super().__init__(message)
        self.field, self.line, self.rows = field, line, rows

    @property
    def problems(self) -> tuple["InputError", ...]:
        """Everything that is wrong, one by one."""
        return (self,)

    def on_line(self, line: int, *, rows: str = "lines") -> "InputError":
        """The same problem, said of one row of a list."""
        return InputError(str(self), field=self.field, line=line, rows=rows)


class InputErrors(InputError):
    """Raised when more than one thing cannot be taken; `problems` lists them all."""

    def __init__(self, problems: Iterable[InputError]) -> None:
        self._problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self._problems))

    @property
    def problems(self) -> tuple[InputError, ...]:
        return self._problems


def refuse_all(problems: Iterable[InputError]) -> None:
    """Raise whatever there is, all at once; nothing where there is nothing."""
    listed = tuple(problems)
    if len(listed) == 1:
        raise listed[0]
    if listed:
        raise InputErrors(listed)


@dataclass(frozen=True, slots=True)
class Question:
    """What a person is asked before something is recorded: `topic` says of what kind it is, `text` asks it.

    `about` is what it asks about, such as a material and its amount: a confirmation holds for just that, whatever
    becomes known besides, and no longer once it is changed. `is_money`: only for those who see money.
    """

    topic: str
    text: str
    about: tuple[object, ...]
    is_money: bool = False

    @property
    def token(self) -> str:
        """Names the question, so that it can be confirmed."""
        asked = json.dumps([self.topic, *self.about], default=str)
        return hashlib.sha256(asked.encode()).hexdigest()[:16]

    @property
    def in_full(self) -> dict[str, Any]:
        """The question as it is recorded once it is confirmed."""
        return {"token": self.token, "topic": self.topic, "text": self.text, "is_money": self.is_money}


class NeedsConfirmation(MeniscusError):
    """Raised when something should be looked at again before it is recorded; `questions` asks what, one by one."""

    is_conflict = True

    def __init__(self, questions: Sequence[Question], message: str = "") -> None:
        self.questions = tuple(questions)
        advice = _("Correct the amounts; or, if they are right, confirm them.")
        super().__init__(message or " ".join([*(each.text for each in self.questions), advice]))

    @property
    def extensions(self) -> Mapping[str, Any]:
        questions = [
            {"token": each.token, "topic": each.topic, "question": each.text} for each in self.questions
        ]
        return {"questions": questions} if questions else {}


class PhotoError(MeniscusError):
    """Raised when an uploaded file cannot serve as a photo; the text says which files can."""


class SharingError(MeniscusError):
    """Raised when a whole cannot be shared: no weights, a negative weight, or weights that are all zero."""
