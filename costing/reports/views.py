"""The year end: stock and profit of a period, what was owned on a day, what is written down, and all of it on paper."""

from datetime import date
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from costing.reports.actions import write_down_items
from costing.reports.closing_checks import closing_checks
from costing.reports.forms import DayForm, PeriodForm, WriteDownForm, usual_period
from costing.reports.models import WriteDown
from costing.reports.papers import draw_year_end
from costing.reports.queries import Period, year_end
from costing.reports.stages import owned_on, with_pours
from costing.reports.statement import statement_of
from costing.reports.tables import OwnedTable, StatementTable
from costing.reports.write_downs import proposals
from studio.accounts.roles import EVERYONE, owner_required, role_required
from studio.pages.papers import PaperForm, pdf_answer
from studio.pages.periods import period_links
from studio.pages.saving import form_status, saved, submission_from
from studio.pages.tables import list_page, page_of
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.preferences.frames import frame_for
from studio.translation import _, ngettext

SECTION = "costing:year-end"
PER_PAGE = 50


@require_safe
@role_required(*EVERYONE, money=True)
def page(request: HttpRequest) -> HttpResponse:
    studio = current_studio(request)
    form = PeriodForm(request.GET or None, studio=studio)
    is_wrong = form.is_bound and not form.is_valid()
    found = (
        None if is_wrong else year_end(form.period if form.is_bound else usual_period(timezone.localdate()))
    )
    parts = statement_of(found, studio.currency) if found is not None else []
    every = [line for part in parts for line in part.lines]
    context: dict[str, Any] = {
        "title": _("Year end"),
        "lead": _("What you owned, sold, lost and earned in a period, as the ledger has it."),
        "section": SECTION,
        "periods": period_links(
            request,
            today=timezone.localdate(),
            shown=(found.period.first, found.period.last) if found is not None else (None, None),
        ),
        "form": form if found is None else PeriodForm(studio=studio, initial=_ends(found.period)),
        "is_cut": form.is_cut,
        "found": found,
        "parts": parts,
        "checks": closing_checks(found) if found is not None else [],
        "paper_form": PaperForm.offered(
            studio, *(text for line in every for text in (line.label, line.note))
        ),
    }
    table: StatementTable = StatementTable(every, request)
    answer = list_page(request, "reports/year_end.html", table, context)
    answer.status_code = 422 if is_wrong else answer.status_code
    return answer


@require_safe
@role_required(*EVERYONE, money=True)
def paper(request: HttpRequest) -> HttpResponse:
    """The statement as a PDF."""
    studio = current_studio(request)
    form, size = PeriodForm(request.GET, studio=studio), PaperForm(request.GET, studio=studio)
    if not form.is_valid() or not size.is_valid():
        messages.error(request, _("Choose the period and the paper again."))
        return redirect(SECTION)
    found = year_end(form.period)
    pdf = draw_year_end(
        found,
        statement_of(found, studio.currency),
        Formatter.of(studio),
        frame=frame_for(
            studio,
            _("Year end"),
            Formatter.of(studio).day(timezone.localdate()),
            footer=_("From the studio’s own records. Not tax or legal advice."),
        ),
        paper=size.chosen,
    )
    return pdf_answer(pdf, f"year-end-{found.period.last}")


@require_safe
@role_required(*EVERYONE, money=True)
def owned(request: HttpRequest) -> HttpResponse:
    """Everything that held cost at the end of a day, the dearest first."""
    form = DayForm(request.GET, studio=current_studio(request))
    is_valid = form.is_valid()
    day = form.cleaned_data["day"] if is_valid else timezone.localdate()
    stage = form.cleaned_data["stage"] if is_valid else ""
    rows = [each for each in owned_on(day) if stage in ("", each.stage)]
    rows.sort(key=lambda each: -each.money)
    shown = Formatter.of(current_studio(request)).day(day)
    page_obj = page_of(request, rows, PER_PAGE)
    page_obj.object_list = with_pours(page_obj.object_list)
    table: OwnedTable = OwnedTable(page_obj, request, totals={"money": sum(each.money for each in rows)})
    context = {
        "lead": _("What everything cost in materials that you had at the end of {day}.", day=shown),
        "form": form,
        "page_obj": page_obj,
        "section": SECTION,
        "back_url": reverse(SECTION),
        "back_label": _("Year end"),
    }
    return list_page(request, "reports/owned.html", table, context)


@require_http_methods(["GET", "HEAD", "POST"])
@owner_required
def write_downs(request: HttpRequest) -> HttpResponse:
    """What will not bring its cost: proposed item by item, written down by the owner, up again when it recovers."""
    studio = current_studio(request)
    asked = DayForm(request.GET, studio=studio)
    day = asked.cleaned_data["day"] if asked.is_valid() else timezone.localdate()
    found = proposals(owned_on(day), day)
    form = WriteDownForm(request.POST or None, studio=studio, proposals=found, initial={"on": day})
    written = saved(
        form,
        lambda: write_down_items(
            items=form.items, submission=submission_from(request, on=day, key=form.cleaned_data["key"])
        ),
    )
    if written is not None:
        words = ngettext("{count} item saved.", "{count} items saved.", len(written), count=len(written))
        messages.success(request, words)
        return redirect(f"{reverse('costing:write-downs')}?day={day}")
    rows = WriteDown.objects.filter(on__lte=day).select_related("lot__material", "piece", "recorded_by")
    context = {
        "title": _("Stock below its cost"),
        "lead": _(
            "Finished pieces whose price does not bring what their materials cost, and stock past its date."
        ),
        "day": day,
        "asked": asked,
        "form": form,
        "history": rows.order_by("-on", "-pk")[:PER_PAGE],
        "section": SECTION,
        "back_url": reverse(SECTION),
        "back_label": _("Year end"),
    }
    return render(request, "reports/write_downs.html", context, status=form_status(form))


def _ends(period: Period) -> dict[str, date]:
    return {"first": period.first, "last": period.last}
