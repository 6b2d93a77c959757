"""Do I have enough for this set? Question and answer have one address; nothing is written."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.materials.forms.materials import DensitySampleForm
from inventory.plans.queries import figures_for
from inventory.recipes.forms.choices import FormChoices
from inventory.sessions.forms.stock_check import StockCheckForm
from inventory.sessions.queries.planning import plan_set
from inventory.sessions.views.answers import described, samples_without
from inventory.shopping.queries import with_what_to_buy
from studio.accounts.roles import EVERYONE, current_user, role_required
from studio.errors import MeniscusError
from studio.preferences.context import current_studio
from studio.translation import _


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
    answer, day = None, today
    samples: list[DensitySampleForm] = []
    if asked and form.is_valid():
        day = max(form.cleaned_data["planned_on"] or today, today)
        try:
            plan = form.plan()
            answer = plan_set(plan, on=day, figures=figures_for(plan, on=day, today=today))
            answer = with_what_to_buy(answer, today, is_kept=False)
        except MeniscusError as problem:
            form.refuse(problem)
            samples = samples_without(request, problem)
    question = request.GET.urlencode()
    context = {
        "title": _("Do I have enough?"),
        "lead": _(
            "Enter what you plan to pour. Leftovers and home-made medium are used first. Nothing is saved."
        ),
        "form": form,
        "answer": answer,
        "samples": samples,
        "today": today,
        "may_log": user.may_write,
        "log_url": f"{reverse('inventory:session-new')}?{question}",
        "save_url": f"{reverse('inventory:plan-new')}?{question}",
        "order_url": reverse("inventory:order-new"),
        "change_url": "#ask",
        "its_set": question,
        "section": "inventory:stock-check",
        **({} if answer is None else described(request, answer, form.formatter, day=day)),
    }
    return render(request, "stock_check/page.html", context, status=422 if form.errors else 200)
