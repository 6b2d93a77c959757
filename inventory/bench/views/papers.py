"""The mixing sheet of a plan, as PDF."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.bench.cautions import data_sheets
from inventory.bench.papers import draw_mixing_sheet
from inventory.bench.queries import Bench, open_bench
from inventory.bench.wording import BenchWords
from inventory.plans.models import Plan
from studio.accounts.roles import EVERYONE, role_required
from studio.errors import MeniscusError
from studio.pages.papers import PaperForm, pdf_answer
from studio.papers.frame import Paper
from studio.preferences.context import current_studio
from studio.preferences.frames import frame_for
from studio.translation import _


@require_safe
@role_required(*EVERYONE)
def mixing_sheet(request: HttpRequest, pk: int) -> HttpResponse:
    """Without costs, on the paper that was chosen; or back to the plan, which says why there is none."""
    plan = get_object_or_404(Plan.objects.with_lines(), pk=pk)
    form = PaperForm(request.GET, studio=current_studio(request))
    try:
        bench = open_bench(plan, today=timezone.localdate())
    except MeniscusError as problem:
        messages.error(request, str(problem))
        return redirect("inventory:plan", pk=pk)
    if not form.is_valid():
        messages.error(request, _("Choose one of the papers in the list."))
        return redirect("inventory:plan", pk=pk)
    return pdf_answer(_drawn(request, bench, form.chosen), f"mixing-sheet-{pk}")


def _drawn(request: HttpRequest, bench: Bench, paper: Paper) -> bytes:
    studio = current_studio(request)
    words = BenchWords(bench, studio)
    when = _(
        "Mixing sheet for {day}, {surfaces}",
        day=words.formatter.day(bench.plan.planned_on),
        surfaces=words.how_many(),
    )
    frame = frame_for(studio, bench.plan.name, when, words.how_to_read, data_sheets())
    return draw_mixing_sheet(words.sheet(), frame, paper=paper)
