"""The writer that logs a session: mixes, pours, run-off, leftovers and minutes in one posting, all of it or nothing."""

from inventory.ledger.balances import in_work
from inventory.ledger.models import Lot, PostingKind
from inventory.ledger.posting import open_ledger
from inventory.recipes.actions import mixes
from inventory.recipes.models import Mix
from inventory.sessions.actions.session_facts import (
    Dose,
    PourFacts,
    SessionFacts,
    area_of,
    materials_of,
    poured_volume,
)
from inventory.sessions.actions.session_movements import move_all
from inventory.sessions.models import Pour, Session
from inventory.stock.actions import gains
from studio.errors import InputError
from studio.preferences.models import Studio
from studio.submission import Submission
from studio.translation import _

__all__ = ["Dose", "PourFacts", "SessionFacts", "area_of", "log_session"]


def log_session(*, facts: SessionFacts, submission: Submission, confirm_gain: bool = False) -> Session:
    """Log a session. Raises NotEnough with every shortfall (nothing is posted), InputError for what makes no sense.

    With `confirm_gain` the shelf's shortfalls are first posted as a count gain ("the bottle held more than
    the books say").
    """
    with open_ledger(submission, facts=facts) as ledger:
        if ledger.earlier is not None:
            return ledger.earlier.session
        if not facts.mixes and not facts.pours:
            raise InputError(_("A session needs at least one mix or one pour."))
        _refuse_covered_before(facts)

        def post() -> Session:
            draft = ledger.draft(PostingKind.SESSION, on=facts.held_on, note=facts.title)
            draft.load(materials_of(facts))
            session = _session_row(facts, draft.number)
            batches = _mix_rows(facts, session)
            pours = _pour_rows(facts, session)
            move_all(draft, facts, batches, pours)
            draft.seal()
            return session

        return gains.with_confirmation(post, ledger=ledger, on=facts.held_on, confirm=confirm_gain)


def _session_row(facts: SessionFacts, number: int) -> Session:
    studio = Studio.current()
    return Session.objects.create(
        held_on=facts.held_on,
        title=facts.title,
        minutes=facts.minutes,
        wage_per_hour=studio.wage_per_hour,
        overhead_per_hour=studio.overhead_per_hour,
        temperature=facts.temperature,
        humidity=facts.humidity,
        notes=facts.notes,
        posting_id=number,
    )


def _mix_rows(facts: SessionFacts, session: Session) -> list[Mix]:
    lots = Lot.objects.bulk_create(mixes.prepare(item, facts.held_on) for item in facts.mixes)
    return Mix.objects.bulk_create(
        Mix(
            version=item.version,
            session=session,
            mixed_on=facts.held_on,
            lot=lot,
            leftover=item.leftover,
            posting_id=session.posting_id,
            water_share=mixes.water_in(item.ingredients),
            consistency=item.consistency,
        )
        for item, lot in zip(facts.mixes, lots, strict=True)
    )


def _pour_rows(facts: SessionFacts, session: Session) -> list[Pour]:
    rows = []
    for number, item in enumerate(facts.pours, start=1):
        surface, area = item.covered
        rows.append(
            Pour(
                session=session,
                number=number,
                surface=surface,
                over=item.over,
                technique=item.technique,
                area=area,
                poured=poured_volume(item, facts),
                run_off=item.run_off,
                outcome=item.outcome,
                arm=item.arm,
                notes=item.notes,
            )
        )
    return Pour.objects.bulk_create(rows)


def _refuse_covered_before(facts: SessionFacts) -> None:
    """Only a failed pour still in unsold work is poured over, and once: its surface is charged to the new pour."""
    for line, pour in enumerate(facts.pours, start=1):
        failed = pour.over
        if failed is None:
            continue
        if Pour.objects.standing().filter(over=failed).exists():
            refusal = _("{failed} has already been poured over.", failed=failed)
        elif not any(any(amounts) for amounts in in_work([failed.pk]).values()):
            refusal = _(
                "{failed} was sold, written off, or its session was reversed. Choose a surface instead.",
                failed=failed,
            )
        else:
            continue
        raise InputError(refusal, field="over", line=line, rows="pours")
