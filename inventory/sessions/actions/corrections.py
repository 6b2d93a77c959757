"""Correcting a session that was logged: what was mixed, poured and worked is put right in one posting.

Facts that she leaves as they were keep the lots that were drawn. What is less goes back to the lot that it came from
last; what is more comes from the bottle in use. What that changes in pieces, sales and losses follows by itself.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from django.db import transaction
from django.db.models import Q

from inventory.errors import InventoryError
from inventory.ledger.effects import Effect, effects_of_posting
from inventory.ledger.models import Entry, Place, Posting, PostingKind
from inventory.ledger.posting import LockedLedger, PostingDraft, open_ledger
from inventory.recipes.actions import mixes
from inventory.recipes.models import Mix
from inventory.sessions.actions.judging import judge_when_corrected, judge_when_logged
from inventory.sessions.actions.session_targets import SessionTargets
from inventory.sessions.actions.sessions import (
    PourFacts,
    SessionFacts,
    add_mixes,
    add_pours,
    columns_of,
    materials_of,
    move_all,
    poured_volume,
    refuse_covered_before,
)
from inventory.sessions.actions.weighings import add_weighings
from inventory.sessions.models import Pour, Session
from inventory.sessions.queries.session_costs import OF_THE_SESSION
from inventory.sessions.questions import questions_about_session
from inventory.sessions.work_costs import WorkChange, work_changes, work_costs
from inventory.stock.actions import gains
from studio.auditing.edit_conflicts import refuse_stale
from studio.errors import InputError, NeedsConfirmation, Question
from studio.submission import Submission
from studio.translation import _

DAY_FIELDS = ("title", "minutes", "temperature", "humidity", "notes")
Guard = Callable[[Sequence[Pour]], str]

_guards: list[Guard] = []


@dataclass(frozen=True, slots=True)
class CorrectionPreview:
    """What a correction would change: in the accounts of the ledger, and in the labour and overhead of pieces."""

    effects: Sequence[Effect]
    work: Sequence[WorkChange]


def register_guard(guard: Guard) -> None:
    """Ask this guard before pours are struck out: it answers with what stands in the way, or with nothing."""
    if guard not in _guards:
        _guards.append(guard)


def correct_session(
    *,
    session: Session,
    facts: SessionFacts,
    submission: Submission,
    note: str = "",
    confirm_gain: bool = False,
    seen: int | None = None,
    known: int | None = None,
) -> Session:
    """Put a session right, on its own day. `facts` say how it really was, whole: whatever they leave out never was.

    Mixes and pours name the recorded ones that they correct; those that name none are added. `known` is the last
    correction that she has seen.

    Raises InputError for what makes no sense, NotEnough with every shortfall, BelowZeroOnDay naming the day on which a
    lot would have held less than nothing, ClosedPeriod for a session in one, InventoryError for pours that can no
    longer be struck out, NeedsConfirmation for unusual amounts not confirmed for this session yet, EditConflict.
    """
    with open_ledger(submission, facts=["correct session", session, facts, note]) as ledger:
        if ledger.earlier is not None:
            return session
        session = Session.objects.select_for_update(of=("self",)).select_related("posting").get(pk=session.pk)
        refuse_stale(session, seen=seen)
        if known is not None and known != (last := last_correction(session)):
            raise InventoryError(
                _(
                    "This session has been corrected by somebody else since you opened the page (ledger no. {number}). "
                    "Open it again and check the figures.",
                    number=last,
                )
            )
        _refuse_nonsense(session, facts)
        questions = _new_questions(session, facts)

        def post() -> Session:
            return _correct(ledger, session, facts, note, questions)

        return gains.with_confirmation(post, ledger=ledger, on=session.held_on, confirm=confirm_gain)


def preview_correction(
    *,
    session: Session,
    facts: SessionFacts,
    submission: Submission,
    note: str = "",
    confirm_gain: bool = False,
) -> CorrectionPreview:
    """What a correction would change, in accounts and in the time of pieces. Raises what it would; nothing stays."""
    with transaction.atomic():
        before, worked = last_correction(session), work_costs()
        correct_session(
            session=session, facts=facts, submission=submission, note=note, confirm_gain=confirm_gain
        )
        last = last_correction(session)
        effects = effects_of_posting(Posting.objects.get(pk=last)) if last != before else []
        work = work_changes(worked, work_costs())
        transaction.set_rollback(True)
    return CorrectionPreview(effects, work)


def last_correction(session: Session) -> int:
    """The latest posting that corrects a session; 0 for none."""
    corrections = Posting.objects.filter(corrects=session.posting_id).order_by("-number")
    return corrections.values_list("number", flat=True).first() or 0


def _new_questions(session: Session, facts: SessionFacts) -> list[Question]:
    """What should be confirmed, without what was confirmed when the session was logged or corrected before."""
    postings = Posting.objects.filter(Q(pk=session.posting_id) | Q(corrects=session.posting_id))
    confirmed = {each["token"] for one in postings.values_list("confirmed", flat=True) for each in one}
    questions = questions_about_session(facts, [poured_volume(pour, facts) for pour in facts.pours])
    return [each for each in questions if each.token not in confirmed]


def _correct(
    ledger: LockedLedger, session: Session, facts: SessionFacts, note: str, questions: Sequence[Question]
) -> Session:
    draft = ledger.draft(PostingKind.CORRECTION, on=session.held_on, note=note, questions=questions)
    draft.posting.corrects = session.posting
    targets = SessionTargets.recorded(session)
    draft.load([*materials_of(facts), *targets.materials])
    batches = _mix_rows(draft, session, facts)
    pours = _pour_rows(draft, session, facts, ledger.submission)
    add_weighings(facts.weighings, session, pours)
    move_all(targets, facts, batches, pours)
    targets.move_differences(draft)
    if draft.movements:
        draft.seal()
    elif unanswered := draft.unanswered:
        raise NeedsConfirmation(unanswered)
    _save(session, {name: getattr(facts, name) for name in DAY_FIELDS})
    return session


def _refuse_nonsense(session: Session, facts: SessionFacts) -> None:
    if hasattr(session.posting, "reversed_by"):
        raise InventoryError(_("This session was reversed. Log it again instead of correcting it."))
    if facts.held_on != session.held_on:
        raise InputError(
            _("A correction keeps the day of the session. To move it, reverse it and log it again."),
            field="held_on",
        )
    if not facts.mixes and not facts.pours:
        raise InputError(_("Nothing would be left of this session. Reverse it instead."))
    _refuse_strangers(session, facts)
    refuse_covered_before(facts)


def _refuse_strangers(session: Session, facts: SessionFacts) -> None:
    """Facts name mixes and pours of this session only, each once."""
    mixed = [item.mix for item in facts.mixes if item.mix is not None]
    poured = [item.pour for item in facts.pours if item.pour is not None]
    rows: list[Mix | Pour] = [*mixed, *poured]
    known = all(row.session_id == session.pk and row.struck_by_id is None for row in rows)
    if not known or len(set(rows)) < len(rows):
        raise InputError(_("A mix or a pour named here is not part of this session, or is named twice."))


def _mix_rows(draft: PostingDraft, session: Session, facts: SessionFacts) -> list[Mix]:
    """The rows of the facts' mixes: corrected, or added. Those that are named no longer are struck out."""
    kept = {
        item.mix.pk: item.mix
        for item in facts.mixes
        if item.mix is not None and item.version.recipe.makes_id == item.mix.lot.material_id
    }
    for mix in session.mixes.exclude(pk__in=kept):
        _save(mix, {"struck_by_id": draft.number})
    new = [item for item in facts.mixes if item.mix is None or item.mix.pk not in kept]
    added = iter(add_mixes(new, session, draft.number))
    rows = []
    for item in facts.mixes:
        mix = kept.get(item.mix.pk) if item.mix is not None else None
        if mix is None:
            mix = next(added)
        else:
            _save(
                mix,
                {
                    "version": item.version,
                    "leftover": item.leftover,
                    "water_share": mixes.water_in(item.ingredients),
                    "consistency": item.consistency,
                    "estimates": mix.estimates | mixes.estimates_of(item),
                },
            )
        rows.append(mix)
    return rows


