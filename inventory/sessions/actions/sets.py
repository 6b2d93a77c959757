"""Sessions kept as sets under a name, to be poured again."""

from inventory.sessions.models import Session
from studio.auditing.reference_rows import set_columns
from studio.errors import InputError
from studio.submission import Submission, transaction
from studio.translation import _

LONGEST_SET_NAME = 60


def keep_as_set(session: Session, name: str, *, submission: Submission) -> Session:
    """Offer a session to be poured again under a name, or no longer. Raises InputError for a name that is taken."""
    name = " ".join(name.split())
    if len(name) > LONGEST_SET_NAME:
        raise InputError(
            _("Give the set a name of up to {most} letters.", most=LONGEST_SET_NAME), field="set_name"
        )
    with transaction(submission):
        # A set whose session was reversed gives its name back.
        others = (
            Session.objects.filter(set_name=name).exclude(pk=session.pk) if name else Session.objects.none()
        )
        for other in others.select_for_update():
            if other in Session.objects.standing():
                raise InputError(
                    _("Another set is called “{name}”. Choose a different name.", name=name), field="set_name"
                )
            set_columns(other, submission=submission, set_name="")
        return set_columns(session, submission=submission, set_name=name)
