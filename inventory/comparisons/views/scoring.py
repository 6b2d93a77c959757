"""Scoring, one piece a page: made for a phone in a gloved hand. Sent twice, the second time changes nothing."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from inventory.comparisons.actions.scoring import record_scores
from inventory.comparisons.forms.scoring import ScoreForm
from inventory.comparisons.models import ComparedPour, Comparison, Criterion
from inventory.comparisons.queries.counting import outcome_of, standing_counts
from inventory.comparisons.queries.photos import photo_key, photos_of
from inventory.comparisons.queries.progress import in_turn, latest_scores, missing_scores
from inventory.comparisons.queries.wording import count_words
from inventory.sessions.models import Stage
from studio.accounts.models import User
from studio.accounts.roles import WORKERS, role_required
from studio.pages.saving import form_status, saved, submission_from
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.numbers import read_small_whole


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def score(request: HttpRequest, pk: int) -> HttpResponse:
    comparison = get_object_or_404(Comparison.objects.prefetch_related("criteria", "judges"), pk=pk)
    stage, judge = round_of(request, comparison)
    order = in_turn(comparison, stage)
    waiting = _waiting(comparison, stage, judge)
    compared = _chosen(request, order, waiting)
    if compared is None or comparison.is_finished:
        return redirect("inventory:comparison", pk=pk)
    form = _form(request, comparison, compared, stage, judge)
    submission = submission_from(request)
    recorded = saved(
        form,
        lambda: record_scores(
            compared=compared, stage=stage, judge=judge, values=form.values, submission=submission
        ),
    )
    if recorded is not None:
        return go_on(request, compared, stage, judge)
    context = {
        "comparison": comparison,
        "compared": compared,
        "form": form,
        "stage": stage,
        "judge": judge,
        "label": compared.name(stage),
        "photos": [photo_key(photo) for photo in photos_of(compared, stage)],
        "counts": _counts(request, compared, stage, judge),
        "pieces": [(each.pk, each.name(stage), each.pk not in waiting) for each in order],
        "done": len(order) - len(waiting),
        "title": _("Score: {comparison}", comparison=comparison),
        "back_url": reverse("inventory:comparison", args=[pk]),
        "back_label": comparison,
        "section": "inventory:comparisons",
    }
    return render(request, "comparisons/score.html", context, status=form_status(form))


def go_on(request: HttpRequest, compared: ComparedPour, stage: Stage, judge: User) -> HttpResponse:
    """To what is still to be counted of this piece; else to the next piece; else back to the comparison."""
    comparison, here = compared.comparison, f"?stage={stage}&judge={judge.pk}"
    to_count = _to_count(compared, stage, judge)
    if to_count is not None:
        count = reverse("inventory:comparison-piece-count", args=[compared.pk])
        return redirect(f"{count}{here}&criterion={to_count.pk}")
    if _waiting(comparison, stage, judge):
        return redirect(reverse("inventory:comparison-score", args=[comparison.pk]) + here)
    messages.success(request, _("All pieces are scored. Thank you."))
    return redirect("inventory:comparison", pk=comparison.pk)


def round_of(request: HttpRequest, comparison: Comparison) -> tuple[Stage, User]:
    """Which stage and judge the address names; the first ones where it names none."""
    stages = {stage.value: stage for stage in comparison.stages}
    stage = stages.get(request.GET.get("stage", ""), comparison.stages[0])
    judges = {judge.pk: judge for judge in comparison.judges.all()}
    judge = judges.get(read_small_whole(request.GET.get("judge", "")) or 0) or next(
        iter(judges.values()), None
    )
    if judge is None:
        raise Http404
    return stage, judge


def _waiting(comparison: Comparison, stage: Stage, judge: User) -> set[int]:
    """The pours that this judge has not scored by every criterion."""
    return {
        pour
        for pour, _criterion, when, who in missing_scores(comparison)
        if (when, who) == (stage.value, judge.pk)
    }


def _chosen(request: HttpRequest, order: list[ComparedPour], waiting: set[int]) -> ComparedPour | None:
    """The pour that the address names, else the next one in turn, else the first to look at again."""
    wanted = read_small_whole(request.GET.get("pour", ""))
    return (
        next((each for each in order if each.pk == wanted), None)
        or next((each for each in order if each.pk in waiting), None)
        or next(iter(order), None)
    )


def _form(
    request: HttpRequest, comparison: Comparison, compared: ComparedPour, stage: Stage, judge: User
) -> ScoreForm:
    criteria: list[Criterion] = list(comparison.criteria.all())
    scores = latest_scores(comparison, pours=[compared.pk])
    first = {
        f"criterion_{criterion}": row.value
        for (_pour, criterion, when, who), row in scores.items()
        if (when, who) == (stage.value, judge.pk)
    }
    data = request.POST if request.method == "POST" else None
    return ScoreForm(data, studio=current_studio(request), criteria=criteria, initial=first)


def _to_count(compared: ComparedPour, stage: Stage, judge: User) -> Criterion | None:
    """The first criterion of this pour that is still to be counted on a photo."""
    missing = {
        criterion
        for pour, criterion, when, who in missing_scores(compared.comparison)
        if (pour, when, who) == (compared.pk, stage.value, judge.pk)
    }
    criteria = compared.comparison.criteria.all()
    return next((each for each in criteria if each.is_on_photo and each.pk in missing), None)


def _counts(
    request: HttpRequest, compared: ComparedPour, stage: Stage, judge: User
) -> list[tuple[Criterion, int | None, str]]:
    """Each criterion that is counted on a photo, with the count that stands and what it came to."""
    formatter = Formatter.of(current_studio(request))
    standing = standing_counts(compared, stage, judge.pk)
    return [
        (each, standing[each.pk].pk, count_words(outcome_of(standing[each.pk]), formatter))
        if each.pk in standing
        else (each, None, "")
        for each in compared.comparison.criteria.all()
        if each.is_on_photo
    ]
