"""How a piece leaves other than by a sale, and how it comes back."""

from typing import TYPE_CHECKING

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy

from costing.pieces.forms.pieces import LONGEST_NOTE
from costing.selling.actions import GIVING
from inventory.ledger.models import Reason
from studio.pages.forms import DayInput, KeyedForm, MoneyField

if TYPE_CHECKING:
    from django.utils.functional import _StrOrPromise


class DatedForm(KeyedForm):
    """What happened to a piece on a day, with a note."""

    on = forms.DateField(label=gettext_lazy("Day"), widget=DayInput, initial=timezone.localdate)
    note = forms.CharField(label=gettext_lazy("Note"), max_length=200, required=False)


class DisposalForm(DatedForm):
    """A piece leaves other than by a sale, or comes back; what its page says."""

    heading: "_StrOrPromise"
    lead: "_StrOrPromise"
    save_label: "_StrOrPromise"
    kind = ""  # of the button
    done = gettext_lazy("“{title}” is {state}. Its cost has been moved to that reason.")


class GiveForm(DisposalForm):
    """A gift, a sample, or kept for own use."""

    heading = gettext_lazy("Give it away or keep it")
    lead = gettext_lazy(
        "The piece leaves without a sale. Its cost moves out of unsold work and is shown beside its market value."
    )
    save_label = gettext_lazy("Save")

    reason = forms.ModelChoiceField(
        label=gettext_lazy("Reason"),
        queryset=Reason.objects.filter(kind__in=list(GIVING)),
        empty_label=gettext_lazy("Choose…"),
    )
    market_value = MoneyField(
        label=gettext_lazy("Market value ({currency})"),
        help_text=gettext_lazy("Recorded alongside cost, because countries differ on which one applies."),
    )
    field_order = ("reason", "market_value")


class WriteOffForm(DisposalForm):
    """What happened to a piece that cannot be sold any more."""

    heading = save_label = gettext_lazy("Write it off")
    lead = gettext_lazy(
        "The piece is written off with its full cost, as a loss with its own reason. "
        "If that was a mistake, you can bring it back."
    )
    kind = "is-large is-stop"

    reason = forms.ModelChoiceField(
        label=gettext_lazy("What happened"),
        queryset=Reason.objects.filter(kind=Reason.Kind.LOSS),
        empty_label=gettext_lazy("Choose…"),
    )
    field_order = ("reason",)


class ScrapeForm(DisposalForm):
    """A piece that is scraped, so that its surface can be poured over."""

    heading = save_label = gettext_lazy("Scrape it")
    lead = gettext_lazy(
        "The piece is gone, and its surface can be used again: in your next session, choose its pour under “Poured "
        "over a failed pour”. No new surface is taken from stock. What the first layer cost stays with the surface and "
        "becomes part of the new piece, shown as rework. If you throw the surface away after all, that cost becomes "
        "the loss."
    )
    kind = "is-large is-stop"
    done = gettext_lazy(
        "“{title}” is {state}. In your next session, choose its pour under “Poured over a failed pour”."
    )


class BringBackForm(DisposalForm):
    """A disposal that was entered by mistake."""

    heading = save_label = gettext_lazy("Bring it back")
    lead = gettext_lazy(
        "For a gift, own use, write-off or scraping entered by mistake. The piece is again what it was before, "
        "with its full cost, and so are its pours; both stay on record."
    )
    done = gettext_lazy("“{title}” is back: {state}, with its full cost.")
    note = forms.CharField(label=gettext_lazy("Reason"), max_length=LONGEST_NOTE, required=False)
