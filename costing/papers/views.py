"""The price list: chosen and looked at on the page, then printed as a list or as labels."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import IO

from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from costing.locations.queries import where_are
from costing.papers.actions import keep_list
from costing.papers.certificates import certificate_document
from costing.papers.cost_sheets import cost_sheet_document
from costing.papers.forms import PriceListForm
from costing.papers.models import PrintedList
from costing.papers.poster import draw_poster
from costing.papers.price_labels import LabelKind, draw_price_labels
from costing.papers.price_list import ListStyle, PriceListHeading, write_price_list
from costing.papers.printed_lists import lists_now
from costing.papers.queries import ListedPiece, Order, PriceList, price_list, price_list_heading
from costing.pieces.models import Piece
from costing.pieces.views.piece import piece_or_404
from costing.pricing.price_sheet import priced_below_cost
from studio.accounts.roles import EVERYONE, WORKERS, role_required
from studio.pages.forms import KeyedForm, new_key
from studio.pages.languages import for_customers
from studio.pages.papers import PaperForm, SmallPaperForm, asked_paper, pdf_answer, print_warning
from studio.pages.saving import acted, saved, submission_from
from studio.papers.frame import paper_named
from studio.papers.lines import Document
from studio.preferences.context import current_studio
from studio.translation import _
from studio.values.numbers import read_small_whole

LISTS_SHOWN = 10
TICKED, TICKED_UNDER = "p", "under"  # short names: hundreds of pieces must fit into one address


@dataclass(frozen=True, slots=True)
class Choice:
    """What the address asks for: the form, everything that fits it, and whether pieces of that were ticked."""

    form: PriceListForm
    fitting: PriceList
    ids: frozenset[int]
    is_narrow: bool

    @property
    def heading(self) -> PriceListHeading:
        data = self.form.cleaned_data
        return price_list_heading(studio=self.form.studio, on=data["on"], place=data["place"].strip())

    @property
    def rows(self) -> tuple[ListedPiece, ...]:
        """The rows to print, with their photos where they are wanted."""
        data = self.form.cleaned_data
        return price_list(
            states=self.form.states, ids=self.ids, order=Order(data["order"]), pictures=self.form.pictures
        ).rows


@require_safe
@role_required(*EVERYONE, money=True)
def price_list_page(request: HttpRequest) -> HttpResponse:
    return _page(request, _choice(request))


@require_safe
@role_required(*EVERYONE, money=True)
@for_customers
def paper(request: HttpRequest) -> HttpResponse | FileResponse:
    def draw(choice: Choice) -> bytes | IO[bytes]:
        data = choice.form.cleaned_data
        paper = paper_named(data["paper"], is_grey=data["grey"])
        if choice.form.list_style == ListStyle.POSTER:
            return draw_poster(choice.rows, choice.heading, paper=paper)
        return write_price_list(choice.rows, choice.heading, paper=paper, style=choice.form.list_style)

    return _printed(request, "price-list", draw)


@require_safe
@role_required(*EVERYONE, money=True)
@for_customers
def labels(request: HttpRequest) -> HttpResponse | FileResponse:
    def draw(choice: Choice) -> bytes:
        data, studio = choice.form.cleaned_data, choice.form.studio
        rows = [replace(row, price="") for row in choice.rows] if data["no_prices"] else choice.rows
        return draw_price_labels(
            rows,
            studio=studio.name,
            grid=choice.form.grid,
            kind=LabelKind(data["kind"] or LabelKind.PRICE),
            start=data["start"],
            copies=data["copies"] or 1,
            has_cut_lines=data["cut_lines"],
        )

    return _printed(request, "price-labels", draw)


@require_POST
@role_required(*WORKERS, money=True)
def keep(request: HttpRequest) -> HttpResponse:
    """Keep what the list says as it is printed for somebody: what changes afterwards is shown beside it."""
    choice, sent = _choice(request), KeyedForm(request.POST, studio=current_studio(request))
    if not choice.form.is_valid() or not sent.is_valid():
        messages.error(request, _("Choose again what goes on the list."))
        return redirect("costing:price-list")
    data = choice.form.cleaned_data
    acted(
        request,
        lambda: keep_list(
            pieces=[row.piece for row in choice.rows],
            on=data["on"],
            place=data["place"].strip(),
            submission=submission_from(request, key=sent.cleaned_data["key"]),
        ),
        _("The list is kept. What changes from now on is shown under “Printed lists”."),
    )
    return redirect(f"{reverse('costing:price-list')}?{request.GET.urlencode()}")


def _choice(request: HttpRequest) -> Choice:
    """Read the address; what a short one leaves out is everything that is for sale, the studio's way."""
    studio = current_studio(request)
    first = PriceListForm.first(studio, timezone.localdate())
    form = PriceListForm(request.GET if "order" in request.GET else first | request.GET.dict(), studio=studio)
    if not form.is_valid():
        return Choice(form, PriceList(), frozenset(), is_narrow=False)
    fitting = form.fitting
    every = ids = frozenset(row.piece.pk for row in fitting.rows)
    if request.GET.get(TICKED_UNDER) == form.what_fits:
        ids &= {read_small_whole(text) for text in request.GET.getlist(TICKED)}
    return Choice(form, fitting, ids, is_narrow=ids < every)


