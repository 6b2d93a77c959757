"""Logging a session: empty, from a plan or as an earlier one was; worked out while one types; and posted."""

from collections.abc import Callable, Mapping
from functools import partial
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from inventory.plans.actions import pour_plan
from inventory.plans.models import Plan
from inventory.plans.queries import answer_of
from inventory.recipes.actions.ratios import mix_by_ratio
from inventory.recipes.forms.by_ratio import BUTTON, CupsByRatioForm, applied
from inventory.recipes.forms.choices import FormChoices
from inventory.recipes.forms.samples import DO, save_samples
from inventory.sessions.actions.sessions import SessionFacts, log_session
from inventory.sessions.forms.draft import FormRows, SessionDraft
from inventory.sessions.forms.figures import show_figures
from inventory.sessions.forms.from_plan import NO_LOTS, Done, RowsFromPlan
from inventory.sessions.forms.from_session import RowsFromSession
from inventory.sessions.forms.stock_check import StockCheckForm
from inventory.sessions.models import Session
from inventory.sessions.queries.planning import Answer, plan_set
from inventory.sessions.queries.session_costs import account_of
from inventory.sessions.queries.sets import kept_sets
from inventory.sessions.views.photos import keep_photos
from inventory.sessions.views.sessions import latest_session, repeat_url
from studio.accounts.roles import WORKERS, current_user, role_required
from studio.errors import MeniscusError
from studio.pages.saving import submission_from
from studio.preferences.context import current_studio
from studio.translation import _, ngettext
from studio.values.numbers import read_small_whole

DRAFT_KEY = "session-new"
MOST_LABELS = 12  # own choice: three lines on a phone
MOST_SETS = 6  # own choice: as many as a thumb finds without searching


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def new(request: HttpRequest) -> HttpResponse:
    form_choices = _form_choices(request)
    if request.method != "POST":
        return _page(request, *_first(request, form_choices))
    if request.POST.get("do") == DO:
        save_samples(request)
    by_ratio = CupsByRatioForm(request.POST, form_choices=form_choices)
    # Paints that are ticked are not passed over.
    button = BUTTON if by_ratio.says_something else request.POST.get("do", "")
    if button:
        return _filled_in(request, by_ratio, button)
    draft = SessionDraft.sent(request.POST, request.FILES, form_choices=form_choices)
    facts = draft.facts
    session = _log(request, draft, facts) if facts is not None else None
    if session is None:
        return _page(request, draft, status=422)
    keep_photos(request, session, draft.photos)
    return redirect("inventory:session", pk=session.pk)


def _filled_in(request: HttpRequest, by_ratio: CupsByRatioForm, button: str) -> HttpResponse:
    """The page as it was sent, with what a button asked for: the parts worked out, a row more, or cups by a ratio."""
    cups = _cups_by_ratio(request, by_ratio) if button == BUTTON else None
    # Recipes that a ratio has just made are read anew.
    form_choices = _form_choices(request) if cups else by_ratio.form_choices
    draft = SessionDraft.typed(request.POST, form_choices=form_choices, button=button, cups=cups or ())
    draft.show_new_parts(button in ("parts", "figures", DO))
    show_figures(draft, today=timezone.localdate())
    if button == BUTTON:
        by_ratio = by_ratio if cups is None else by_ratio.again(form_choices)
    return _page(request, draft, by_ratio=by_ratio if button == BUTTON else None)


def _cups_by_ratio(request: HttpRequest, form: CupsByRatioForm) -> list[dict[str, Any]] | None:
    """A cup for each ticked paint in each ticked medium; None where something must be put right upon the form."""
    use = applied(form)
    if use is None:
        return None
    try:
        mixed = mix_by_ratio(use=use, submission=submission_from(request))
    except MeniscusError as problem:
        form.refuse(problem)
        return None
    n = len(mixed)
    words = ngettext("{n} cup added.", "{n} cups added.", n, n=n)
    messages.success(request, words)
    wanted = form.cleaned_data["wanted"]
    return [{"contents": f"r{each.recipe.pk}", "wanted": wanted} for each in mixed]


@require_POST
@role_required(*WORKERS)
def figures(request: HttpRequest) -> HttpResponse:
    """What the session as typed so far would cost and leave on the shelf: a fragment for each row. Writes nothing."""
    form_choices = _form_choices(request)
    draft = SessionDraft.typed(request.POST, form_choices=form_choices)
    show_figures(draft, today=timezone.localdate())
    return render(request, "sessions/figures.html", {"draft": draft})


def _form_choices(request: HttpRequest) -> FormChoices:
    """What can be chosen; for a plan's session, by the recipe versions that the plan keeps to."""
    plan, studio = _kept_plan(request), current_studio(request)
    may_add = current_user(request).is_owner
    if plan is None:
        return FormChoices(studio, may_add=may_add)
    return FormChoices(studio, versions=plan.kept_versions, also=plan.named_materials, may_add=may_add)


