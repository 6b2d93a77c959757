"""What every room asks before it posts: whether an amount that is far from the latest ones like it is right."""

from collections.abc import Callable, Iterable
from typing import Any

from django.db.models import F, QuerySet, Window
from django.db.models.functions import RowNumber

from inventory.ledger.usual_amounts import MOST_PAST, Amount, PastAmounts
from studio.errors import Question
from studio.translation import _


def ask_if_unusual(
    question: tuple[str, str],
    amount: Amount,
    past: PastAmounts,
    *,
    about: tuple[object, ...],
    write: Callable[[Amount], str],
    is_money: bool = False,
) -> list[Question]:
    """The question whether an amount is right; nothing where it is usual.

    `question` is its topic and what is asked about, in words; `about` names the same for a confirmation.
    """
    usual = past.usual_instead(amount)
    if usual is None:
        return []
    topic, what = question
    low, high = write(usual.low), write(usual.high)
    between = low if low == high else _("{low} to {high}", low=low, high=high)
    if usual.alike == usual.count:
        text = _(
            "{what}: {amount}. Your last {count} were {between}.",
            what=what,
            amount=write(amount),
            count=usual.count,
            between=between,
        )
    else:
        text = _(
            "{what}: {amount}. Of your last {count}, {alike} were {between}.",
            what=what,
            amount=write(amount),
            count=usual.count,
            alike=usual.alike,
            between=between,
        )
    return [Question(topic, text, (*about, str(amount)), is_money)]


def each_once(questions: Iterable[Question]) -> list[Question]:
    """The questions in their order; what is asked of several lines alike is asked once."""
    return list({each.token: each for each in questions}.values())


def latest_of_each(rows: QuerySet[Any], *kinds: Any) -> QuerySet[Any]:
    """The latest rows of each kind, newest first: as many as are looked at to tell what is usual."""
    place = Window(RowNumber(), partition_by=list(kinds), order_by=F("pk").desc())
    latest: QuerySet[Any] = rows.annotate(place_from_latest=place).filter(place_from_latest__lte=MOST_PAST)
    return latest.order_by("-pk")
