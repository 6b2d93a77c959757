"""One submission: who asks for a change, when, for which day, and under which key."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from studio.accounts.models import User


@dataclass(frozen=True, slots=True)
class Submission:
    """Travels through every action as one value.

    `at` is the moment it was sent, `on` the business day that it is about. With a `key`, the same submission sent
    again is answered with the first one's result.
    """

    by: "User"
    at: datetime
    on: date
    key: str = ""
