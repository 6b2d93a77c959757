"""Do I have enough for this set? Question and answer have one address; nothing is written."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.recipes.forms.choices import FormChoices
from inventory.sessions.forms.from_plan import poured_straight
from inventory.sessions.forms.stock_check import StockCheckForm
from inventory.sessions.queries.planning import Answer, plan_set
from inventory.sessions.tables import ChoiceTable, NeedTable, RateTable
from studio.accounts.roles import EVERYONE, current_user, role_required
from studio.errors import MeniscusError
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _, ngettext
from studio.values.money import format_money


@require_safe
@role_required(*EVERYONE)
def stock_check(request: HttpRequest) -> HttpResponse:
    user, today = current_user(request), timezone.localdate()
    asked = "surface" in request.GET
    form_choices = FormChoices(current_studio(request))
    form = (
        StockCheckForm.from_query(request.GET, form_choices=form_choices)
        if asked
        else StockCheckForm(form_choices=form_choices, initial=request.GET.dict())
    )
    answer = None
    if asked and form.is_valid():
        try:
            answer = plan_set(form.plan(), on=today)
        except MeniscusError as problem:
            form.refuse(problem)
    context = {
        "title": _("Do I have enough?"),
        "lead": _(
            "Enter what you plan to pour. Leftovers and home-made medium are used first. Nothing is saved."
        ),
        "form": form,
        "answer": answer,
        "today": today,
        "may_log": user.may_write,
        "question": request.GET.urlencode(),
        "section": "inventory:stock-check",
        **({} if answer is None else _described(request, answer, form.formatter)),
    }
    return render(request, "stock_check/page.html", context, status=422 if form.errors else 200)


def _described(request: HttpRequest, answer: Answer, formatter: Formatter) -> dict[str, object]:
    names = {need.material.pk: need.material for need in answer.needs}
    verdict, limit = _verdict(answer)
    return {
        "verdict": verdict,
        "limit": limit,
        "straight": poured_straight(answer).items(),
        "buy": [
            (names[buy.material], buy, format_money(buy.cost, buy.currency, locale=formatter.locale))
            for buy in answer.buy
        ],
        "short": sum(1 for need in answer.needs if need.short),
        "needs": NeedTable(answer.needs, request),
        "choices": _choices(request, answer),
        "rates": RateTable(answer.lines, request, without=[] if len(answer.lines) > 1 else ["most"]),
    }


def _choices(request: HttpRequest, answer: Answer) -> ChoiceTable | None:
    """What could be poured instead, where there is a choice."""
    if answer.is_enough or len(answer.lines) == 1:
        return None
    rows = answer.choices
    ways = ("most", "in_proportion", "filled", "in_order")
    totals = {way: sum(getattr(row, way) for row in rows) for way in ways}
    return ChoiceTable(rows, request, totals={"asked": answer.asked, **totals})


def _verdict(answer: Answer) -> tuple[str, str]:
    """Say yes or no, and how far the shelf goes."""
    if len(answer.lines) == 1:
        (line,) = answer.lines
        count = line.line.count
        words = _("Enough for {n}", n=count) if answer.is_enough else _("Not enough for {n}", n=count)
        limit = "" if line.most is None else _for_one(line.most)
    elif answer.is_enough:
        words = _("Enough for the whole set")
        limit = "" if answer.most_sets is None else _for_all(answer.most_sets)
    else:
        words, limit = _("Not enough for the whole set"), _for_some(answer)
    more = limit or _("Stock is not a limit.")
    if not answer.is_enough and all(need.short <= need.on_order for need in answer.needs):
        more += " " + _("The missing items are on order.")
    return words, more


def _for_one(most: int) -> str:
    return _("You have enough for {n}.", n=most) if most else _("Not enough for even one.")


def _for_all(most: int) -> str:
    return ngettext("You have enough for {n} such set.", "You have enough for {n} such sets.", most, n=most)


def _for_some(answer: Answer) -> str:
    """How many of the set's pours, whichever they are."""
    most, asked = answer.at_most.most, answer.asked
    if most.is_proven:
        return (
            _("You have enough for {n} of its {asked} pours.", n=most.total, asked=asked)
            if most.total
            else _("Not enough for even one.")
        )
    return _(
        "You have enough for at least {n}, and at most {bound}, of its {asked} pours.",
        n=most.total,
        bound=most.bound,
        asked=asked,
    )
