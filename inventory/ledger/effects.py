"""What a posting would change before it is posted, account by account: a lot, a pour, a loss, before and after."""

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass

from django.db.models import Sum

from inventory.ledger.accounts import AccountReference
from inventory.ledger.models import Entry, LotBalance, Place, Posting
from inventory.ledger.movements import Movement, posted_movements
from inventory.ledger.posting import PostingDraft

Amounts = tuple[int, int]
NOTHING: Amounts = (0, 0)
# Nothing stays in a cup, and what came from outside is what the submission says itself.
LEFT_OUT = (Place.MIX, Place.OUTSIDE, Place.GAIN)


@dataclass(frozen=True, slots=True)
class Effect:
    """One account before and after a posting. Its money covers all materials; quantities are those of a lot."""

    account: AccountReference
    quantity_before: int
    quantity_after: int
    money_before: int
    money_after: int


Namer = Callable[[Collection[int]], Mapping[int, str]]
_namers: list[Namer] = []


def register_names_of_pours(namer: Namer) -> None:
    """Let a later room say what became of pours: it is given their numbers, and answers with names where it has any."""
    if namer not in _namers:
        _namers.append(namer)


def names_of_pours(pours: Collection[int]) -> dict[int, str]:
    """What became of pours, in words; a pour of which nothing was made is left out."""
    return {pour: name for namer in _namers for pour, name in namer(pours).items()}


def effects_of(draft: PostingDraft) -> list[Effect]:
    """Every account that a draft changes, by kind of place, then by number. It is costed as if it were sealed.

    Raises what sealing it would: BelowZeroOnDay with the day. Four queries besides, however much it changes.
    """
    draft.cost_what_follows()
    return _effects(draft.movements)


def effects_of_posting(posting: Posting) -> list[Effect]:
    """The same of the posting that was sealed last."""
    return _effects(posted_movements(posting), is_posted=True)


def _effects(movements: Iterable[Movement], *, is_posted: bool = False) -> list[Effect]:
    changes: dict[AccountReference, Amounts] = defaultdict(lambda: NOTHING)
    for each in movements:
        for account, sign in ((each.source, -1), (each.destination, 1)):
            quantity, money = changes[account]
            changes[account] = quantity + sign * each.quantity, money + sign * each.money
    changed = {
        account: change
        for account, change in changes.items()
        if account.place not in LEFT_OUT and change != NOTHING
    }
    standing = _standing(changed)
    places = list(Place)
    effects = []
    for account in sorted(changed, key=lambda account: (places.index(account.place), account.number)):
        more, dearer = changed[account]
        quantity, money = standing[account]
        if is_posted:
            quantity, money = quantity - more, money - dearer
        effects.append(Effect(account, quantity, quantity + more, money, money + dearer))
    return effects


def _standing(accounts: Iterable[AccountReference]) -> dict[AccountReference, Amounts]:
    """What accounts hold now."""
    before: dict[AccountReference, Amounts] = defaultdict(lambda: NOTHING)
    lots = [account.lot for account in accounts if account.lot]
    for lot, quantity, money in LotBalance.objects.filter(lot__in=lots).values_list(
        "lot", "quantity", "money"
    ):
        before[AccountReference(Place.LOT, lot=lot)] = quantity, money
    pours = [account.pour for account in accounts if account.pour]
    reasons = [account.reason for account in accounts if account.reason]
    for kind, rows in (
        ("pour", Entry.objects.filter(pour__in=pours)),
        ("reason", Entry.objects.filter(reason__in=reasons)),
    ):
        for place, number, money in rows.order_by().values_list("place", kind).annotate(money=Sum("money")):
            before[AccountReference(Place(place), **{kind: number})] = 0, money
    return before