def _first(request: HttpRequest, form_choices: FormChoices) -> tuple[SessionDraft, dict[str, Any]]:
    """An empty page, an earlier session written in again as ?repeat=…, or a plan by its own question."""
    day: dict[str, Any] = {"held_on": timezone.localdate()}
    rows: FormRows = {}
    source: dict[str, Any] = {}
    if "repeat" in request.GET:
        earlier = get_object_or_404(Session, pk=read_small_whole(request.GET["repeat"]))
        repeated = RowsFromSession(account_of(earlier), form_choices)
        day, rows = day | repeated.day(), repeated.rows()
        source = {"repeated": earlier, "newer": repeated.newer_recipes()}
    elif plan := _kept_plan(request):
        lots = {lot.material_id: lot.pk for lot in plan.kept_lots}
        ask, done = partial(answer_of, plan, today=day["held_on"]), _done(request)
        rows = _rows_of(request, ask, form_choices, lots=lots, done=done)
        day |= {"title": plan.name, "held_on": min(plan.planned_on, day["held_on"])}
        source = {"plan": reverse("inventory:plan", args=[plan.pk])}
    elif "surface" in request.GET and (planned := _planned(request, form_choices)):
        rows, source = planned, {"plan": f"{reverse('inventory:stock-check')}?{request.GET.urlencode()}"}
    return SessionDraft.filled(form_choices=form_choices, day=day, rows=rows), source


def _planned(request: HttpRequest, form_choices: FormChoices) -> FormRows:
    """The plan that was asked about, worked out again by the shelf as it stands now."""
    form = StockCheckForm.from_query(request.GET, form_choices=form_choices)
    if not form.is_valid():
        messages.warning(request, _("That plan cannot be read. Enter it again under “Do I have enough?”."))
        return {}
    return _rows_of(request, lambda: plan_set(form.plan(), on=timezone.localdate()), form_choices)


def _done(request: HttpRequest) -> list[tuple[int, int]]:
    """What was poured of each line of a plan, and what of that failed, in ?done=4.1,6.0 as the bench writes it."""
    pairs = [pair.split(".") for pair in request.GET.get("done", "").split(",")]
    counts = [tuple(read_small_whole(text) for text in pair) for pair in pairs]
    known = [(pair[0], pair[1]) for pair in counts if len(pair) == 2]
    return [(poured, failed) for poured, failed in known if poured is not None and failed is not None]


def _rows_of(
    request: HttpRequest,
    ask: Callable[[], Answer],
    form_choices: FormChoices,
    *,
    lots: Mapping[int, int] = NO_LOTS,
    done: Done = (),
) -> FormRows:
    """What a plan's answer comes to in cups and pours; a message says what keeps it from having one."""
    try:
        answer = ask()
    except MeniscusError as problem:
        messages.warning(request, str(problem))
        return {}
    planned = RowsFromPlan(answer, form_choices, lots=lots, done=done)
    if planned.left_out:
        names = ", ".join(planned.left_out)
        messages.warning(
            request, _("There is no room here for {names}. Log these as separate batches.", names=names)
        )
    return planned.rows()


def _kept_plan(request: HttpRequest) -> Plan | None:
    """The plan in ?plan=…, which becomes this session. It stays in the address when the form is sent."""
    if "plan" not in request.GET:
        return None
    return get_object_or_404(Plan.objects.with_lines(), pk=read_small_whole(request.GET["plan"]))


def _log(request: HttpRequest, draft: SessionDraft, facts: SessionFacts) -> Session | None:
    """Post the session; a refusal goes onto the page."""
    cleaned = draft.form.cleaned_data
    plan = _kept_plan(request)
    log = log_session if plan is None else partial(pour_plan, plan=plan)
    submission = submission_from(request, key=cleaned["key"], confirmed=draft.form.confirmations)
    try:
        session = draft.form_choices.new_surfaces.saving_first(
            lambda: log(facts=facts, confirm_gain=cleaned["confirm_gain"], submission=submission), submission
        )
    except MeniscusError as problem:
        draft.refuse(problem)
        return None
    messages.success(request, _saved_words(session), extra_tags=DRAFT_KEY)
    return session


def _saved_words(session: Session) -> str:
    """With the labels while they can be taken in: on a phone their table is screens further down."""
    labels = [pour.label for pour in session.pours.order_by("number")]
    if not labels:
        return _("Session saved.")
    if len(labels) > MOST_LABELS:
        return _("Session saved. Write each label on the back of its surface.")
    return ngettext(
        "Session saved. Write {labels} on the back.",
        "Session saved. Write these on the backs: {labels}.",
        len(labels),
        labels=", ".join(labels),
    )


def _page(
    request: HttpRequest,
    draft: SessionDraft,
    source: dict[str, Any] | None = None,
    *,
    by_ratio: CupsByRatioForm | None = None,
    status: int = 200,
) -> HttpResponse:
    """`source` says what a page that was not sent yet is filled from; `by_ratio` what was applied or is wrong."""
    is_under_way = bool(source) or request.method == "POST"
    context = {
        "title": _("Log a session"),
        "lead": ""
        if is_under_way
        else _("Record what you mixed, poured and have left. Everything is saved together."),
        "back_url": reverse("inventory:sessions"),
        "back_label": _("Sessions"),
        "draft": draft,
        "by_ratio": by_ratio or CupsByRatioForm(form_choices=draft.form_choices),
        "draft_key": DRAFT_KEY,
        "is_filled": bool(source),
        "repeat": repeat_url(latest_session()),
        "sets": [{"name": each.set_name, "repeat": f"?repeat={each.pk}"} for each in kept_sets()[:MOST_SETS]],
        "section": "inventory:sessions",
        **(source or {}),
    }
    return render(request, "sessions/new.html", context, status=status)
