"""Stocktakes: choose a shelf, check it, look the differences over, post. And what stood there when the books began."""

from dataclasses import dataclass
from datetime import timedelta
from typing import Any, cast
from urllib.parse import urlencode

from django.contrib import messages
from django.db.models import Count, F, OuterRef, Q, Subquery, Sum
from django.db.models.functions import Coalesce
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.text import slugify
from django.utils.translation import gettext_lazy, pgettext_lazy
from django.views.decorators.http import require_http_methods, require_safe

from inventory.ledger.models import Entry, Lot, Place, Posting
from inventory.ledger.views.undo import undo_of
from inventory.materials.choices import by_kind, stocked_materials
from inventory.materials.forms.written_lines import WrittenLinesForm, WrittenRows, must_read, rows_so_far
from inventory.materials.models import Kind
from inventory.materials.new_in_place import NewMaterials
from inventory.materials.packs import same_gtins
from inventory.purchasing.actions.deliveries import open_stock
from inventory.stock import counting
from inventory.stock.actions.stocktakes import post_stocktake
from inventory.stock.changes import stock_changes
from inventory.stock.counting import ValuedLine
from inventory.stock.forms.stocktakes import (
    MOST_OPENING_LINES,
    CountSheet,
    OpeningForm,
    OpeningRows,
    lots_typed,
)
from inventory.stock.models import Stocktake
from inventory.stock.papers import stocktake_sheet
from inventory.stock.tables import StocktakeLineTable, StocktakeTable
from studio.accounts.roles import EVERYONE, WORKERS, current_user, role_required
from studio.pages.papers import PaperForm, asked_paper, pdf_answer
from studio.pages.saving import saved, submission_from
from studio.pages.tables import list_page, page_of
from studio.papers.lines import draw_lines
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.preferences.frames import frame_for
from studio.translation import _, ngettext

PER_PAGE = 50
MOST_LOTS = 300
LONGEST_ASKED = 120  # a material's name
EMPTIED_WITHIN_DAYS = 30
STEPS = [gettext_lazy("Choose a shelf"), pgettext_lazy("verb", "Stocktake"), gettext_lazy("Check and save")]
SECTION = "inventory:stocktakes"
OPENING_DRAFT = "opening-stock"
SPARE_OPENING_LINES = 5


@dataclass(frozen=True, slots=True)
class Selection:
    """Which part of the shelf is checked, as the address says it."""

    kind: str
    place: str
    everything: bool
    emptied: bool
    code: str = ""

    @classmethod
    def of(cls, query: QueryDict) -> "Selection":
        kind = query.get("kind", "")
        return cls(
            kind if kind in Kind.values else "",
            query.get("place", "").strip()[:60],
            query.get("all") == "1",
            query.get("emptied") == "1",
            " ".join(query.get("code", "").split())[:LONGEST_ASKED],
        )

    def __bool__(self) -> bool:
        return bool(self.kind or self.place or self.everything or self.code)

    @property
    def words(self) -> str:
        if self.code:
            return self.code
        where = _("No place recorded") if self.place == counting.NOWHERE else self.place
        parts = [part for part in (where, str(Kind(self.kind).label) if self.kind else "") if part]
        return ", ".join(parts) or _("Everything")

    @property
    def draft(self) -> str:
        """The name under which a device keeps this unsent stocktake."""
        return f"stocktake-{slugify(self.place)}-{self.kind}{slugify(self.code)}"

    @property
    def with_emptied(self) -> str:
        """The address of the same selection with bottles emptied lately, or without them."""
        words = {"kind": self.kind, "place": self.place, "all": "1" if self.everything else ""}
        words["code"] = self.code
        words["emptied"] = "" if self.emptied else "1"
        return urlencode({name: word for name, word in words.items() if word})

    def lots(self, also: set[int]) -> list[Lot]:
        """The lots to check, and whatever `also` names; beyond so many only those."""
        since = timezone.localdate() - timedelta(days=EMPTIED_WITHIN_DAYS) if self.emptied else None
        place = {"": None, counting.NOWHERE: ""}.get(self.place, self.place)
        lots = counting.lots_to_count(
            kind=self.kind, place=place, emptied_since=since, code=self.code, also=also
        )
        others = [lot.pk for lot in lots if lot.pk not in also]
        left_out = set(others[MOST_LOTS:])
        return [lot for lot in lots if lot.pk not in left_out]


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def new(request: HttpRequest) -> HttpResponse:
    selection, studio = Selection.of(request.GET), current_studio(request)
    if request.method != "POST":
        if not selection:
            return _choose(request)
        if selection.code and not counting.is_known(selection.code):
            return _choose(request, unknown=selection.code)
        today = timezone.localdate()
        sheet = CountSheet(studio=studio, lots=selection.lots(set()), counted_on=today)
        return _count(request, selection, sheet)
    sheet = CountSheet(studio=studio, lots=selection.lots(lots_typed(request.POST)), data=request.POST)
    if not sheet.is_valid():
        return _count(request, selection, sheet, status=422)
    step = request.POST.get("do")
    if step == "back":
        return _count(request, selection, sheet)
    form = sheet.form
    was_seen = form.cleaned_data["seen"] == sheet.what_was_seen or _is_repeat(request, sheet)
    if step != "post" or not was_seen:
        return _review(request, selection, sheet, changed=step == "post")
    made = saved(form, lambda: _post(request, sheet))
    if made is None:
        return _count(request, selection, sheet, status=422)
    n = len(sheet.counts)
    message = ngettext("Stocktake of {n} lot saved.", "Stocktake of {n} lots saved.", n, n=n)
    messages.success(request, message, extra_tags=selection.draft)
    return redirect("inventory:stocktake", pk=made.pk)


