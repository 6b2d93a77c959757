"""Who may sign in to the demo, with which phrase. Everybody can read them here, so in production they open nothing."""

from dataclasses import dataclass

from studio.accounts.models import Role


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who may sign in to the demo, with the phrase that opens it."""

    username: str
    role: str
    phrase: str


PEOPLE = [
    Person("owner", Role.OWNER, "slack-tide-at-seven"),
    Person("helper", Role.HELPER, "three-cups-of-blue"),
    Person("bookkeeper", Role.BOOKKEEPER, "every-penny-in-place"),
]
