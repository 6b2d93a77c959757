"""The report of a comparison and the recipes of its arms, as PDF and as text."""

from collections.abc import Callable, Sequence

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_safe

from inventory.comparisons.models import Comparison
from inventory.comparisons.papers import Section, draw_sections
from inventory.comparisons.queries.photos import photo_rows
from inventory.comparisons.queries.recipe_sheet import ArmRecipe, recipes_of
from inventory.comparisons.queries.results import ArmResult, results_of
from inventory.comparisons.tables import drying_words, failure_words
from inventory.comparisons.views.shown_results import ShownResults
from inventory.sessions.models import SessionPhoto
from studio.accounts.roles import EVERYONE, current_user, role_required
from studio.pages.languages import for_customers
from studio.pages.papers import asked_paper, pdf_answer
from studio.papers.frame import PageFrame, Paper
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.preferences.frames import frame_for
from studio.translation import _

MOST_PHOTOS_AN_ARM = 6  # wet, and as many dry
MEASURE_WIDTH, BETTER_WIDTH, AGREED_WIDTH = 0.22, 0.3, 0.16
CUP_COLUMNS = (0.24, 0.48, 0.16, 0.12)


@require_safe
@role_required(*EVERYONE)
def report(request: HttpRequest, pk: int) -> HttpResponse:
    """One page: how fair it was, what came of it, what the scores show. Money only for those who may see it."""

    def draw(comparison: Comparison, paper: Paper) -> HttpResponse:
        formatter = Formatter.of(current_studio(request))
        shown = ShownResults(results_of(comparison), formatter)
        sections = _report(shown, sees_money=current_user(request).sees_money)
        sections += _photos(comparison)
        note = _("What differs on purpose: {what}.", what=comparison.get_varied_display())
        return _pdf(
            "comparison", comparison, draw_sections(sections, _frame(request, comparison, note), paper=paper)
        )

    return _printed(request, pk, draw)


@require_safe
@role_required(*EVERYONE)
@for_customers
def recipes(request: HttpRequest, pk: int) -> HttpResponse:
    """How each arm was mixed and poured, without costs."""

    def draw(comparison: Comparison, paper: Paper) -> HttpResponse:
        arms = recipes_of(comparison, Formatter.of(current_studio(request)))
        sections = [Section(arm.name, arm.sentences, _cup_table(arm), widths=CUP_COLUMNS) for arm in arms]
        frame = _frame(request, comparison, _("Recipes"))
        return _pdf("recipes", comparison, draw_sections(sections, frame, paper=paper))

    return _printed(request, pk, draw)


@require_safe
@role_required(*EVERYONE)
@for_customers
def recipes_text(request: HttpRequest, pk: int) -> HttpResponse:
    """The same as text, to paste where it is published."""

    def write(comparison: Comparison) -> HttpResponse:
        lines = [comparison.name, ""]
        for arm in recipes_of(comparison, Formatter.of(current_studio(request))):
            lines += [arm.name, *arm.sentences]
            lines += [
                _(
                    "{cup}: {parts}; {share} of the pour, {water} water",
                    cup=cup,
                    parts=parts,
                    share=share,
                    water=water,
                )
                for cup, parts, share, water in arm.cups
            ]
            lines.append("")
        return HttpResponse("\n".join(lines), content_type="text/plain; charset=utf-8")

    return _open_only(request, pk, write)


def _printed(
    request: HttpRequest, pk: int, draw: Callable[[Comparison, Paper], HttpResponse]
) -> HttpResponse:
    """It on the paper that the address asks for; back to the page where there is none such."""
    paper = asked_paper(request)
    if paper is None:
        return redirect("inventory:comparison", pk=pk)
    return _open_only(request, pk, lambda comparison: draw(comparison, paper))


def _open_only(request: HttpRequest, pk: int, answer: Callable[[Comparison], HttpResponse]) -> HttpResponse:
    """A paper of a blind comparison waits until it is finished: it tells of the arms."""
    comparison = get_object_or_404(Comparison, pk=pk)
    if comparison.shows_arms:
        return answer(comparison)
    messages.error(request, _("The arms are hidden until this comparison is finished."))
    return redirect("inventory:comparison", pk=pk)


def _frame(request: HttpRequest, comparison: Comparison, note: str) -> PageFrame:
    studio = current_studio(request)
    day = Formatter.of(studio).day(comparison.started_on)
    advice = _("Follow the label and safety data sheet of each product, and your local rules.")
    return frame_for(studio, comparison.name, day, note, advice)


def _pdf(name: str, comparison: Comparison, content: bytes) -> HttpResponse:
    return pdf_answer(content, f"{name}-{comparison.pk}")


