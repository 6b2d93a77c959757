"""Issue a paper, and look at one as it was issued."""

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST, require_safe

from studio.accounts.roles import EVERYONE, ROLE_REFUSED, WORKERS, current_user, role_required
from studio.issued.actions import issue
from studio.issued.kinds import IssuedKind, kind_of
from studio.issued.models import IssuedPaper
from studio.issued.queries import document_of
from studio.pages.papers import asked_paper, pdf_answer
from studio.pages.saving import acted, submission_from
from studio.preferences.context import current_studio
from studio.translation import _


@require_POST
@role_required(*WORKERS)
def issue_paper(request: HttpRequest, kind: str, pk: int) -> HttpResponse:
    """Keep a paper as it stands, and go back to where it was issued."""
    found = _readable(request, kind)
    acted(
        request,
        lambda: issue(kind=found, about=pk, submission=submission_from(request)),
        _("Issued. It is kept as it is now, even if something is changed later."),
    )
    return redirect(found.page(pk))


@require_safe
@role_required(*EVERYONE)
def issued_paper(request: HttpRequest, pk: int) -> HttpResponse:
    """A paper as it was issued."""
    row = get_object_or_404(IssuedPaper, pk=pk)
    found = _readable(request, row.kind)
    paper = asked_paper(request)
    if paper is None:
        return redirect(found.page(row.about))
    document = document_of(row, current_studio(request), current_user(request))
    return pdf_answer(document.draw(paper), document.name)


def _readable(request: HttpRequest, code: str) -> IssuedKind:
    kind = kind_of(code)
    if kind is None:
        raise Http404
    if not kind.may_be_read_by(current_user(request)):
        raise PermissionDenied(str(ROLE_REFUSED))
    return kind
