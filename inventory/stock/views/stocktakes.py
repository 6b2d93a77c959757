"""Counting the shelf: choose a shelf, count it, look the differences over, post."""

from dataclasses import dataclass
from datetime import timedelta
from urllib.parse import urlencode

from django.contrib import messages
from django.db.models import Count, F, Q, Sum
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.text import slugify
from django.utils.translation import gettext_lazy, pgettext_lazy
from django.views.decorators.http import require_http_methods, require_safe

from inventory.ledger.models import Entry, Lot, Place, Posting
from inventory.ledger.views.undo import undo_of
from inventory.materials.models import Kind
from inventory.stock import counting
from inventory.stock.actions.stocktakes import post_stocktake
from inventory.stock.forms.stocktakes import CountSheet, lots_said
from inventory.stock.models import Stocktake
from inventory.stock.tables import StocktakeLineRow, StocktakeLineTable, StocktakeRow, StocktakeTable
from studio.accounts.roles import EVERYONE, WORKERS, current_user, role_required
from studio.errors import MeniscusError
from studio.pages.submissions import submission_from
from studio.pages.tables import list_page, page_of
from studio.preferences.context import current_studio
from studio.translation import _, ngettext

PER_PAGE = 50
MOST_LOTS = 300
EMPTIED_WITHIN_DAYS = 30
STEPS = [gettext_lazy("Choose a shelf"), pgettext_lazy("verb", "Stocktake"), gettext_lazy("Check and save")]
NOWHERE = "-"


@dataclass(frozen=True, slots=True)
class Selection:
    """Which part of the shelf is counted, as the address says it."""

    kind: str
    place: str
    everything: bool
    emptied: bool

    @classmethod
    def of(cls, query: QueryDict) -> "Selection":
        kind = query.get("kind", "")
        return cls(
            kind if kind in Kind.values else "",
            query.get("place", "").strip()[:60],
            query.get("all") == "1",
            query.get("emptied") == "1",
        )

    def __bool__(self) -> bool:
        return bool(self.kind or self.place or self.everything)

    @property
    def words(self) -> str:
        where = _("No place recorded") if self.place == NOWHERE else self.place
        parts = [part for part in (where, str(Kind(self.kind).label) if self.kind else "") if part]
        return ", ".join(parts) or _("Everything")

    @property
    def draft(self) -> str:
        """The name under which a device keeps this unsent count."""
        return f"stocktake-{slugify(self.place)}-{self.kind}"

    @property
    def with_emptied(self) -> str:
        """The address of the same selection with bottles emptied lately, or without them."""
        said = {"kind": self.kind, "place": self.place, "all": "1" if self.everything else ""}
        return urlencode(
            {name: text for name, text in said.items() if text} | ({} if self.emptied else {"emptied": 1})
        )

    def lots(self, also: set[int]) -> list[Lot]:
        since = timezone.localdate() - timedelta(days=EMPTIED_WITHIN_DAYS) if self.emptied else None
        place = {"": None, NOWHERE: ""}.get(self.place, self.place)
        return counting.lots_to_count(kind=self.kind, place=place, emptied_since=since, also=also)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def new(request: HttpRequest) -> HttpResponse:
    asked, studio = Selection.of(request.GET), current_studio(request)
    if request.method != "POST":
        if not asked:
            return _choose(request)
        sheet = CountSheet(studio=studio, lots=asked.lots(set())[:MOST_LOTS], counted_on=timezone.localdate())
        return _count(request, asked, sheet)
    said = lots_said(request.POST)
    lots = asked.lots(said)
    formatter = [lot for lot in lots if lot.pk in said] + [lot for lot in lots if lot.pk not in said][
        :MOST_LOTS
    ]
    order = {lot.pk: position for position, lot in enumerate(lots)}
    sheet = CountSheet(
        studio=studio, lots=sorted(formatter, key=lambda lot: order[lot.pk]), data=request.POST
    )
    if not sheet.is_valid():
        return _count(request, asked, sheet, status=422)
    step = request.POST.get("do")
    if step == "back":
        return _count(request, asked, sheet)
    if step == "post" and (
        sheet.form.cleaned_data["seen"] == sheet.what_was_seen or _is_repeat(request, sheet)
    ):
        made = _post(request, asked, sheet)
        return (
            redirect("inventory:stocktake", pk=made.pk) if made else _count(request, asked, sheet, status=422)
        )
    return _review(request, asked, sheet, changed=step == "post")


def _is_repeat(request: HttpRequest, sheet: CountSheet) -> bool:
    """Sent twice: the first went through and changed the books itself; the writer knows the request again."""
    return Posting.objects.filter(
        recorded_by=current_user(request), key=sheet.form.cleaned_data["key"]
    ).exists()


