"""Years of overhead: what they are expected to cost an hour, and what their work absorbed. Not tax or legal advice."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.functional import cached_property
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST, require_safe

from costing.overhead.actions import take_over_rate
from costing.overhead.forms import LineForm, YearForm
from costing.overhead.models import OverheadLine, OverheadYear
from costing.overhead.queries import year_figures
from costing.overhead.tables import LineTable, YearTable
from studio.accounts.roles import owner_required
from studio.pages.reference import DeleteView, EditView, RowView
from studio.pages.saving import acted, submission_from
from studio.pages.tables import list_page, page_of
from studio.preferences.rates import DatedRates
from studio.setup import menu as settings_menu
from studio.translation import _
from studio.values.numbers import read_small_whole

SECTION, PER_PAGE = "settings", 50
LIST, PAGE = "costing:overhead", "costing:overhead-year"
MINUTES_IN_AN_HOUR = 60


@require_safe
@owner_required
def overhead(request: HttpRequest) -> HttpResponse:
    page_obj = page_of(request, OverheadYear.objects.prefetch_related("lines"), PER_PAGE)
    table = YearTable(year_figures(list(page_obj)), request)
    context = settings_menu.way_back() | {"title": _("Overhead"), "page_obj": page_obj}
    return list_page(request, "overhead/list.html", table, context)


@require_safe
@owner_required
def overhead_year(request: HttpRequest, pk: int) -> HttpResponse:
    year = get_object_or_404(OverheadYear.objects.prefetch_related("lines"), pk=pk)
    [figures] = year_figures([year])
    held = DatedRates.read().on(year.starts_on).overhead
    totals = {"estimated": figures.estimated}
    if figures.paid is not None and year.paid_in_total is None:
        totals["paid"] = figures.paid
    context = {
        "title": _("Overhead, {year}", year=year),
        "year": year,
        "figures": figures,
        "absorption": figures.absorption,
        "worked": figures.minutes // MINUTES_IN_AN_HOUR,
        "unrated": -(-figures.unrated // MINUTES_IN_AN_HOUR),
        "is_running": year.ends_on >= timezone.localdate(),
        "is_taken_over": held is not None and (held.value, held.since) == (figures.rate, year.starts_on),
        "table": LineTable(list(figures.lines), request, totals=totals if figures.lines else {}),
        "section": SECTION,
        "back_url": reverse(LIST),
        "back_label": _("Overhead"),
    }
    return render(request, "overhead/year.html", context)


@require_POST
@owner_required
def take_over(request: HttpRequest, pk: int) -> HttpResponse:
    """Let the rate hold from the first day of the year on."""
    year = get_object_or_404(OverheadYear, pk=pk)
    done = _("The rate now holds from the first day of the year.")
    acted(request, lambda: take_over_rate(year, submission=submission_from(request)), done)
    return redirect(PAGE, pk=pk)


class YearEdit(EditView):
    model, form_class = OverheadYear, YearForm
    edit_name, page_name, list_name, section = "costing:overhead", PAGE, LIST, SECTION
    list_label, add_title = gettext_lazy("Overhead"), gettext_lazy("Add a year")

    def get_initial(self) -> dict[str, Any]:
        first = timezone.localdate().replace(month=1, day=1)
        days = {"starts_on": first, "ends_on": first.replace(month=12, day=31)}
        return super().get_initial() | ({} if self.object else days)


class YearDelete(DeleteView):
    model = OverheadYear
    edit_name, list_name, section = "costing:overhead", LIST, SECTION
    note = gettext_lazy("Its lines go with it. A rate that was taken over stays.")


class LineView(RowView):
    """Lines are changed from the page of their year."""

    model = OverheadLine
    queryset = OverheadLine.objects.select_related("year")
    edit_name, page_name, list_name, section = "costing:overhead-line", PAGE, LIST, SECTION

    def page_row(self, row: OverheadLine | None) -> OverheadYear | None:
        return row.year if row else self.chosen_year

    @cached_property
    def chosen_year(self) -> OverheadYear | None:
        """The year that the address of a new line may name."""
        number = read_small_whole(self.request.GET.get("year", ""))
        return OverheadYear.objects.filter(pk=number).first() if number else None


class LineEdit(LineView, EditView):
    form_class = LineForm
    list_label, add_title = gettext_lazy("Overhead"), gettext_lazy("Add a line of overhead")

    def get_initial(self) -> dict[str, Any]:
        return super().get_initial() | ({} if self.object else {"year": self.chosen_year})


class LineDelete(LineView, DeleteView):
    note = gettext_lazy("The rate is then worked out without it. A rate that was taken over stays.")
