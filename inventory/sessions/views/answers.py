"""The answer to a set in words and tables: to a question, and to a plan that is kept."""

from collections.abc import Iterable
from datetime import date
from typing import Any

from django.http import HttpRequest

from inventory.errors import UnknownDensity
from inventory.materials.forms.materials import DensitySampleForm, sample_forms
from inventory.materials.models import Material
from inventory.sessions.forms.from_plan import poured_straight
from inventory.sessions.queries.planning import Answer
from inventory.sessions.tables import ChoiceTable, NeedTable, RateTable
from studio.errors import MeniscusError
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _, ngettext
from studio.values.money import format_money


def described(request: HttpRequest, answer: Answer, formatter: Formatter, *, day: date) -> dict[str, Any]:
    """What the templates of stock_check/ say of an answer for a day."""
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
        "day": day,
        "needs": NeedTable([*answer.needs, *answer.made], request),
        "choices": _choices(request, answer),
        "samples": samples_for(request, unweighed_in(answer)),
        "rates": RateTable(answer.lines, request, without=[] if len(answer.lines) > 1 else ["most"]),
    }


def samples_for(request: HttpRequest, materials: Iterable[Material]) -> list[DensitySampleForm]:
    """Forms to weigh samples of what has no density, which lead back to this page."""
    unweighed = list(materials)
    if not unweighed:
        return []
    return sample_forms(unweighed, studio=current_studio(request), back=request.get_full_path())


def samples_without(request: HttpRequest, problem: MeniscusError) -> list[DensitySampleForm]:
    """The same for what kept a set from having an answer, if that was a density."""
    if not isinstance(problem, UnknownDensity):
        return []
    return samples_for(request, Material.objects.filter(pk=problem.material))


def unweighed_in(answer: Answer) -> list[Material]:
    """What goes into the cups of an answer and has no density."""
    return [item for cup in (*answer.mix_first, *answer.cups) for item in cup.unweighed]


def _choices(request: HttpRequest, answer: Answer) -> ChoiceTable | None:
    """What could be poured instead, where there is a choice."""
    if answer.is_enough or len(answer.lines) == 1:
        return None
    rows = answer.choices
    ways = ("most", "in_proportion", "filled", "in_order")
    totals = {way: sum(getattr(row, way) for row in rows) for way in ways}
    return ChoiceTable(rows, request, totals={"asked": answer.asked, **totals})


def _verdict(answer: Answer) -> tuple[str, str]:
    """Say yes or no, and how far the shelf goes where that is another number."""
    more = _("Stock is not a limit.")
    if len(answer.lines) == 1:
        (line,) = answer.lines
        count = line.line.count
        words = _enough(answer, _("Enough for {n}", n=count), _("Not enough for {n}", n=count))
        if line.most is not None:
            more = "" if answer.is_enough and line.most == count else _for_one(line.most)
    elif answer.is_enough:
        words = _("Enough for the whole set")
        if answer.most_sets is not None:
            more = "" if answer.most_sets == 1 else _for_all(answer.most_sets)
    else:
        words = _enough(answer, "", _("Not enough for the whole set"))
        more = _for_some(answer)
    if not answer.is_enough and all(need.short <= need.too_late for need in answer.needs):
        more += " " + _("The missing items are on order, but not expected by then.")
    return words, more


def _enough(answer: Answer, enough: str, not_enough: str) -> str:
    """The verdict: yes, yes but for the extra paint, or no."""
    if answer.is_enough:
        return enough
    return _("Enough without the extra paint") if answer.is_enough_without_extra else not_enough


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
