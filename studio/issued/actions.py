"""Issuing a paper: what stands on it is kept, and shown from then on."""

from typing import Any

from django.utils import translation

from studio.auditing.writing import set_all
from studio.issued.contents import to_plain
from studio.issued.kinds import IssuedKind
from studio.issued.models import IssuedPaper
from studio.preferences.models import Studio
from studio.submission import Submission, transaction


def issue(*, kind: IssuedKind, about: int, submission: Submission) -> IssuedPaper:
    """Keep a paper as it is written now, in the studio's language.

    Issued again it is the same one while it says the same; of a final kind always. Raises Http404 for no such row.
    """
    with transaction(submission):
        studio = Studio.objects.select_for_update().get(pk=1)  # two at once wait here, and find the first
        last = IssuedPaper.objects.filter(kind=kind.code, about=about).first()
        if last is not None and kind.is_final:
            return last
        with translation.override(studio.language):
            document = kind.write(studio, about)
        contents, addressee = to_plain(document)
        if last is not None and _says(last, contents, addressee):
            return last
        return IssuedPaper.objects.create(
            kind=kind.code,
            about=about,
            version=last.version + 1 if last else 1,
            title=document.frame.title[:300],
            issued_at=submission.at,
            contents=contents,
            addressee=addressee,
            recorded_by=submission.by,
        )


def _says(last: IssuedPaper, contents: dict[str, Any], addressee: list[Any]) -> bool:
    return bool(last.contents == contents and last.addressee == addressee)


def erase_addressees(kind: str, about: list[int]) -> None:
    """Empty whom papers went to: their contact is erased."""
    set_all(IssuedPaper.objects.filter(kind=kind, about__in=about).exclude(addressee=[]), addressee=[])