@require_safe
@role_required(*WORKERS)
def sheet_paper(request: HttpRequest) -> HttpResponse:
    """The sheet to count with, as PDF; what is expected is on it only where that is asked for."""
    selection, studio = Selection.of(request.GET), current_studio(request)
    paper = asked_paper(request)
    if paper is None or not selection:
        return redirect("inventory:stocktake-new")
    formatter = Formatter.of(studio)
    lines = stocktake_sheet(
        selection.lots(set()),
        formatter,
        where=selection.words,
        shows_expected=request.GET.get("expected") == "1",
    )
    frame = frame_for(studio, _("Stocktake sheet"), formatter.day(timezone.localdate()))
    return pdf_answer(draw_lines(lines, frame, paper=paper), "stocktake-sheet")


def _is_repeat(request: HttpRequest, sheet: CountSheet) -> bool:
    """Sent twice: the first went through and changed the books itself; the writer knows the request again."""
    return Posting.objects.filter(
        recorded_by=current_user(request), key=sheet.form.cleaned_data["key"]
    ).exists()


def _post(request: HttpRequest, sheet: CountSheet) -> Stocktake:
    typed = sheet.form.cleaned_data
    submission = submission_from(request, on=typed["counted_on"], key=typed["key"])
    return post_stocktake(counts=sheet.counts, notes=typed["notes"], submission=submission)


def _choose(request: HttpRequest, *, unknown: str = "") -> HttpResponse:
    context = {
        "unknown": unknown,
        "is_barcode": bool(same_gtins(unknown)),
        "places": counting.places(),
        "kinds": counting.kinds(),
        "steps": STEPS,
        "title": _("Stocktake"),
        "lead": _(
            "One shelf at a time. Any difference from the record is saved as a stocktake difference, and then "
            "both agree."
        ),
        "back_url": reverse(SECTION),
        "back_label": _("Stocktakes"),
        "section": SECTION,
    }
    return render(request, "stocktakes/choose.html", context, status=422 if unknown else 200)


def _count(
    request: HttpRequest, selection: Selection, sheet: CountSheet, *, status: int = 200
) -> HttpResponse:
    barcodes = counting.barcodes_of(row.lot for row in sheet.rows)
    for row in sheet.rows:
        row.barcodes = barcodes.get(row.lot.material_id, "")
    context = {
        "selection": selection,
        "sheet": sheet,
        "form": sheet.form,
        "paper_form": PaperForm.offered(
            current_studio(request),
            selection.words,
            *(text for row in sheet.rows for text in (row.lot.material.name, row.lot.place)),
            auto_id="paper_%s",
        ),
        "is_cut": len(sheet.rows) >= MOST_LOTS,
        "steps": STEPS,
        "days": EMPTIED_WITHIN_DAYS,
        "title": _("Stocktake: {shelf}", shelf=selection.words),
        "back_url": reverse("inventory:stocktake-new"),
        "back_label": _("Another shelf"),
        "section": SECTION,
    }
    return render(request, "stocktakes/count.html", context, status=status)


def _review(request: HttpRequest, selection: Selection, sheet: CountSheet, *, changed: bool) -> HttpResponse:
    lines = sheet.lines
    differing = [each for each in lines if each.line.difference]
    context = {
        "sheet": sheet,
        "table": StocktakeLineTable(differing, request),
        "agreeing": len(lines) - len(differing),
        "uncounted": len(sheet.rows) - len(lines),
        "money": sum(each.money for each in lines),
        "changed": changed,
        "steps": STEPS,
        "title": _("Check the stocktake"),
        "lead": selection.words,
        "section": SECTION,
    }
    return render(request, "stocktakes/review.html", context)