def _printed(
    request: HttpRequest, name: str, draw: Callable[[Choice], bytes | IO[bytes]]
) -> HttpResponse | FileResponse:
    """A paper to be looked at in the browser and printed from there; or the page, saying why there is none."""
    choice = _choice(request)
    pdf = saved(choice.form, lambda: draw(choice))
    if pdf is None:
        return _page(request, choice, status=422)
    return pdf_answer(pdf, f"{name}-{choice.form.cleaned_data['on'].isoformat()}")


def _page(request: HttpRequest, choice: Choice, *, status: int = 200) -> HttpResponse:
    is_read = choice.form.is_valid()
    context = {
        "title": _("Price list"),
        "lead": _(
            "Everything that is for sale, as it will be printed. Choose individual pieces, sort them, print."
        ),
        "form": choice.form,
        "choice": choice,
        "rows": choice.fitting.rows,
        "unpriced": choice.fitting.unpriced,
        "below": _below_cost([row.piece for row in choice.fitting.rows if row.piece.pk in choice.ids]),
        "listed": [row for row in choice.fitting.rows if row.piece.pk in choice.ids],
        "heading": choice.heading if is_read else None,
        "ticked_under": choice.form.what_fits if is_read else "",
        "warning": print_warning(row.title for row in choice.fitting.rows if row.piece.pk in choice.ids),
        "is_asked": bool(request.GET),
        "key": new_key(),
        "printed": lists_now(PrintedList.objects.select_related("recorded_by")[:LISTS_SHOWN]),
    }
    return render(request, "price_lists/page.html", context, status=status)


def _below_cost(pieces: Sequence[Piece]) -> list[tuple[Piece, tuple[str, ...]]]:
    places = {pk: where.location for pk, where in where_are(pieces).items()}
    galleries = {pk: place.channel_id for pk, place in places.items() if place and place.channel_id}
    return priced_below_cost(pieces, timezone.localdate(), galleries=galleries)


@require_safe
@role_required(*EVERYONE)
@for_customers
def certificate(request: HttpRequest, pk: int) -> HttpResponse:
    """The certificate of a piece, on the paper that the address asks for."""
    written = certificate_document(current_studio(request), pk)
    return _document(request, pk, written, SmallPaperForm)


@require_safe
@role_required(*EVERYONE, money=True)
def piece_cost_sheet(request: HttpRequest, pk: int) -> HttpResponse:
    return _document(request, pk, cost_sheet_document(current_studio(request), piece_or_404(pk)), PaperForm)


def _document(request: HttpRequest, pk: int, written: Document, form: type[PaperForm]) -> HttpResponse:
    paper = asked_paper(request, form)
    return (
        redirect("costing:piece", pk=pk) if paper is None else pdf_answer(written.draw(paper), written.name)
    )
