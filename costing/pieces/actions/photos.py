"""Photos of pieces: put up, replaced by another, and taken away."""

from typing import IO

from django.db.models.fields.files import FieldFile

from costing.errors import PieceError
from costing.pieces.models import Piece
from costing.pieces.queries import photos_of_pours
from inventory.sessions.models import SessionPhoto
from studio.auditing.edit_conflicts import refuse_stale
from studio.errors import PhotoError
from studio.photos import develop, listed_beside, remove_after_commit
from studio.submission import Submission, transaction
from studio.translation import _


def photo_files(piece: Piece) -> list[FieldFile]:
    """Every file that is stored of a piece's photo."""
    return [piece.photo, piece.thumbnail, listed_beside(piece.thumbnail)]


def store_photo(*, piece: Piece, upload: IO[bytes], submission: Submission, seen: int | None = None) -> Piece:
    """Store a piece's photo and its smaller copies; the ones before go once this is committed.

    Raises PhotoError, and EditConflict when the photo to be replaced is not the one that was seen.
    """
    developed = develop(upload)
    with transaction(submission):
        row = Piece.objects.select_for_update().get(pk=piece.pk)
        refuse_stale(row, seen=seen, fields=["photo"])
        old = photo_files(row)
        piece.photo.save(developed.name, developed.photo, save=False)
        piece.thumbnail.save(developed.name, developed.thumbnail, save=False)
        piece.thumbnail.storage.save(listed_beside(piece.thumbnail).name, developed.listed)
        piece.save(update_fields=["photo", "thumbnail"])
        remove_after_commit(old)
    return piece


def remove_photo(*, piece: Piece, submission: Submission, seen: int | None = None) -> Piece:
    """Take a piece's photo away; its files go once this is committed. Raises EditConflict."""
    with transaction(submission):
        row = Piece.objects.select_for_update().get(pk=piece.pk)
        refuse_stale(row, seen=seen, fields=["photo"])
        remove_after_commit(photo_files(row))
        piece.photo, piece.thumbnail = "", ""
        piece.save(update_fields=["photo", "thumbnail"])
    return piece


def adopt_photo(
    *, piece: Piece, photo: SessionPhoto, submission: Submission, seen: int | None = None
) -> Piece:
    """Make a photo of the bench the piece's first one, as a copy of its own.

    Raises PieceError for a photo of other pours, or when the piece has one by now; PhotoError when its file is gone;
    and EditConflict.
    """
    if piece.photo:
        raise PieceError(_("“{title}” already has a photo.", title=piece.title))
    if photo not in photos_of_pours(piece):
        raise PieceError(_("That photo shows other pours. Choose a photo of this piece."))
    try:
        with photo.photo.open("rb") as file:
            return store_photo(piece=piece, upload=file, submission=submission, seen=seen)
    except FileNotFoundError:
        raise PhotoError(_("The photo file is missing.")) from None
