"""Changes to the people who sign in: what each may do follows from the role, and there is always an owner.

`submission` is None for a command on the studio's own machine.
"""

from collections.abc import Iterator
from contextlib import contextmanager

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.utils import timezone

from studio.accounts.models import Role, User
from studio.accounts.tokens import revoke_tokens_of
from studio.auditing.edit_conflicts import lock_row, refuse_stale
from studio.auditing.reference_rows import refuse_invalid, save_row, set_columns
from studio.errors import InputError, MeniscusError
from studio.submission import Submission, transaction
from studio.translation import _

# What the studio keeps of a person, besides how they sign in.
PERSON_FIELDS = ("username", "first_name", "last_name", "email", "role", "may_see_money", "language")
OWNERS = {"role": Role.OWNER, "is_active": True}


class PeopleError(MeniscusError):
    """Raised when a change to the people who sign in would leave no owner, or is not one's own to make."""


def add_person(person: User, *, password: str, submission: Submission | None) -> User:
    """Add somebody who may sign in. Raises InputError naming the field when a name or password will not do."""
    with transaction(submission):
        _give_password(person, password)
        return save_row(person, submission=submission)


def change_person(person: User, *, submission: Submission | None, seen: int | None = None) -> User:
    """Save what is kept of a person. Raises InputError naming the field, PeopleError, EditConflict."""
    with _keeping_an_owner(submission):
        lock_row(person)
        refuse_stale(person, seen=seen, fields=PERSON_FIELDS)
        refuse_invalid(person)
        person.save(update_fields=PERSON_FIELDS)
    return person


def set_active(*, person: User, is_active: bool, submission: Submission | None) -> User:
    """Let a person sign in, or no longer: the name stays on all entries. Raises PeopleError for the last owner."""
    with _keeping_an_owner(submission):
        return set_columns(person, submission=submission, is_active=is_active)


def reset_password(
    *, person: User, password: str, submission: Submission | None, seen: int | None = None
) -> User:
    """Give somebody a new password, which ends all their sessions and tokens. Raises InputError, EditConflict.

    Nobody's own: one's own password is changed by whoever knows the old one.
    """
    with transaction(submission):
        lock_row(person)
        refuse_stale(person, seen=seen, fields=["password"])
        if submission is not None and submission.by.pk == person.pk:
            raise PeopleError(
                _("To change your own password, use the page Password: it asks for your old one.")
            )
        _give_password(person, password)
        person.save(update_fields=["password"])
        revoke_tokens_of(person, at=submission.at if submission else timezone.now())
    return person


def choose_language(
    *, person: User, language: str, submission: Submission | None, seen: int | None = None
) -> User:
    """Set the language of a person's own pages. Raises EditConflict."""
    with transaction(submission):
        lock_row(person)
        refuse_stale(person, seen=seen, fields=["language"])
        person.language = language
        person.save(update_fields=["language"])
    return person


@contextmanager
def _keeping_an_owner(submission: Submission | None) -> Iterator[None]:
    """A change to a person, in one transaction. Raises PeopleError when it would leave no owner.

    The owners are locked first, in one order, so that two who change each other never wait in a circle.
    """
    with transaction(submission):
        owners = User.objects.select_for_update().filter(**OWNERS).order_by("pk")
        had_owner = bool(list(owners))
        yield
        if had_owner and not User.objects.filter(**OWNERS).exists():
            raise PeopleError(_("There must be at least one owner. Make another person an owner first."))


def _give_password(person: User, password: str) -> None:
    try:
        validate_password(password, person)
    except ValidationError as problem:
        raise InputError(" ".join(problem.messages), field="password") from None
    person.set_password(password)
