"""Writers for the photos of a session: of one pour, of several alike, or of the whole table."""

import hashlib
from collections.abc import Callable, Sequence
from io import BytesIO
from typing import IO

from inventory.errors import InventoryError
from inventory.sessions.models import Pour, Session, SessionPhoto, Stage
from studio.photos import LARGEST_FILE, develop, remove_after_commit
from studio.submission import Submission, transaction
from studio.translation import _

MOST_PHOTOS = 24  # of one session


def add_photo(
    *,
    session: Session,
    upload: IO[bytes],
    submission: Submission,
    pours: Sequence[Pour] = (),
    stage: str = Stage.WET,
) -> SessionPhoto:
    """Keep a photo of a session; without pours, of the whole table. The same file again is the same photo.

    Raises PhotoError for a file that is none, InventoryError for a session that was reversed or has enough of them.
    """
    content = upload.read(LARGEST_FILE + 1)
    developed = develop(BytesIO(content))
    with transaction(submission):
        row = Session.objects.select_for_update(of=("self",)).select_related("posting").get(pk=session.pk)
        photo = _kept(row, hashlib.sha256(content).hexdigest(), submission)
        if not photo.photo:
            photo.stage = stage
            photo.photo.save(developed.name, developed.photo, save=False)
            photo.thumbnail.save(developed.name, developed.thumbnail, save=False)
            photo.save(force_insert=True)
        photo.pours.add(*(pour for pour in pours if pour.session_id == session.pk))
    return photo


Guard = Callable[[SessionPhoto], str]

_guards: list[Guard] = []


def register_guard(guard: Guard) -> None:
    """Ask this guard before a photo is removed: it answers with what stands in the way, or with nothing."""
    if guard not in _guards:
        _guards.append(guard)


def remove_photo(*, photo: SessionPhoto, submission: Submission) -> None:
    """Take a photo away; its files go once this is committed. Raises InventoryError for one that is still needed."""
    with transaction(submission):
        for guard in _guards:
            problem = guard(photo)
            if problem:
                raise InventoryError(problem)
        remove_after_commit([photo.photo, photo.thumbnail])
        photo.delete()


def _kept(session: Session, digest: str, submission: Submission) -> SessionPhoto:
    """The photo if it is there already, else one that is not saved yet."""
    photos: list[SessionPhoto] = list(session.photos.all())
    for photo in photos:
        if photo.digest == digest:
            return photo
    if hasattr(session.posting, "reversed_by"):
        raise InventoryError(_("This session was reversed, so no more photos can be added."))
    if len(photos) >= MOST_PHOTOS:
        raise InventoryError(
            _("A session holds at most {most} photos. Remove one of them first.", most=MOST_PHOTOS)
        )
    return SessionPhoto(session=session, digest=digest, added_at=submission.at, added_by=submission.by)