@require_safe
@role_required(*EVERYONE)
def stocktakes(request: HttpRequest) -> HttpResponse:
    in_lots = Entry.objects.filter(posting=OuterRef("posting"), place=Place.LOT).order_by().values("posting")
    rows = Stocktake.objects.select_related("posting__reversed_by").annotate(
        lot_count=Count("lines"),
        differing=Count("lines", filter=~Q(lines__counted=F("lines__expected"))),
        money=Coalesce(Subquery(in_lots.annotate(total=Sum("money")).values("total")), 0),
    )
    page_obj = page_of(request, rows.order_by("-counted_on", "-pk"), PER_PAGE)
    context = {
        "page_obj": page_obj,
        "back_url": reverse("inventory:stock"),
        "back_label": _("Stock"),
        "section": SECTION,
    }
    return list_page(request, "stocktakes/list.html", StocktakeTable(page_obj, request), context)


@require_safe
@role_required(*EVERYONE)
def stocktake(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(
        Stocktake.objects.select_related("posting__recorded_by", "posting__reversed_by"), pk=pk
    )
    in_lots = Entry.objects.filter(posting=row.posting_id, place=Place.LOT).order_by()
    money = dict(in_lots.values_list("lot_id").annotate(total=Sum("money")))
    lines = [
        ValuedLine(line, money.get(line.lot_id, 0)) for line in row.lines.select_related("lot__material")
    ]
    lines.sort(key=lambda each: not each.line.difference)
    reversal = getattr(row.posting, "reversed_by", None)
    day = Formatter.of(current_studio(request)).day(row.counted_on)
    context = {
        "stocktake": row,
        "lots": len(lines),
        "differing": sum(1 for each in lines if each.line.difference),
        "lost": sum(each.money for each in lines if each.money < 0),
        "gained": sum(each.money for each in lines if each.money > 0),
        "reversal": reversal,
        "may_reverse": current_user(request).may_write and row.posting is not None and reversal is None,
        "undo": (undo := undo_of(request, row.posting)),
        "changes": stock_changes(row.posting) if undo and row.posting else [],
        "title": _("Stocktake of {on}", on=day),
        "back_url": reverse(SECTION),
        "back_label": _("Stocktakes"),
        "section": SECTION,
    }
    return list_page(request, "stocktakes/detail.html", StocktakeLineTable(lines, request), context)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS, money=True)
def opening(request: HttpRequest) -> HttpResponse:
    form, lines, written = _opening_forms(request)
    posting = saved(form, lambda: _open(request, form, lines), lines=lines)
    if posting is not None:
        advice = _("Opening stock saved. Write each lot's number on its bottle.")
        messages.success(request, advice, extra_tags=OPENING_DRAFT)
        return redirect(f"{reverse('inventory:stock')}?saved={posting.number}")
    context = {
        "form": form,
        "formset": lines,
        "draft": OPENING_DRAFT,
        "written": written,
        "has_materials": lines.form_kwargs["new"].may_add or bool(lines.form_kwargs["materials"]),
        "send": _("Save opening stock"),
        "title": _("Opening stock"),
        "lead": _("What you already have, and what it cost when you bought it. Each line becomes a lot."),
        "back_url": reverse("inventory:stock"),
        "back_label": _("Stock"),
        "second_url": reverse("import-opening-stock"),
        "second_label": _("Import"),
        "second_icon": "delivery",
        "section": "inventory:stock",
    }
    return render(
        request, "stocktakes/opening.html", context, status=422 if form.is_bound or written.errors else 200
    )


def _opening_forms(request: HttpRequest) -> tuple[OpeningForm, Any, WrittenLinesForm]:
    """The day, the lines, and the text that lines are read from: a button of its own adds those to the rows."""
    studio, materials = current_studio(request), stocked_materials()
    may_add = current_user(request).is_owner
    data = request.POST if request.method == "POST" else None
    is_reading = data is not None and must_read(data)
    written = WrittenLinesForm(data if is_reading else None, studio=studio, currency=studio.currency)
    rows = None
    if is_reading:
        reader = WrittenRows(written, materials, studio.currency, may_add)
        rows = rows_so_far(
            request, written, reader.of_opening_stock, at_most=MOST_OPENING_LINES, untouched={}
        )
    day = request.POST.get("on") if is_reading else None
    form = OpeningForm(
        None if is_reading else data, studio=studio, initial={"on": day or timezone.localdate()}
    )
    lines = OpeningRows(
        None if is_reading else data,
        prefix="lines",
        initial=rows,
        spare=1 if rows else SPARE_OPENING_LINES,
        form_kwargs={
            "studio": studio,
            "materials": materials,
            "choices": by_kind(materials.values()),
            "new": NewMaterials(materials, may_add),
        },
    )
    return form, lines, written


def _open(request: HttpRequest, form: OpeningForm, lines: Any) -> Posting:
    submission = submission_from(request, on=form.cleaned_data["on"], key=form.cleaned_data["key"])
    return cast("NewMaterials", lines.form_kwargs["new"]).saving_first(
        lambda: open_stock(lines=[row.facts for row in lines.kept], submission=submission), submission
    )