def _choose(request: HttpRequest) -> HttpResponse:
    context = {
        "places": counting.places(),
        "kinds": [(Kind(shelf.name), shelf.lots) for shelf in counting.kinds()],
        "nowhere": NOWHERE,
        "steps": STEPS,
        "section": "inventory:stocktakes",
    }
    return render(request, "stocktakes/choose.html", context)


def _count(request: HttpRequest, asked: Selection, sheet: CountSheet, *, status: int = 200) -> HttpResponse:
    context = {
        "asked": asked,
        "sheet": sheet,
        "form": sheet.form,
        "is_cut": len(sheet.rows) >= MOST_LOTS,
        "steps": STEPS,
        "days": EMPTIED_WITHIN_DAYS,
        "section": "inventory:stocktakes",
    }
    return render(request, "stocktakes/count.html", context, status=status)


def _review(request: HttpRequest, asked: Selection, sheet: CountSheet, *, changed: bool) -> HttpResponse:
    found = sheet.differences
    differing = [item for item in found if item.quantity]
    context = {
        "asked": asked,
        "sheet": sheet,
        "form": sheet.form,
        "differing": differing,
        "table": StocktakeLineTable([StocktakeLineRow.of_difference(item) for item in differing], request),
        "agreeing": sum(1 for item in found if not item.quantity),
        "uncounted": len(sheet.rows) - len(found),
        "money": sum(item.money for item in found),
        "changed": changed,
        "steps": STEPS,
        "section": "inventory:stocktakes",
    }
    return render(request, "stocktakes/review.html", context)


def _post(request: HttpRequest, asked: Selection, sheet: CountSheet) -> Stocktake | None:
    """Post the count; a refusal goes onto the page."""
    said = sheet.form.cleaned_data
    try:
        made = post_stocktake(
            counts=sheet.counts,
            notes=said["notes"],
            submission=submission_from(request, on=said["counted_on"], key=said["key"]),
        )
    except MeniscusError as problem:
        sheet.refuse(problem)
        return None
    counted = len(sheet.counts)
    said_so = ngettext("Stocktake of {n} lot saved.", "Stocktake of {n} lots saved.", counted, n=counted)
    messages.success(request, said_so, extra_tags=asked.draft)
    return made


@require_safe
@role_required(*EVERYONE)
def stocktakes(request: HttpRequest) -> HttpResponse:
    chosen = (
        Stocktake.objects.select_related("posting__reversed_by")
        .annotate(
            counted=Count("lines"), differing=Count("lines", filter=~Q(lines__counted=F("lines__expected")))
        )
        .order_by("-counted_on", "-pk")
    )
    page_obj = page_of(request, chosen, PER_PAGE)
    money = dict(
        Entry.objects.filter(posting__in=[item.posting_id for item in page_obj], place=Place.LOT)
        .order_by()
        .values_list("posting_id")
        .annotate(total=Sum("money"))
    )
    rows = [
        StocktakeRow(item, item.counted, item.differing, money.get(item.posting_id, 0)) for item in page_obj
    ]
    context = {
        "page_obj": page_obj,
        "may_log": current_user(request).may_write,
        "section": "inventory:stocktakes",
    }
    return list_page(request, "stocktakes/list.html", StocktakeTable(rows, request), context)


@require_safe
@role_required(*EVERYONE)
def stocktake(request: HttpRequest, pk: int) -> HttpResponse:
    user = current_user(request)
    found = get_object_or_404(
        Stocktake.objects.select_related("posting__recorded_by", "posting__reversed_by"), pk=pk
    )
    money = dict(
        Entry.objects.filter(posting=found.posting_id, place=Place.LOT)
        .order_by()
        .values_list("lot_id")
        .annotate(total=Sum("money"))
    )
    lines = [
        StocktakeLineRow.of(line, money.get(line.lot_id, 0))
        for line in found.lines.select_related("lot__material")
    ]
    reversal = getattr(found.posting, "reversed_by", None)
    context = {
        "stocktake": found,
        "lots": len(lines),
        "differing": sum(1 for line in lines if line.difference),
        "lost": sum(line.money for line in lines if line.money < 0),
        "gained": sum(line.money for line in lines if line.money > 0),
        "reversal": reversal,
        "may_take_back": user.may_write and found.posting is not None and reversal is None,
        "undo": undo_of(request, found.posting),
        "section": "inventory:stocktakes",
    }
    lines.sort(key=lambda line: not line.difference)
    return list_page(request, "stocktakes/detail.html", StocktakeLineTable(lines, request), context)