def _pour_rows(
    draft: PostingDraft, session: Session, facts: SessionFacts, submission: Submission
) -> list[Pour]:
    recorded = list(session.pours.order_by("number"))
    named = {item.pour.pk for item in facts.pours if item.pour is not None}
    struck = [pour for pour in recorded if pour.pk not in named]
    _refuse_to_strike(struck)
    for pour in struck:
        _save(pour, {"struck_by_id": draft.number})
    last = max(session.pours(manager="with_struck").values_list("number", flat=True), default=0)
    new = add_pours([item for item in facts.pours if item.pour is None], facts, session, after=last)
    judge_when_logged(new, submission)
    added, rows = iter(new), []
    for line, item in enumerate(facts.pours, start=1):
        if item.pour is None:
            rows.append(next(added))
            continue
        try:
            _refuse_change(item.pour, item)
        except InputError as problem:
            raise problem.on_line(line, rows="pours") from None
        columns = columns_of(item, facts)
        judge_when_corrected(item.pour, str(columns.pop("outcome")), submission)
        _save(item.pour, columns)
        rows.append(item.pour)
    return rows


def _refuse_change(pour: Pour, item: PourFacts) -> None:
    if pour.over != item.over:
        raise InputError(
            _(
                "{pour} cannot be moved onto or off another pour. Strike it out and add a new one.",
                pour=pour.label,
            ),
            field="over",
        )
    above = Pour.objects.standing().filter(over=pour).first()
    if above is not None and item.surface is not None and item.surface.pk != pour.surface_id:
        raise InputError(
            _("{pour} lies under {above}, so its surface stays.", pour=pour.label, above=above.label),
            field="surface",
        )


def _refuse_to_strike(pours: Sequence[Pour]) -> None:
    """Only a pour that nothing has become of yet can be struck out."""
    if not pours:
        return
    above = Pour.objects.standing().filter(over__in=pours).select_related("over").first()
    if above is not None and above.over is not None:
        raise InventoryError(
            _(
                "{pour} lies under {above}, so it stays. Take {above} out first.",
                pour=above.over.label,
                above=above.label,
            )
        )
    if reason := next((reason for guard in _guards if (reason := guard(pours))), ""):
        raise InventoryError(reason)
    later = Entry.objects.standing().filter(pour__in=pours).exclude(quantity=0)
    gone = later.exclude(place=Place.WORK, role__in=OF_THE_SESSION).order_by("posting_id", "line").first()
    if gone is not None and gone.pour_id is not None:
        pour = next(each for each in pours if each.pk == gone.pour_id)
        raise InventoryError(
            _(
                "{pour} has been finished, sold or written off by ledger no. {number}. Reverse that first.",
                pour=pour.label,
                number=gone.posting_id,
            )
        )


def _save(row: Session | Mix | Pour, columns: dict[str, object]) -> None:
    """Save the columns that change, so that only those are recorded."""
    changed = [name for name, value in columns.items() if getattr(row, name) != value]
    for name in changed:
        setattr(row, name, columns[name])
    if changed:
        row.save(update_fields=changed)
