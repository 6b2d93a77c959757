"""Today: what needs the studio now."""

from datetime import date, timedelta
from pathlib import Path
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from costing.home.first_steps import FirstStep, first_steps, following
from costing.home.queries import deliveries_due, expiring, month_so_far, most_urgent, pictures, pieces_waiting
from costing.pieces.calculations import State
from costing.pieces.queries import pieces_by_state, pours_without_piece
from inventory.sessions.views.sessions import latest_session, repeat_url
from inventory.shopping.queries import how_many_to_buy
from inventory.stock.queries import expiring_lots
from studio.accounts.models import User
from studio.accounts.roles import EVERYONE, current_user, role_required
from studio.backups.actions import last_good_backup
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.setup import menu
from studio.translation import _

FIRST_PROGRAM = Path(__file__).with_name("first_program.txt")
AT_MOST = 6  # alerts, and pieces of each kind; the rest stand on their own pages
PICTURES = 6
DAYS_AHEAD = 14
BACKUP_DAYS = 7  # older than this, the last backup is a reason to make one (common practice, no source)


@require_safe
@role_required(*EVERYONE)
def home(request: HttpRequest) -> HttpResponse:
    user, studio, today = current_user(request), current_studio(request), timezone.localdate()
    formatter = Formatter.of(studio)
    lots, counts, session = expiring_lots(today, DAYS_AHEAD), pieces_by_state(), latest_session()
    shown, is_month = pictures(today, at_most=PICTURES)
    context: dict[str, Any] = {
        "title": _("Today"),
        "lead": formatter.day(today),
        "today": today,
        "steps": _steps(user, first_steps(studio)),
        "waiting": pieces_waiting(today, studio, at_most=AT_MOST),
        "alerts": most_urgent(user, today, formatter, at_most=AT_MOST),
        "to_buy": how_many_to_buy(today),
        "orders": deliveries_due(today, formatter),
        "lots": expiring(lots, formatter, with_money=user.sees_money),
        "lots_value": sum(lot.money for lot in lots),
        "counts": counts,
        "pictures": shown,
        "pictures_of_month": is_month,
        "unfinished": counts.get(State.WET, 0) + counts.get(State.DRY, 0),
        "loose_pours": pours_without_piece().count(),
        "session": session,
        "repeat": repeat_url(session),
    }
    if user.sees_money:
        context["month"] = month_so_far(today, studio)
    if user.is_owner:
        context |= _backup(today)
    return render(request, "home/today.html", context)


def _steps(user: User, steps: list[FirstStep]) -> list[dict[str, Any]]:
    """First steps with a link where this person may take them; the next one stands out."""
    following_step = following(steps)
    return [
        {"step": step, "is_next": step is following_step, "may_go": step.is_open_to(user)} for step in steps
    ]


def _backup(today: date) -> dict[str, Any]:
    last = last_good_backup()
    is_old = last is None or timezone.localdate(last.made_at) < today - timedelta(days=BACKUP_DAYS)
    return {"backup": last, "backup_is_old": is_old}


@require_safe
@role_required(*EVERYONE)
def first_program(request: HttpRequest) -> HttpResponse:
    """A program for newcomers to the API, as it can be copied and run."""
    context = {
        "title": _("Start with the API"),
        "lead": _("For programs that do what you do on the pages."),
        "program": FIRST_PROGRAM.read_text(encoding="utf-8"),
        "site": f"{request.scheme}://{request.get_host()}",
        **(menu.way_back() if current_user(request).is_owner else {}),
    }
    return render(request, "home/first_program.html", context)
