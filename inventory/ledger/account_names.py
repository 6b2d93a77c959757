"""What people call accounts: lots and pours by what is written on them, reasons by their own names."""

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass

from inventory.ledger.accounts import AccountReference
from inventory.ledger.labels import lot_label, pour_label
from inventory.ledger.models import Place, Reason
from studio.translation import _

Labels = Callable[[Collection[int]], Mapping[int, str]]
_labels: list[Labels] = []


def register_labels_of_pours(labels: Labels) -> None:
    """Let the room that keeps pours say what is written on their canvases."""
    if labels not in _labels:
        _labels.append(labels)


def labels_of_pours(pours: Collection[int]) -> dict[int, str]:
    """The labels of pours, by their rows' numbers: one query."""
    return {pour: label for labels in _labels for pour, label in labels(pours).items()}


@dataclass(frozen=True, slots=True)
class AccountNames:
    """The names of some accounts, read together."""

    reasons: Mapping[int, Reason]
    pours: Mapping[int, str]

    @classmethod
    def read(cls, accounts: Iterable[AccountReference]) -> "AccountNames":
        """Two queries at most, however many accounts there are."""
        accounts = list(accounts)
        reasons = {account.reason for account in accounts if account.reason is not None}
        pours = {account.pour for account in accounts if account.pour is not None}
        return cls(
            Reason.objects.in_bulk(reasons) if reasons else {}, labels_of_pours(pours) if pours else {}
        )

    def of(self, account: AccountReference) -> str:
        """As it is written on jars and surfaces, by the reason's name, or what kind of account it is."""
        if account.reason is not None:
            return self.reasons[account.reason].name
        if account.lot is not None:
            return lot_label(account.lot)
        if account.pour is not None:
            # What a preview added was never kept, so there is no row that could name it.
            label = self.pours.get(account.pour) or pour_label(account.pour)
            return _("{pour} (sold)", pour=label) if account.place == Place.SOLD else label
        if account.mix is not None:
            return _("Mix {number}", number=account.mix)
        return str(account.place.label)
