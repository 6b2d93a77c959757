"""The writer of a batch outside a session, such as home-made medium ahead of time."""

from inventory.ledger.models import PostingKind
from inventory.ledger.posting import open_ledger
from inventory.recipes.actions.mixes import MixFacts, estimates_of, prepare, stir, water_in
from inventory.recipes.models import Mix
from inventory.recipes.questions import questions_about_mixes
from inventory.stock.actions import gains
from studio.preferences.models import Studio
from studio.submission import Submission


def make_mix(*, facts: MixFacts, submission: Submission, confirm_gain: bool = False) -> Mix:
    """Mix a batch outside a session.

    Raises NotEnough with every shortfall; with `confirm_gain` a gain is posted first ("the bottle held
    more than the books say"). Raises NeedsConfirmation for amounts that are unusual.
    """
    on = submission.on
    with open_ledger(submission, facts=[facts, on]) as ledger:
        if ledger.earlier is not None:
            return ledger.earlier.mixes.get()
        questions = questions_about_mixes([facts], Studio.current())

        def post() -> Mix:
            draft = ledger.draft(PostingKind.MIX, questions=questions)
            draft.load([item.material for item in facts.ingredients])
            lot = prepare(facts, on)
            lot.save(force_insert=True)
            mix = Mix.objects.create(
                version=facts.version,
                mixed_on=on,
                lot=lot,
                posting_id=draft.number,
                water_share=water_in(facts.ingredients),
                consistency=facts.consistency,
                estimates=estimates_of(facts),
            )
            stir(draft, mix, facts)
            draft.seal()
            return mix

        return gains.with_confirmation(post, ledger=ledger, on=on, confirm=confirm_gain)
