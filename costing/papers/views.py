"""The price list: chosen and looked at on the page, then printed as a list or as labels."""

from dataclasses import dataclass
from datetime import date

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from costing.papers.forms import PriceListForm
from costing.papers.price_labels import LABEL_SHEETS, draw_price_labels
from costing.papers.price_list import draw_price_list
from costing.papers.queries import Order, PriceList, price_labels, price_list, price_list_heading
from studio.accounts.roles import EVERYONE, role_required
from studio.errors import MeniscusError
from studio.pages.languages import for_customers
from studio.pages.query_values import whole_number
from studio.preferences.context import current_studio

TICKED, TICKED_UNDER = "p", "under"  # short names: hundreds of pieces must fit into one address


@dataclass(frozen=True, slots=True)
class QuerySerializer:
    """What the address asks for: the form, everything that fits it, and the pieces of that which were ticked."""

    form: PriceListForm
    fitting: PriceList
    ticked: frozenset[int] | None

    @property
    def ids(self) -> list[int]:
        """The pieces to print."""
        fits = [piece.pk for piece in self.fitting.pieces]
        return fits if self.ticked is None else [pk for pk in fits if pk in self.ticked]

    def printed(self) -> PriceList:
        """The rows to print, with their photos where they are wanted."""
        said = self.form.cleaned_data
        return price_list(
            states=self.form.states, ids=self.ids, order=Order(said["order"]), photos=said["photos"]
        )


@require_safe
@role_required(*EVERYONE, money=True)
def price_list_page(request: HttpRequest) -> HttpResponse:
    return _page(request, _asked(request))


@require_safe
@role_required(*EVERYONE, money=True)
@for_customers
def paper(request: HttpRequest) -> HttpResponse:
    asked = _asked(request)
    if not asked.form.is_valid():
        return _page(request, asked, status=422)
    said, studio = asked.form.cleaned_data, current_studio(request)
    heading = price_list_heading(studio=studio, on=said["on"], place=said["place"].strip())
    pdf = draw_price_list(asked.printed().rows, heading, paper=said["paper"])
    return _pdf(pdf, "price-list", said["on"])


@require_safe
@role_required(*EVERYONE, money=True)
@for_customers
def labels(request: HttpRequest) -> HttpResponse:
    asked = _asked(request)
    if not asked.form.is_valid():
        return _page(request, asked, status=422)
    said = asked.form.cleaned_data
    try:
        pdf = draw_price_labels(
            price_labels(asked.printed().rows),
            studio=current_studio(request).name,
            paper=said["paper"],
            start=said["start"],
        )
    except MeniscusError as problem:
        asked.form.refuse(problem)
        return _page(request, asked, status=422)
    return _pdf(pdf, "price-labels", said["on"])


def _asked(request: HttpRequest) -> QuerySerializer:
    """Read the address; a bare one asks for everything that is for sale, the studio's way."""
    studio = current_studio(request)
    first = PriceListForm.first(studio, timezone.localdate())
    form = PriceListForm(request.GET if "order" in request.GET else first, studio=studio)
    if not form.is_valid():
        return QuerySerializer(form, PriceList((), (), ()), None)
    ticked = None
    if request.GET.get(TICKED_UNDER) == form.what_fits:
        ticked = frozenset(
            number for text in request.GET.getlist(TICKED) if (number := whole_number(text)) is not None
        )
    technique = form.cleaned_data["technique"]
    fitting = price_list(
        states=form.states,
        technique=technique.pk if technique else None,
        order=Order(form.cleaned_data["order"]),
        photos=False,
    )
    return QuerySerializer(form, fitting, ticked)


def _page(request: HttpRequest, asked: QuerySerializer, *, status: int = 200) -> HttpResponse:
    ids, is_read = set(asked.ids), asked.form.is_valid()
    choices = [
        {"piece": piece, "row": row, "is_on": piece.pk in ids}
        for piece, row in zip(asked.fitting.pieces, asked.fitting.rows, strict=True)
    ]
    context = {
        "form": asked.form,
        "choices": choices,
        "listed": [choice for choice in choices if choice["is_on"]],
        "unpriced": asked.fitting.unpriced,
        "ticked_under": asked.form.what_fits if is_read else "",
        "is_asked": bool(request.GET),
        "heading": price_list_heading(
            studio=current_studio(request),
            on=asked.form.cleaned_data["on"],
            place=asked.form.cleaned_data["place"].strip(),
        )
        if is_read
        else None,
        "with_photos": is_read and asked.form.cleaned_data["photos"],
        "is_narrow": asked.ticked is not None and len(ids) < len(choices),
        "label_papers": [sheet.paper.name for sheet in LABEL_SHEETS.values()],
    }
    return render(request, "price_lists/page.html", context, status=status)


def _pdf(pdf: bytes, name: str, on: date) -> HttpResponse:
    """A paper to be looked at in the browser and printed from there."""
    return HttpResponse(
        pdf,
        content_type="application/pdf",
        headers={
            "Content-Disposition": f'inline; filename="{name}-{on.isoformat()}.pdf"',
            "X-Content-Type-Options": "nosniff",
        },
    )
