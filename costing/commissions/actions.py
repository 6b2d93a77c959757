"""Writers of what is paid for a commission before the sale, and of how it ends.

Each holds the ledger's lock, so that payments and sales of one commission come one after the other. Meniscus records
what was paid; it moves no money. Money is millionths of the currency unit. Not tax or legal advice.
"""

from dataclasses import dataclass

from costing.commissions.models import Commission, CommissionPayment, CommissionState, PaymentKind, paid_for
from costing.commissions.queries import Held, held_for
from costing.contacts.models import Contact
from costing.errors import CommissionClosed, CommissionError
from costing.pieces.actions.steps import refuse_price
from costing.pricing.calculations import as_taken
from costing.pricing.models import SalesChannel
from costing.pricing.terms import terms_on
from inventory.errors import day_in_words
from inventory.ledger.posting import LockedLedger, open_ledger
from studio.auditing.writing import set_all
from studio.errors import InputError
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.submission import Submission
from studio.translation import _
from studio.values.money import minor_unit

ENDS = (PaymentKind.RETURNED, PaymentKind.KEPT)


@dataclass(frozen=True, slots=True)
class PaymentFacts:
    """A deposit or a further part, and through which channel it was paid. Raises InputError naming the field."""

    amount: int
    channel: SalesChannel
    reason: str = ""

    def __post_init__(self) -> None:
        if self.amount <= 0:
            raise InputError(_("Enter what was paid, above zero."), field="amount")
        refuse_price(self.amount)


@dataclass(frozen=True, slots=True)
class CancelFacts:
    """How much of what is held is paid back, and through which channel; the rest is kept, for a reason."""

    returned: int = 0
    channel: SalesChannel | None = None
    reason: str = ""

    def __post_init__(self) -> None:
        refuse_price(self.returned)
        if self.returned and self.channel is None:
            raise InputError(_("Choose how it was paid back."), field="channel")


def receive_payment(
    *, commission: Commission, facts: PaymentFacts, submission: Submission
) -> CommissionPayment:
    """Record what a buyer paid ahead. The card fee of the channel's terms goes with it.

    Raises CommissionClosed; InputError for more than the agreed price or a day before the agreement.
    """
    with open_ledger(submission, facts=["payment", commission, facts, submission.on]) as ledger:
        if earlier := ledger.earlier_record(CommissionPayment):
            return earlier
        ledger.refuse_day(submission.on)
        now = hold_open(commission)
        if submission.on < now.agreed_on:
            first = day_in_words(now.agreed_on)
            raise InputError(_("It was agreed on {day}. Use that day or a later one.", day=first), field="on")
        left = now.price - paid_for(now)
        if facts.amount > left:
            still = Formatter.of(Studio.current()).money(left)
            advice = _("{amount} of the agreed price is still to be paid. Enter no more.", amount=still)
            raise InputError(advice, field="amount")
        terms = terms_on(facts.channel, submission.on)
        coin = minor_unit(Studio.current().currency)
        fee = as_taken(facts.amount, terms.charges(0), minor_unit=coin).card_fee
        payment = CommissionPayment(
            commission=now,
            kind=PaymentKind.RECEIVED,
            amount=facts.amount,
            fee=fee,
            channel=facts.channel,
            reason=facts.reason,
        )
        return _write(ledger, payment)


def reverse_payment(*, payment: CommissionPayment, reason: str, submission: Submission) -> CommissionPayment:
    """Reverse a payment that was a mistake by its opposite. Raises CommissionClosed, CommissionError, InputError."""
    with open_ledger(submission, facts=["reversed payment", payment, reason, submission.on]) as ledger:
        if earlier := ledger.earlier_record(CommissionPayment):
            return earlier
        ledger.refuse_day(submission.on)
        commission = hold_open(payment.commission)
        now = CommissionPayment.objects.select_related("reversed_by", "channel").get(pk=payment.pk)
        if not now.is_reversible:
            raise CommissionError(_("This payment cannot be reversed, or has been reversed already."))
        if now.amount > held_for(commission).amount:
            raise CommissionError(
                _("It has been paid back since. Reverse the repayment first if that was wrong.")
            )
        if not reason.strip():
            raise InputError(_("Write what was wrong with it."), field="reason")
        if submission.on < now.on:
            first = day_in_words(now.on)
            raise InputError(_("It was paid on {day}. Use that day or a later one.", day=first), field="on")
        return _write(ledger, _opposite(commission, now, reason))


def cancel_commission(*, commission: Commission, facts: CancelFacts, submission: Submission) -> Commission:
    """Close a commission that comes to nothing: what is held is paid back, or kept for a reason.

    Raises CommissionClosed; InputError for more than is held, or where something is kept without a reason.
    """
    with open_ledger(submission, facts=["cancelled", commission, facts, submission.on]) as ledger:
        if earlier := ledger.earlier_record(CommissionPayment):
            return earlier.commission
        if _came_to_nothing(commission) and not facts.returned:
            return commission
        ledger.refuse_day(submission.on)
        now, held = hold_open(commission), held_for(commission)
        _refuse_cancelling(facts, held, submission)
        reason = facts.reason
        ends = [
            CommissionPayment(commission=now, kind=kind, amount=-amount, channel=channel, reason=reason)
            for kind, amount, channel in (
                (PaymentKind.RETURNED, facts.returned, facts.channel),
                (PaymentKind.KEPT, held.amount - facts.returned, None),
            )
            if amount
        ]
        for place, payment in enumerate(ends):
            _write(ledger, payment, has_key=place == 0)
        now.state = CommissionState.CANCELLED
        now.save(update_fields=["state"])
        return now