def _report(shown: ShownResults, *, sees_money: bool) -> list[Section]:
    fairness = [shown.opened, shown.fairness, *shown.other, shown.missing, shown.other_sessions, *shown.notes]
    fairness += [f"{label}: {reason}" for label, reason in shown.left_out]
    return [
        Section(_("Was it fair?"), [text for text in fairness if text]),
        Section(_("What the scores show"), _statements(shown), shown.in_short, widths=_score_widths(shown)),
        Section(_("What came of each arm"), (), _arm_table(shown, sees_money=sees_money)),
        *_sizes(shown),
    ]


def _score_widths(shown: ShownResults) -> list[float]:
    """Shares of the page for the columns of `in_short`: words beside figures."""
    beside = ([BETTER_WIDTH] if len(shown.arms) == 2 else []) + ([AGREED_WIDTH] if shown.agreements else [])
    each = (1 - MEASURE_WIDTH - sum(beside)) / len(shown.arms)
    return [MEASURE_WIDTH, *[each] * len(shown.arms), *beside]


def _statements(shown: ShownResults) -> list[str]:
    """What the table of figures cannot say, and how to read it."""
    has_two = len(shown.arms) == 2
    sentences = [shown.plan]
    sentences += [
        f"{each.label}: {each.text}" for each in shown.statements if not (has_two and each.is_said_by_share)
    ]
    if waiting := ", ".join(shown.waiting):
        sentences.append(_("Not judged, because scores are missing: {criteria}.", criteria=waiting))
    if has_two and any(each.is_said_by_share for each in shown.statements):
        sentences.append(_("In brackets: how often equally good arms differ as much by chance."))
    if shown.agreements:
        sentences.append(
            _(
                "Judges agree from 0 (not at all) to 1 (fully), as Kendall's W. It shows that the pieces differ, not "
                "that the arms do."
            )
        )
    return [text for text in sentences if text]


def _sizes(shown: ShownResults) -> list[Section]:
    """How large what was counted on photos is; how many there were stands beside the scores."""
    if not shown.counted:
        return []
    rows = [
        [label, *(sizes for _arm, _figure, sizes in cells)]
        for label, cells in shown.counted
        if any(sizes for _arm, _figure, sizes in cells)
    ]
    units = "; ".join(label for label, _cells in shown.counted)
    note = _(
        "{counted}: mean ± standard error of counting, in four windows of each piece drawn by lot.",
        counted=units,
    )
    return [Section(_("Counted on photos"), [note], [["", *shown.arms], *rows] if rows else ())]


def _arm_table(shown: ShownResults, *, sees_money: bool) -> list[list[str]]:
    """A row for each fact that there is anything to say of, a column for each arm."""
    formatter, arms = shown.formatter, shown.results.arms
    rows = [["", *shown.arms]]
    facts: list[tuple[str, Callable[[ArmResult], str]]] = [
        (_("Good pours"), lambda arm: _("{n} of {all}", n=arm.good, all=len(arm.pours))),
        (_("Failed"), lambda arm: f"{len(arm.failed)} {failure_words(arm)}".strip() if arm.failed else ""),
        (_("Not judged yet"), lambda arm: str(arm.not_judged or "")),
        (_("Flaws"), lambda arm: ", ".join(f"{name} ({n})" for name, n in arm.flaws)),
        (_("Days until judged dry"), drying_words),
        (_("Run-off"), lambda arm: "" if arm.run_off_share is None else formatter.percent(arm.run_off_share)),
        (_("Minutes a pour"), lambda arm: "" if arm.minutes_each is None else str(arm.minutes_each)),
    ]
    if sees_money:
        facts.append(
            (
                _("Cost per good pour"),
                lambda arm: "" if arm.cost_per_good_pour is None else formatter.money(arm.cost_per_good_pour),
            )
        )
    written = ([label, *(words(arm) for arm in arms)] for label, words in facts)
    return rows + [row for row in written if any(row[1:])]


def _photos(comparison: Comparison) -> list[Section]:
    """The photos of each arm, wet and dry in one row."""
    arms: dict[str, list[tuple[bytes, str]]] = {}
    for row in photo_rows(comparison):
        arms.setdefault(row.heading, []).extend(
            (content, f"{each.label}, {row.stage.label.lower()}")
            for each in row.photos[:MOST_PHOTOS_AN_ARM]
            if (content := _content(each.photo)) is not None
        )
    return [Section(heading, photos=photos) for heading, photos in arms.items() if photos]


def _content(photo: SessionPhoto) -> bytes | None:
    """The thumbnail's bytes; the paper is printed without a photo that has gone from the disk."""
    try:
        with photo.thumbnail.open("rb") as file:
            return bytes(file.read())
    except OSError:
        return None


def _cup_table(arm: ArmRecipe) -> Sequence[Sequence[str]]:
    head = (_("Cup"), _("Parts per 1 of paint"), _("Share of the pour"), _("Water"))
    return [head, *arm.cups] if arm.cups else ()
