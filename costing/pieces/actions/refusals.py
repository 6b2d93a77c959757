"""Refusals of the writers for pieces: pours that no piece can be made of, and prices that cannot be asked."""

from collections.abc import Iterable, Sequence

from costing.errors import PieceError
from costing.pieces.models import PiecePour
from inventory.ledger.balances import in_work
from inventory.sessions.models import Pour
from studio.preferences.models import Studio
from studio.translation import _
from studio.values.money import minor_units, round_to_minor


def refuse_price(price: int | None) -> None:
    """Raise PieceError for a price below zero, or with more decimals than the studio's currency has."""
    if price is None:
        return
    currency = Studio.current().currency
    if price < 0:
        raise PieceError(_("A price cannot be below zero."))
    if round_to_minor(price, currency) != price:
        raise PieceError(
            _(
                "{currency} has {places} decimals. Enter the price with no more than that.",
                currency=currency,
                places=minor_units(currency),
            )
        )


def refuse_pours(chosen: Sequence[Pour], *, asked: int) -> None:
    """Raise PieceError unless a piece can be made of these pours; `asked` counts the ones that were asked for."""
    if not chosen:
        raise PieceError(_("Choose at least one pour for the piece."))
    if len(chosen) != asked:
        raise PieceError(_("Choose each pour once."))
    ids = [pour.pk for pour in chosen]
    taken = dict(PiecePour.objects.filter(pour__in=ids).values_list("pour_id", "piece__title"))
    standing = set(Pour.objects.standing().filter(pk__in=ids).values_list("pk", flat=True))
    in_work, beneath = holding(chosen), covered(chosen)
    for pour in chosen:
        if pour.pk not in standing:
            raise PieceError(
                _("{pour}: its session was reversed. Choose a pour from another session.", pour=pour)
            )
        if pour.pk in taken:
            raise PieceError(
                _(
                    "{pour} is already part of “{title}”. A pour belongs to one piece only.",
                    pour=pour,
                    title=taken[pour.pk],
                )
            )
        _refuse_unfit(pour, is_beneath=pour.pk in beneath, is_in_work=pour.pk in in_work)


def _refuse_unfit(pour: Pour, *, is_beneath: bool, is_in_work: bool) -> None:
    if pour.outcome != Pour.Outcome.GOOD:
        raise PieceError(_("{pour} is marked as failed. Mark it as good first, or pour over it.", pour=pour))
    if is_beneath:
        raise PieceError(_("{pour} lies beneath another pour. Choose the pour on top of it.", pour=pour))
    if not is_in_work:
        raise PieceError(_("{pour} has been written off, so it cannot be made into a piece.", pour=pour))


def covered(pours: Sequence[Pour]) -> set[int | None]:
    """Which of these pours another pour lies upon."""
    above = Pour.objects.standing().filter(over__in=[pour.pk for pour in pours])
    return set(above.values_list("over_id", flat=True))


def holding(pours: Iterable[Pour]) -> set[int]:
    """Which of these pours hold something in unsold work."""
    return {pour for (pour, _place), held in in_work([p.pk for p in pours]).items() if any(held)}
