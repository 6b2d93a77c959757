"""What is packed for a market day, in which box; on the page and on paper; and what was missing after it."""

from collections.abc import Iterable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from costing.markets.actions.packing import bring_home, mark_missing, pack, unpack
from costing.markets.forms import PackForm
from costing.markets.models import MarketDay, PackedPiece
from costing.markets.papers import PackingBox, PackingLine, draw_packing_list
from costing.markets.queries import PackedRow, packed_rows, sellable_pieces
from costing.markets.views.days import SECTION
from studio.accounts.roles import EVERYONE, WORKERS, current_user, role_required
from studio.pages.papers import PaperForm, pdf_answer
from studio.pages.saving import acted, form_status, saved, submission_from
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.preferences.frames import frame_for
from studio.translation import _, ngettext


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def packing(request: HttpRequest, pk: int) -> HttpResponse:
    """Choose pieces, name a box, and they are on the list."""
    market = get_object_or_404(MarketDay, pk=pk)
    packed = packed_rows(market)
    boxes = list(dict.fromkeys(each.packed.box for each in packed))
    form = PackForm(
        request.POST or None,
        studio=current_studio(request),
        initial={"box": boxes[-1] if boxes else _("Box {number}", number=1)},
    )
    done = saved(form, lambda: pack(market=market, submission=submission_from(request), **form.cleaned_data))
    if done:
        count = len(done)
        messages.success(
            request, ngettext("{count} piece packed.", "{count} pieces packed.", count, count=count)
        )
        return redirect("costing:market-packing", pk=pk)
    listed = {each.piece.pk for each in packed}
    context = {
        "market": market,
        "title": _("Pack for {market}", market=market.name),
        "form": form,
        "boxes": boxes,
        "packed": packed,
        "free": [piece for piece in sellable_pieces() if piece.pk not in listed],
        "back_url": reverse("costing:market", args=[pk]),
        "back_label": market.name,
        "section": SECTION,
    }
    return render(request, "markets/packing.html", context, status=form_status(form))


@require_POST
@role_required(*WORKERS)
def unpack_one(request: HttpRequest, pk: int) -> HttpResponse:
    packed = get_object_or_404(PackedPiece.objects.select_related("piece"), pk=pk)
    done = _("“{title}” is off the list.", title=packed.piece.title)
    acted(request, lambda: unpack(packed=packed, submission=submission_from(request)), done)
    return redirect("costing:market-packing", pk=packed.market_day_id)


@require_POST
@role_required(*WORKERS)
def missing(request: HttpRequest, pk: int) -> HttpResponse:
    """A packed piece was missing after the market, or has been found: which of them, the button says."""
    packed = get_object_or_404(PackedPiece.objects.select_related("piece"), pk=pk)
    is_missing = request.POST.get("missing") == "yes"
    done = _("“{title}” is missing.", title=packed.piece.title)
    if not is_missing:
        done = _("“{title}” has been found.", title=packed.piece.title)
    acted(
        request,
        lambda: mark_missing(packed=packed, missing=is_missing, submission=submission_from(request)),
        done,
    )
    return redirect("costing:market", pk=packed.market_day_id)


@require_POST
@role_required(*WORKERS)
def home(request: HttpRequest, pk: int) -> HttpResponse:
    """Everything that is left has come home."""
    market = get_object_or_404(MarketDay, pk=pk)
    done = _("What was left is back in the studio.")
    acted(request, lambda: bring_home(market=market, submission=submission_from(request)), done)
    return redirect("costing:market", pk=pk)


@require_safe
@role_required(*EVERYONE)
def paper(request: HttpRequest, pk: int) -> HttpResponse:
    """The packing list as PDF: by box, with a mark to tick on the way out and one on the way home."""
    market, studio = get_object_or_404(MarketDay, pk=pk), current_studio(request)
    form = PaperForm(request.GET, studio=studio)
    if not form.is_valid():
        messages.error(request, _("Choose one of the papers in the list."))
        return redirect("costing:market", pk=pk)
    formatter = Formatter.of(studio)
    when = ", ".join(filter(None, [formatter.day(market.held_on), market.place]))
    frame = frame_for(studio, _("Packing list: {market}", market=market.name), when)
    boxes = _boxes(packed_rows(market), formatter if current_user(request).sees_money else None)
    return pdf_answer(
        draw_packing_list(boxes, frame, paper=form.chosen), f"packing-list-{market.held_on.isoformat()}"
    )


def _boxes(rows: Iterable[PackedRow], formatter: Formatter | None) -> list[PackingBox]:
    by_box: dict[str, list[PackingLine]] = {}
    for row in rows:
        price = formatter.money(row.piece.price) if formatter and row.piece.price is not None else ""
        line = PackingLine(row.piece.label, row.piece.title, price)
        by_box.setdefault(row.packed.box, []).append(line)
    return [PackingBox(name, lines) for name, lines in by_box.items()]
