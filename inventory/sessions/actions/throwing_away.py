"""Failed pours that are thrown away: their cost leaves work in progress, to where a loss of that kind belongs.

What fails in the usual run of things is a cost of making, carried by what turned out (a normal loss); a failure out of
the ordinary is a loss of its own, carried by no piece (IAS 2, paragraph 16).
"""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.errors import InventoryError
from inventory.ledger.accounts import AccountReference, disposal, work_in_progress
from inventory.ledger.balances import in_work
from inventory.ledger.costing_methods import cost_of_draw
from inventory.ledger.models import EntryRole, Posting, PostingKind, Reason
from inventory.ledger.posting import PostingDraft, open_ledger
from inventory.sessions.actions.work import refuse_before_work, refuse_gone
from inventory.sessions.models import Pour
from studio.errors import InputError
from studio.submission import Submission
from studio.translation import _
from studio.values.allocation import allocate

USUAL_FAILURE = "usual-failure"
Shares = dict[AccountReference, int]  # accounts, with their weights


@dataclass(frozen=True, slots=True)
class ThrowAwayFacts:
    """Failed pours to be thrown away. Without a reason they are a normal loss, with one an abnormal loss of that name.

    Raises InputError naming the field.
    """

    pours: Sequence[Pour]
    reason: Reason | None = None
    note: str = ""

    def __post_init__(self) -> None:
        if not self.pours:
            raise InputError(_("Choose at least one failed pour."), field="pours")
        if self.reason is not None and self.reason.kind != Reason.Kind.LOSS:
            raise InputError(
                _("“{reason}” is not a loss. Choose what happened to the pour.", reason=self.reason.name),
                field="reason",
            )


def throw_away(*, facts: ThrowAwayFacts, submission: Submission) -> Posting:
    """Throw failed pours away, with all that they cost.

    A normal loss goes to the good pours of the same session by area: into what each cost, and for those that are no
    longer in unsold work to the normal losses of the period, so that no sale is rewritten and none of the others pays
    for it. Raises InventoryError for a pour that is not failed, lies under another, or has left already, and for a day
    before the work on it.
    """
    with open_ledger(submission, facts=["throw away", facts]) as ledger:
        if ledger.earlier is not None:
            return ledger.earlier
        chosen = [pour.pk for pour in facts.pours]
        pours = list(Pour.objects.filter(pk__in=chosen).select_related("session").order_by("pk"))
        refuse_to_throw_away(pours)
        refuse_before_work(pours, submission.on)
        draft = ledger.draft(PostingKind.POUR_WRITE_OFF, note=facts.note)
        for pour in pours:
            shares = normal_shares(pour) if facts.reason is None else {disposal(facts.reason.pk): 1}
            _share_out(draft, pour, shares)
        return draft.seal()


def refuse_to_throw_away(pours: Sequence[Pour]) -> None:
    """Raise InventoryError unless these pours failed, hold their cost, and have no pour upon them."""
    for pour in pours:
        if pour.outcome != Pour.Outcome.FAILED:
            raise InventoryError(
                _("{pour} is not marked as failed. Mark it as failed before throwing it away.", pour=pour)
            )
    above = Pour.objects.standing().filter(over__in=pours).select_related("over").first()
    if above is not None:
        raise InventoryError(
            _("{pour} lies under {above}, so it cannot be thrown away.", pour=above.over, above=above)
        )
    refuse_gone(pours)


def normal_shares(pour: Pour) -> Shares:
    """Who carries a pour that failed in the usual run of things, by area."""
    alive = Pour.objects.filter(session=pour.session_id).exclude(outcome=Pour.Outcome.FAILED)
    areas = dict(alive.order_by("number").values_list("pk", "area"))
    held = {pk for (pk, _material), amounts in in_work(areas).items() if any(amounts)}
    gone = sum(area for pk, area in areas.items() if pk not in held)
    shares: Shares = {work_in_progress(pk): area for pk, area in areas.items() if pk in held}
    if gone or not shares:
        shares[disposal(Reason.objects.get(code=USUAL_FAILURE).pk)] = gone or 1
    return shares


def _share_out(draft: PostingDraft, pour: Pour, shares: Shares) -> None:
    """Move everything that a pour holds, each taker its share, and the money of so much quantity with it."""
    for (_pour, material), (quantity, money) in in_work([pour.pk]).items():
        parts = allocate(quantity, list(shares.values()))
        for account, part in zip(shares, parts, strict=True):
            cost = cost_of_draw(quantity, money, part) if part else 0
            role = EntryRole.FAILED if account.pour else EntryRole.NONE
            draft.move(work_in_progress(pour.pk), account, material, quantity=part, money=cost, role=role)
            quantity, money = quantity - part, money - cost
