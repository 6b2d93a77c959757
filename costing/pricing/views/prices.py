"""The prices of many pieces on one page, and the studio's ways to a price."""

from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from costing.pieces.calculations import SELLABLE, State
from costing.pieces.models import Piece
from costing.pieces.queries import standing_pieces, with_colours, with_parts
from costing.pricing.actions import NewPrice, change_price_rules, set_prices
from costing.pricing.failures import counted_failures
from costing.pricing.forms.prices import FOR_SALE, PriceRulesForm, WhichForm, new_prices
from costing.pricing.methods import Method, Rules, changed_by
from costing.pricing.models import METHODS, PriceRules
from costing.pricing.price_sheet import Market, PricedPiece, price_sheet, usual_method
from costing.pricing.queries import NOT_ADVICE
from studio.accounts.roles import WORKERS, role_required
from studio.auditing.edit_conflicts import EditConflict
from studio.auditing.queries import last_change_number
from studio.errors import MeniscusError
from studio.pages.formsets import Rows
from studio.pages.reference import EditView
from studio.pages.saving import submission_from
from studio.pages.tables import page_of
from studio.preferences.context import current_studio
from studio.setup import menu as settings_menu
from studio.translation import _, ngettext, quoted

PER_PAGE = 10  # on a phone more are too long a way to the button


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS, money=True)
def prices(request: HttpRequest) -> HttpResponse:
    studio, market = current_studio(request), Market.on(timezone.localdate())
    which = WhichForm(request.GET or {}, studio=studio, channels=list(market.charges))
    asked: dict[str, Any] = which.cleaned_data if which.is_valid() else {}
    context = {
        "title": _("Prices"),
        "lead": _("What your pieces cost, what they must bring, and what you ask for them."),
        "which": which,
        "problems": market.problems,
        "section": "costing:prices",
    }
    if not market.charges:
        return render(request, "prices/page.html", context)
    channel = asked.get("channel") or next(iter(market.charges))
    page = page_of(request, with_parts(_chosen(asked)), PER_PAGE)
    with_colours(list(page))
    seen = last_change_number(Piece, *[piece.pk for piece in page])
    rules, usual = usual_method(timezone.localdate())
    way = asked.get("way") or ""
    rows = price_sheet(list(page), channel, market, rules=rules, method=Method(way) if way else usual)
    form = new_prices(
        request.POST or None,
        studio=studio,
        rows=rows,
        prices=_suggested(rows, way, asked, rules, market),
        seen=seen,
    )
    if form.is_bound and form.is_valid() and _saved(request, form, market):
        return redirect(_without_suggestions(request))
    context |= {
        "page_obj": page,
        "formset": form,
        "channel": channel,
        "way": METHODS[Method(way) if way else usual],
        "is_suggested": bool(way or asked.get("change")),
        "not_advice": _(NOT_ADVICE),
    }
    return render(request, "prices/page.html", context, status=422 if form.is_bound else 200)


def _without_suggestions(request: HttpRequest) -> str:
    """The same pieces with what was saved: suggestions anew would look unsaved, and the button would save them."""
    asked = request.GET.copy()
    for name in ("way", "change"):
        asked.pop(name, None)
    return f"{request.path}?{asked.urlencode()}"


def _chosen(asked: dict[str, Any]) -> Any:
    pieces = standing_pieces().order_by("series", "series_number", "title", "pk")
    states = [State.FOR_SALE] if asked.get("pieces") == FOR_SALE else SELLABLE
    pieces = pieces.filter(state__in=states)
    return pieces.filter(series=asked["series"]) if asked.get("series") else pieces


def _suggested(
    rows: Sequence[PricedPiece], way: str, asked: dict[str, Any], rules: Rules, market: Market
) -> dict[int, int | None]:
    """What stands in the fields to begin with: the suggestion, or today's price, and either changed as was asked."""
    change = asked.get("change")
    first: dict[int, int | None] = {}
    for row in rows:
        price = row.usual.price if way else row.piece.price
        if price is not None and change:
            price = changed_by(price, change, rules.ending, minor_unit=market.coin)
        first[row.piece.pk] = price
    return first


def _saved(request: HttpRequest, form: Rows, market: Market) -> bool:
    """Whether the prices were saved; otherwise each row says why not."""
    wanted = [
        NewPrice(row.row.piece, row.cleaned_data["price"], row.cleaned_data["seen"])
        for row in form.forms
        if row.row
    ]
    try:
        changed = set_prices(prices=wanted, submission=submission_from(request))
    except EditConflict as problem:
        for row in form.forms:
            if row.row and row.row.piece == problem.row:
                row.refuse(problem)
        return False
    except MeniscusError as problem:
        form.forms[0].refuse(problem)
        return False
    messages.success(
        request, ngettext("{count} price saved.", "{count} prices saved.", len(changed), count=len(changed))
    )
    _warn(request, form, market, changed)
    return True


def _warn(request: HttpRequest, form: Rows, market: Market, changed: Sequence[Piece]) -> None:
    """Say it loudly where a new price does not cover the cost."""
    costs = {row.row.piece.pk: row.row.to_cover.whole for row in form.forms if row.row}
    below = [piece.title for piece in changed if market.below_cost(piece.price or 0, costs[piece.pk])]
    if below:
        titles = ", ".join(quoted(title) for title in below)
        messages.warning(request, _("Below cost on at least one sales channel: {titles}.", titles=titles))


class PriceRulesEdit(EditView):
    model, form_class, template_name = PriceRules, PriceRulesForm, "prices/rules.html"
    list_name, list_label = "settings", gettext_lazy("Settings")
    section, can_delete = "settings", False
    action = staticmethod(change_price_rules)

    def get_object(self, queryset: Any = None) -> PriceRules:
        self.seen = last_change_number(PriceRules, 1)
        return PriceRules.current()  # nothing older than what was seen

    def title_of(self, row: Any) -> str:
        return _("Ways to a price")

    def message(self, row: Any) -> str:
        return _("The settings have been saved.")

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        counted = counted_failures(timezone.localdate())
        return super().get_context_data(**kwargs) | settings_menu.way_back() | {"counted": counted}