def reopen_commission(*, commission: Commission, submission: Submission) -> Commission:
    """Open a cancelled commission again: what was kept is held again; what was paid back stays paid back.

    Raises CommissionClosed for one that was sold, CommissionError for one whose contact was erased, InputError for a
    day before the cancellation.
    """
    with open_ledger(submission, facts=["reopened", commission, submission.on]) as ledger:
        if earlier := ledger.earlier_record(CommissionPayment):
            return earlier.commission
        now = Commission.objects.select_for_update(of=("self",)).get(pk=commission.pk)
        if now.is_open:  # sent again, or by somebody else: it is what was asked for
            return now
        ledger.refuse_day(submission.on)
        _refuse_reopening(now, submission)
        now.state = CommissionState.OPEN
        now.save(update_fields=["state"])
        kept = now.payments.filter(kind=PaymentKind.KEPT, reverses=None, reversed_by=None).first()
        if kept is not None:
            _write(ledger, _opposite(now, kept))
        return now


def _refuse_reopening(commission: Commission, submission: Submission) -> None:
    if commission.state == CommissionState.SOLD:
        raise CommissionClosed(
            _("It was finished by a sale. Undo or return that sale, and it is open again.")
        )
    if commission.contact is None:
        raise CommissionError(_("Its contact was erased. Record a new commission instead."))
    last = held_for(commission).last
    if last is not None and submission.on < last:
        first = day_in_words(last)
        raise InputError(_("It was cancelled on {day}. Use that day or a later one.", day=first), field="on")


def set_off(commission: Commission, *, channel: SalesChannel, ledger: LockedLedger) -> None:
    """Close a commission with its sale: what is held, and its card fees, go over to the sale of that day."""
    held = held_for(commission)
    if held.amount:
        payment = CommissionPayment(
            commission=commission,
            kind=PaymentKind.SET_OFF,
            amount=-held.amount,
            fee=-held.fees,
            channel=channel,
        )
        _write(ledger, payment, has_key=False)
    commission.state = CommissionState.SOLD
    commission.save(update_fields=["state"])


def reopen(commission: Commission, *, ledger: LockedLedger) -> None:
    """Open a commission again whose sale is undone: what was set off is held again."""
    commission.state = CommissionState.OPEN
    commission.save(update_fields=["state"])
    last = commission.payments.filter(kind=PaymentKind.SET_OFF, reverses=None, reversed_by=None).first()
    if last is not None:
        _write(ledger, _opposite(commission, last), has_key=False)


def hold_open(commission: Commission) -> Commission:
    """The commission as it is now, locked. Raises CommissionClosed."""
    now = Commission.objects.select_for_update(of=("self",)).get(pk=commission.pk)
    if not now.is_open:
        state = CommissionState(now.state).label.lower()
        raise CommissionClosed(_("“{title}” is closed: {state}.", title=now.title, state=state))
    return now


def clear_words(contact: Contact) -> None:
    """Erase what was written of a contact's commissions; prices and payments stay."""
    for commission in Commission.objects.filter(contact=contact):
        commission.contact, commission.wanted = None, ""
        commission.save(update_fields=["contact", "wanted"])
        set_all(commission.payments.exclude(reason=""), reason="")


def _came_to_nothing(commission: Commission) -> bool:
    """Whether it was cancelled while nothing was held: that left no payment, so it cannot be told by its key."""
    commission.refresh_from_db()
    is_over = commission.state == CommissionState.CANCELLED
    return is_over and not commission.payments.filter(kind__in=ENDS).exists()


def _refuse_cancelling(facts: CancelFacts, held: Held, submission: Submission) -> None:
    if facts.returned > held.amount:
        most = Formatter.of(Studio.current()).money(held.amount)
        raise InputError(_("{amount} is held. Pay back no more.", amount=most), field="returned")
    if facts.returned < held.amount and not facts.reason.strip():
        raise InputError(_("Write why you keep the rest."), field="reason")
    if held.last is not None and submission.on < held.last:
        first = day_in_words(held.last)
        raise InputError(
            _("The last payment was on {day}. Use that day or a later one.", day=first), field="on"
        )


def _opposite(commission: Commission, payment: CommissionPayment, reason: str = "") -> CommissionPayment:
    return CommissionPayment(
        commission=commission,
        kind=payment.kind,
        amount=-payment.amount,
        fee=-payment.fee,
        channel=payment.channel,
        reason=reason,
        reverses=payment,
    )


def _write(ledger: LockedLedger, payment: CommissionPayment, *, has_key: bool = True) -> CommissionPayment:
    submission = ledger.submission
    payment.on, payment.recorded_at, payment.recorded_by = submission.on, submission.at, submission.by
    if has_key:
        payment.key, payment.fingerprint = submission.key, ledger.fingerprint
    payment.save(force_insert=True)
    return payment
