"""Writers for the people who sign in: what each may do follows from the role, and one owner always remains."""

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction

from studio.accounts.models import Role, User
from studio.auditing.edit_conflicts import lock_row, refuse_stale
from studio.errors import InputError, MeniscusError
from studio.translation import _

OWNERS = {"role": Role.OWNER, "is_active": True}


class PeopleError(MeniscusError):
    """Raised when a change to the people who sign in would lock the studio out."""


@transaction.atomic
def add_person(
    *, username: str, password: str, role: str, email: str = "", may_see_money: bool = False
) -> User:
    """Add somebody who may sign in. Raises InputError naming the field when a name or password will not do."""
    person = User(username=username, email=email, role=role, may_see_money=may_see_money)
    try:
        person.clean_fields(exclude=["password"])
        person.validate_unique()
    except ValidationError as problem:
        field, messages = next(iter(problem.message_dict.items()))
        raise InputError(" ".join(messages), field=field) from None
    try:
        validate_password(password, person)
    except ValidationError as problem:
        raise InputError(" ".join(problem.messages), field="password") from None
    person.set_password(password)
    return save_person(person=person)


@transaction.atomic
def save_person(*, person: User) -> User:
    """Save a person; owners, and nobody else, may open the settings. Raises PeopleError when no owner would be left."""
    had_owner = bool(hold_owners())
    person.is_staff = person.is_owner or person.is_superuser
    person.save()
    if had_owner and not User.objects.filter(**OWNERS).exists():
        raise PeopleError(_("There must be at least one owner. Make another person an owner first."))
    return person


def hold_owners() -> list[User]:
    """Lock the owners. Whoever changes a person does so first, in this order, so that nobody waits in a circle."""
    return list(User.objects.select_for_update().filter(**OWNERS).order_by("pk"))


@transaction.atomic
def choose_language(*, person: User, language: str, seen: int | None = None) -> User:
    """Set the language of a person's own pages. Raises EditConflict."""
    lock_row(person)
    refuse_stale(person, seen=seen, fields=["language"])
    person.language = language
    person.save(update_fields=["language"])
    return person
