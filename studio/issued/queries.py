"""Readers: what was issued of a paper, and the paper itself as it was issued."""

from dataclasses import dataclass, replace

from studio.accounts.models import User
from studio.issued.contents import from_plain
from studio.issued.kinds import IssuedKind, kind_of
from studio.issued.models import IssuedPaper
from studio.papers.lines import Document
from studio.preferences.models import Studio
from studio.translation import _


@dataclass(frozen=True, slots=True)
class IssuedState:
    """What a page says of a paper: its versions, the latest first, and whether another can be issued."""

    kind: IssuedKind
    about: int
    papers: list[IssuedPaper]
    may_issue: bool


def issued_state(code: str, about: int, user: User) -> IssuedState | None:
    """Nothing for a paper that this person may not read."""
    kind = kind_of(code)
    if kind is None or not kind.may_be_read_by(user):
        return None
    papers = list(IssuedPaper.objects.filter(kind=code, about=about).select_related("recorded_by"))
    return IssuedState(kind, about, papers, user.may_write and not (kind.is_final and papers))


def document_of(paper: IssuedPaper, studio: Studio, user: User) -> Document:
    """A paper as it was issued; whom it went to only for those who may see contacts."""
    addressee = paper.addressee if user.may_write else []
    return from_plain(paper.contents, addressee, logo=studio.logo_content())


def issued_or(code: str, about: int, studio: Studio, user: User, written: Document) -> Document:
    """A paper of a final kind as it was issued; before that as it is written now, which it says."""
    paper = IssuedPaper.objects.filter(kind=code, about=about).first()
    if paper:
        return document_of(paper, studio, user)
    note = _("Not issued yet: it changes with what is recorded.")
    return replace(written, frame=replace(written.frame, note=note))
