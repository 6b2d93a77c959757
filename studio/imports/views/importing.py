"""One page for each kind of import: choose or paste, match the columns, see every row as it would be saved, save."""

from collections.abc import Sequence

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_safe

from studio.accounts.roles import ROLE_REFUSED, WORKERS, current_user, role_required
from studio.imports.actions import ROWS_AT_ONCE, Saved, save_all, save_rows
from studio.imports.checking import CheckedRow, OpenTable, RowState, check
from studio.imports.forms import ImportForm
from studio.imports.kinds import ImportKind, kind_named, kinds_for, pages_for
from studio.imports.tables import CheckedTable
from studio.imports.views.files import failed_rows, table_file
from studio.pages.exports import CSV, XLSX
from studio.pages.saving import submission_from
from studio.pages.tables import DOWNLOAD
from studio.preferences.context import current_studio
from studio.translation import _, ngettext

STEPS = [gettext_lazy("Choose or paste"), gettext_lazy("Check the rows"), gettext_lazy("Saved")]
MOST_SHOWN = 300
ENOUGH_TO_TELL = 5
CHECK, SAVE, SAVE_GOOD, FAILED = "check", "save", "save-good", "failed"


@require_safe
@role_required(*WORKERS)
def imports(request: HttpRequest) -> HttpResponse:
    """What can be imported."""
    context = {
        "title": _("Import"),
        "lead": _("Bring what you have in a spreadsheet. Nothing is saved until you have seen every row."),
        "kinds": [*kinds_for(current_user(request)), *pages_for(current_user(request))],
    }
    return render(request, "imports/list.html", context)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def table(request: HttpRequest, code: str) -> HttpResponse:
    """One kind of import, from the choice of a file to the last row."""
    kind = _kind(request, code)
    sent = request.POST if request.method == "POST" else None
    form = ImportForm(sent, request.FILES or None, studio=current_studio(request), kind=kind)
    opened = form.table if form.is_bound and form.is_valid() else None
    if opened is None:
        if _is_script(request):
            return JsonResponse({"problem": " ".join(map(str, form.non_field_errors()))}, status=422)
        return _page(request, kind, form, None, [])
    asked = request.POST.get("do", CHECK)
    was_seen = (
        form.cleaned_data["seen"] == form.what_was_seen
    )  # nothing is saved that was not shown like this
    if opened.missing or (asked != FAILED and not was_seen):
        asked = CHECK
        if _is_script(request):
            return JsonResponse({"problem": _("Check the rows again first.")}, status=409)
    if asked in (SAVE, SAVE_GOOD):
        return _save(request, form, opened, good_only=asked == SAVE_GOOD)
    rows = [] if opened.missing else check(opened)
    if asked == FAILED:
        return failed_rows(opened, rows)
    return _page(request, kind, form, opened, rows)


def _is_script(request: HttpRequest) -> bool:
    """Whether the page's own script asks, which saves part by part."""
    return "application/json" in request.headers.get("Accept", "")


def _save(
    request: HttpRequest, form: ImportForm, opened: OpenTable[ImportKind], *, good_only: bool
) -> HttpResponse:
    """Save all of it; or, for the page's script, the next part."""
    submission, start = submission_from(request), form.cleaned_data.get("start")
    if _is_script(request):
        part = save_rows(opened, submission=submission, start=start or 0, good_only=good_only)
        stopped = bool(part.wrong) and not good_only
        reached = (start or 0) if stopped else (part.next or len(opened.rows))
        return JsonResponse(
            {
                "saved": part.saved,
                "there": part.there,
                "wrong": len(part.wrong),
                "next": part.next,
                "reached": reached,
            }
        )
    done = save_all(opened, submission=submission, good_only=good_only)
    messages.success(request, outcome(done))
    if done.wrong:
        return _page(request, opened.kind, form, opened, check(opened))
    return redirect(opened.kind.list_url)


def outcome(done: Saved) -> str:
    """What became of the rows, in words."""
    parts = [ngettext("{n} row saved.", "{n} rows saved.", done.saved, n=done.saved)]
    if done.there:
        parts.append(ngettext("{n} was already there.", "{n} were already there.", done.there, n=done.there))
    if done.wrong:
        n = len(done.wrong)
        parts.append(ngettext("{n} could not be saved.", "{n} could not be saved.", n, n=n))
    return " ".join(parts)


def _page(
    request: HttpRequest,
    kind: ImportKind,
    form: ImportForm,
    opened: OpenTable[ImportKind] | None,
    rows: Sequence[CheckedRow],
) -> HttpResponse:
    wrong = [row for row in rows if row.state is RowState.WRONG]
    context = {
        "form": form,
        "kind": kind,
        "opened": opened,
        "rows": rows,
        "wrong": wrong,
        "new": sum(row.state is RowState.NEW for row in rows),
        "everywhere": _wrong_everywhere(kind, rows),
        "there": sum(row.state is RowState.THERE for row in rows),
        "table": CheckedTable(_shown(rows), request, open_table=opened),
        "most_shown": MOST_SHOWN,
        "rows_at_once": ROWS_AT_ONCE,
        "steps": STEPS,
        "title": kind.title,
        "lead": kind.lead,
        "back_url": reverse("imports"),
        "back_label": _("Import"),
        "section": "imports",
    }
    is_refused = form.is_bound and (bool(form.errors) or bool(opened and opened.missing))
    return render(request, "imports/table.html", context, status=422 if is_refused else 200)


def _shown(rows: Sequence[CheckedRow]) -> list[CheckedRow]:
    """As many rows as a page bears, those with problems among them first."""
    if len(rows) <= MOST_SHOWN:
        return list(rows)
    chosen = sorted(rows, key=lambda row: row.state is not RowState.WRONG)[:MOST_SHOWN]
    return sorted(chosen, key=lambda row: row.line.number)


def _wrong_everywhere(kind: ImportKind, rows: Sequence[CheckedRow]) -> list[str]:
    """Labels of columns with a problem in every row: they may have been taken for something that they are not."""
    if len(rows) < ENOUGH_TO_TELL:
        return []
    fields = [{problem.field for problem in row.problems} for row in rows]
    return [label for key, label in kind.labels.items() if all(key in each for each in fields)]


def _kind(request: HttpRequest, code: str) -> ImportKind:
    kind = kind_named(code)
    if not kind.allows(current_user(request)):
        raise PermissionDenied(str(ROLE_REFUSED))
    return kind


@require_safe
@role_required(*WORKERS)
def example(request: HttpRequest, code: str) -> HttpResponse:
    """A small table to start from."""
    kind, studio = _kind(request, code), current_studio(request)
    return table_file(kind, kind.example(studio), studio, name=f"{code}-example", form=_form(request))


@require_safe
@role_required(*WORKERS)
def recorded(request: HttpRequest, code: str) -> HttpResponse:
    """What is recorded, in the same columns: it imports again as what is there already."""
    kind, studio = _kind(request, code), current_studio(request)
    rows = kind.recorded(studio) if kind.recorded else []
    return table_file(kind, rows, studio, name=code, form=_form(request))


def _form(request: HttpRequest) -> str:
    return XLSX if request.GET.get(DOWNLOAD) == XLSX else CSV
