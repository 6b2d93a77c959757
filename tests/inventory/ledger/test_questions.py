"""One mechanism for everything that is asked before it is posted: what a confirmation holds for, where it is kept."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import NotEnough
from inventory.ledger.accounts import OUTSIDE, disposal
from inventory.ledger.models import Posting, PostingKind
from inventory.ledger.posting import open_ledger
from studio.accounts.models import User
from studio.errors import NeedsConfirmation, Question
from studio.submission import Submission
from tests.making import make_material, make_submission, the_reason, units

FIRST = Question("pour", "900 mL.", (1, 900))
SECOND = Question("unit-cost", "£5.00.", (2, 500), is_money=True)


def post(submission: Submission, *questions: Question, quantity: int = units(1)) -> Posting:
    """Receive a little of something new, with these questions; or draw what is not there."""
    material = make_material()
    with open_ledger(submission) as ledger:
        draft = ledger.draft(PostingKind.OPENING, questions=questions)
        draft.load([material])
        draft.move(OUTSIDE, disposal(the_reason().pk), material.pk, quantity=units(1), money=0)
        if quantity != units(1):
            draft.draw(material, quantity, disposal(the_reason().pk))
        return draft.seal()


@pytest.mark.django_db
def test_nothing_is_posted_until_every_question_is_answered(owner: User) -> None:
    with pytest.raises(NeedsConfirmation) as refusal:
        post(make_submission(confirmed={FIRST.token}), FIRST, SECOND)
    assert (refusal.value.questions, refusal.value.is_conflict) == ((SECOND,), True)
    assert not Posting.objects.exists()


@pytest.mark.django_db
@pytest.mark.usefixtures("books_hold")
def test_what_was_confirmed_is_sealed_with_the_posting(owner: User) -> None:
    posting = post(make_submission(confirmed={FIRST.token, SECOND.token, "more"}), FIRST, SECOND)
    posting.refresh_from_db()
    assert posting.confirmed == [FIRST.in_full, SECOND.in_full]


@pytest.mark.django_db
def test_a_shortfall_is_told_with_what_is_asked_besides(owner: User) -> None:
    with pytest.raises(NotEnough) as refusal:
        post(make_submission(confirmed=()), FIRST, quantity=units(5))
    assert refusal.value.questions == (FIRST,)
    assert set(refusal.value.extensions) == {"shortfalls", "questions"}


@pytest.mark.django_db
def test_a_shortfall_alone_asks_nothing_besides(owner: User) -> None:
    with pytest.raises(NotEnough) as refusal:
        post(make_submission(confirmed=()), quantity=units(5))
    assert set(refusal.value.extensions) == {"shortfalls"}


@given(amount=st.integers(1, 10**15), other=st.integers(1, 10**15), text=st.text())
def test_a_confirmation_holds_for_its_amount_whatever_becomes_known(
    amount: int, other: int, text: str
) -> None:
    question = Question("pour", "", (1, amount))
    assert replace(question, text=text).token == question.token
    assert (replace(question, about=(1, other)).token == question.token) == (amount == other)
    assert replace(question, topic="part").token != question.token
