"""One page for each kind of import: choose or paste, match the columns, see every row as it would be saved, save."""

from collections.abc import Sequence

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from studio.accounts.roles import ROLE_REFUSED, WORKERS, current_user, role_required
from studio.imports.actions import ROWS_AT_ONCE, remember, save_all, save_rows
from studio.imports.checking import CheckedRow, OpenTable, RowState, check, with_problems
from studio.imports.forms import ImportForm
from studio.imports.kinds import ImportKind, kind_named, kinds_for, pages_for
from studio.imports.tables import CheckedTable
from studio.imports.views.files import failed_rows, table_file
from studio.imports.views.outcomes import SAVED, STEPS, Outcome, saved_address, saved_page
from studio.pages.exports import CSV, XLSX
from studio.pages.saving import submission_from
from studio.pages.tables import DOWNLOAD
from studio.preferences.context import current_studio
from studio.translation import _, ngettext

MOST_SHOWN = 300
MOST_REASONS = 20
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
    if request.method == "GET" and SAVED in request.GET and Outcome.of(request, kind).total:
        return saved_page(request, kind)
    sent = request.POST if request.method == "POST" else None
    form = ImportForm(
        sent,
        request.FILES or None,
        studio=current_studio(request),
        kind=kind,
        may_add=current_user(request).is_owner,
    )
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
    if form.chosen:
        remember(opened, submission=submission_from(request))
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
    """Save all of it; or, for the page's script, the next part.

    Where a part could not be saved, the script sends the page itself, with the part's `start`, to be shown why.
    """
    submission, start = submission_from(request), form.cleaned_data.get("start")
    if _is_script(request):
        return _save_part(request, opened, start or 0, good_only=good_only)
    outcome = Outcome(opened.kind.code) if start is None else Outcome.of(request, opened.kind)
    there = outcome.there
    done = save_all(opened, submission=submission, start=start or 0, good_only=good_only)
    outcome.add(done)
    if start is not None:  # what the parts before have saved is no longer news
        outcome.there = there
    outcome.keep(request)
    if done.wrong:
        outcome.tell(request, wrong=len(done.wrong))
        rows = with_problems(check(opened), done.wrong)
        return _page(request, opened.kind, form, opened, rows, refused=done.wrong)
    return redirect(saved_address(opened.kind))


def _save_part(
    request: HttpRequest, opened: OpenTable[ImportKind], start: int, *, good_only: bool
) -> JsonResponse:
    """What became of one part: the next one's start, or at the end where to go on; why rows could not be saved."""
    part = save_rows(opened, submission=submission_from(request), start=start, good_only=good_only)
    outcome = Outcome.of(request, opened.kind) if start else Outcome(opened.kind.code)
    outcome.add(part)
    outcome.keep(request)
    stopped = bool(part.wrong) and not good_only
    labels = opened.kind.labels
    return JsonResponse(
        {
            "saved": part.saved,
            "there": part.there,
            "wrong": [{"line": row.line.number, "problems": row.located(labels)} for row in part.wrong],
            "next": part.next,
            "reached": start if stopped else (part.next or len(opened.rows)),
        }
    )


def _page(
    request: HttpRequest,
    kind: ImportKind,
    form: ImportForm,
    opened: OpenTable[ImportKind] | None,
    rows: Sequence[CheckedRow],
    refused: Sequence[CheckedRow] = (),
) -> HttpResponse:
    """The table as it was read; `refused` are rows that were to be saved and could not be."""
    wrong = [row for row in rows if row.state is RowState.WRONG]
    n = len({row.adds.casefold() for row in rows if row.adds})
    form["add_new"].label = ngettext(
        "Add the {n} material that is new", "Add the {n} materials that are new", n, n=n
    )
    context = {
        "form": form,
        "kind": kind,
        "opened": opened,
        "rows": rows,
        "wrong": wrong,
        "refused": [(row.line.number, row.located(kind.labels)) for row in refused[:MOST_REASONS]],
        "new": sum(row.state is RowState.NEW for row in rows),
        "additions": n,
        "everywhere": _wrong_everywhere(kind, rows, knows_new=bool(opened and opened.add_new)),
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
    is_refused = bool(refused) or (form.is_bound and bool(form.errors or (opened and opened.missing)))
    return render(request, "imports/table.html", context, status=422 if is_refused else 200)


def _shown(rows: Sequence[CheckedRow]) -> list[CheckedRow]:
    """As many rows as a page bears, those with problems among them first."""
    if len(rows) <= MOST_SHOWN:
        return list(rows)
    chosen = sorted(rows, key=lambda row: row.state is not RowState.WRONG)[:MOST_SHOWN]
    return sorted(chosen, key=lambda row: row.line.number)


def _wrong_everywhere(kind: ImportKind, rows: Sequence[CheckedRow], *, knows_new: bool) -> list[str]:
    """Labels of columns with a problem in every row: they may have been taken for something that they are not."""
    if len(rows) < ENOUGH_TO_TELL or (not knows_new and any(row.adds for row in rows)):
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
