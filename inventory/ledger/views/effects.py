"""What a posting would change, in rows for the page that asks before it is posted."""

from collections.abc import Sequence

from django.http import HttpRequest

from inventory.ledger.account_names import AccountNames
from inventory.ledger.accounts import AccountReference
from inventory.ledger.effects import Effect, names_of_pours
from inventory.ledger.models import Lot
from inventory.ledger.tables import EffectRow, EffectTable, account_link
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.money import round_to_minor


def effect_table(request: HttpRequest, effects: Sequence[Effect]) -> EffectTable:
    """One row an account, with names and addresses: five queries, however many there are."""
    formatter = Formatter.of(current_studio(request))
    lots = Lot.objects.select_related("material").in_bulk(
        [each.account.lot for each in effects if each.account.lot]
    )
    names = AccountNames.read(each.account for each in effects)
    pieces = names_of_pours({each.account.pour for each in effects if each.account.pour})

    def name(account: AccountReference) -> str:
        written = names.of(account)
        if account.lot:
            return f"{lots[account.lot].material.name}, {written}"
        return f"{pieces[account.pour]}, {written}" if account.pour in pieces else written

    def quantity(effect: Effect) -> str:
        if effect.account.lot is None or effect.quantity_before == effect.quantity_after:
            return ""
        measure = lots[effect.account.lot].material.measure
        before, after = effect.quantity_before, effect.quantity_after
        return _(
            "{before} → {after}",
            before=formatter.quantity(before, measure),
            after=formatter.quantity(after, measure),
        )

    rows = [
        EffectRow(
            account=str(each.account.place.label),
            name=name(each.account),
            address=account_link(each.account),
            quantity=quantity(each),
            before=round_to_minor(each.money_before, formatter.currency),
            after=round_to_minor(each.money_after, formatter.currency),
        )
        for each in effects
    ]
    change = sum(each.money_after - each.money_before for each in effects)
    without = [] if any(row.quantity for row in rows) else ["quantity"]
    return EffectTable(rows, request, totals={"change": change} if rows else {}, without=without)
