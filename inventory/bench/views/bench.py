"""The bench view: a plan carried out one step at a time, on a phone beside the scale."""

import hashlib
import json
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.bench.cautions import data_sheets
from inventory.bench.queries import Bench, open_bench
from inventory.bench.wording import BenchWords
from inventory.plans.models import Plan
from inventory.recipes.models import Mix
from studio.accounts.roles import WORKERS, role_required
from studio.errors import MeniscusError
from studio.preferences.context import current_studio
from studio.translation import _


@require_safe
@role_required(*WORKERS)
def bench(request: HttpRequest, pk: int) -> HttpResponse:
    """Every step of a plan, without costs. Without a bench the page still shows what a device holds of it."""
    plan = get_object_or_404(Plan.objects.with_lines(), pk=pk)
    studio = current_studio(request)
    context: dict[str, Any] = {
        "plan": plan,
        "section": "inventory:plans",
        "leftovers": Mix.Leftover.choices,
        "data_sheets": data_sheets(),
        "texts": json.dumps(_texts()),
    }
    try:
        shown = open_bench(plan, today=timezone.localdate())
    except MeniscusError as problem:
        context |= {"problem": str(problem), "screens": [], "document": json.dumps(_addresses(plan))}
    else:
        words = BenchWords(shown, studio)
        context |= {
            "screens": words.screens(),
            "document": json.dumps(_addresses(plan) | _document(words, shown)),
        }
    return render(request, "bench/page.html", context)


def _addresses(plan: Plan) -> dict[str, Any]:
    return {
        "plan": plan.pk,
        "name": plan.name,
        "url": reverse("api-benches-list"),
        "back": reverse("inventory:bench", args=[plan.pk]),
        "form": f"{reverse('inventory:session-new')}?plan={plan.pk}",
        "day": timezone.localdate().isoformat(),
    }


def _document(words: BenchWords, shown: Bench) -> dict[str, Any]:
    """What the script follows the touches with; its version tells a plan, or a shelf, that has changed since."""
    work = shown.work
    return {
        "work": work,
        "version": hashlib.sha256(json.dumps(work).encode()).hexdigest()[:16],
        "cups": [
            {
                "label": cup.label,
                "name": cup.material.name,
                "total": cup.total,
                "unit": "g" if cup.material.measure == "mass" else "mL",
                "isMixed": bool(cup.mixed) and not cup.is_jug,
            }
            for cup in shown.cups
        ],
        "splash": words.studio.splash_size,
        "comma": words.formatter.decimal_comma,
    }


def _texts() -> dict[str, str]:
    """What the script says, in the language of the page."""
    return {
        "step": _("Step {n} of {all}"),
        "kept": _("Kept on this device."),
        "away": _("No network. Every touch is kept on this device, and the session is sent later."),
        "insecure": _(
            "On this address the screen may go dark, and the page cannot be opened without a network. Every touch is "
            "still kept."
        ),
        "unkept": _("This browser keeps nothing on the device. Log the session from the plan instead."),
        "changed": _("Begun {time}, with the plan as it was then."),
        "poured": _("Poured"),
        "failed": _("Failed"),
        "spilled": _("{amount} of {cup} spilled"),
        "undo": _("Undo: {what}"),
        "left": _("Only {amount} left"),
        "none": _("None left"),
        "cancel": _("Cancel"),
        "empty": _("The cups are empty: leave this one out."),
        "done": _("{poured} poured, {failed} failed, {left} not poured"),
        "splash": _("A splash"),
        "quarter": _("A quarter"),
        "half": _("Half"),
        "all": _("All of it"),
        "minutes": _("{n} min"),
        "up": _("Time is up"),
        "start": _("Start"),
        "stop": _("Stop"),
        "waiting": _(
            "Waiting for the network. You may close this page: it is sent when Meniscus is next open here."
        ),
        "short": _("Not enough in stock"),
        "check": _("Please check these amounts"),
        "sent": _("The session is logged."),
    }
