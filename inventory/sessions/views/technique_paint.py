"""How much paint a technique takes, by size, and the pours that say so."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.decorators.http import require_safe

from inventory.sessions.calculations import paint_rate
from inventory.sessions.models import Technique
from inventory.sessions.paint_per_area import LATEST_POURS
from inventory.sessions.queries.paint_per_area import CountedPour, SizePaint, TechniquePaint, paint_of
from inventory.sessions.tables import CountedPourTable, SizePaintTable
from studio.accounts.roles import EVERYONE, role_required
from studio.pages.charts import BAR_STEP, Bar, Strip, bars, strips
from studio.pages.tables import list_page
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _


@require_safe
@role_required(*EVERYONE)
def technique_paint(request: HttpRequest, pk: int) -> HttpResponse:
    technique = get_object_or_404(Technique, pk=pk)
    formatter = Formatter.of(current_studio(request))
    paint = paint_of(technique)
    poured = [size for size in paint.sizes if size.pours]
    errors = paint.mean_errors
    context = {
        "technique": technique,
        "title": technique.name,
        "lead": _("How much paint it takes, learned from your own pours. Run-off is part of every figure."),
        "back_url": reverse("inventory:techniques"),
        "back_label": _("Techniques"),
        "section": "inventory:techniques",
        "sizes": list(zip(poured, _size_strips(poured), strict=True)),
        "scale": _scale(poured),
        "others": SizePaintTable([size for size in paint.sizes if not size.pours], request),
        "errors": errors and [formatter.percent(error) for error in errors],
        "most_pours": LATEST_POURS,
        "bars": _error_bars(paint, formatter),
        "chart_width": BAR_STEP * max(len(paint.pours), 12),
    }
    return list_page(request, "techniques/paint.html", CountedPourTable(paint.pours, request), context)


def _size_strips(sizes: list[SizePaint]) -> list[Strip]:
    return strips(
        [
            ([_rate(each) for each in size.pours], size.estimate.low, size.estimate.value, size.estimate.high)
            for size in sizes
        ]
    )


def _scale(sizes: list[SizePaint]) -> tuple[int, int]:
    """The least and the largest figure on the strips."""
    figures = [_rate(each) for size in sizes for each in size.pours]
    ranges = [bound for size in sizes for bound in (size.estimate.low, size.estimate.high)]
    return min([*figures, *ranges], default=0), max([*figures, *ranges], default=0)


def _rate(each: CountedPour) -> int:
    return paint_rate(each.pour.poured, each.pour.area)


def _error_bars(paint: TechniquePaint, formatter: Formatter) -> list[Bar]:
    """How far each forecast was off, the oldest first."""
    return bars(
        [
            (
                f"{each.pour.label}, {formatter.day(each.pour.session.held_on)}",
                formatter.percent(abs(each.off)),
                abs(each.off),
            )
            for each in reversed(paint.pours)
        ]
    )
