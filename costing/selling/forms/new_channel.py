"""A sales channel that is added where a piece is sold: a name, how buyers pay, and what it keeps."""

from collections.abc import Callable
from typing import Any, TypeVar

from django import forms
from django.forms import BoundField
from django.utils.translation import gettext_lazy

from costing.pricing.actions import add_channel
from costing.pricing.models import ChannelTerms, Payment, SalesChannel
from studio.pages.forms import PercentField, StudioForm
from studio.submission import Submission, transaction
from studio.translation import _

Result = TypeVar("Result")
NEW_FIELDS = ("new_channel", "new_payment", "new_commission")


class NewChannelFields(StudioForm):
    """A form that asks for a `channel`, which with `may_add` can be a new one. Saved with the rest or not at all."""

    new_channel = forms.CharField(label=gettext_lazy("Name of a new channel"), max_length=80, required=False)
    new_payment = forms.ChoiceField(
        label=gettext_lazy("How buyers pay"), choices=Payment.choices, required=False
    )
    new_commission = PercentField(
        label=gettext_lazy("Commission"),
        required=False,
        example="35%",
        help_text=gettext_lazy(
            "What it keeps of this price already. Leave blank for none. Other fees are added under Sales channels, "
            "for later sales."
        ),
    )

    def __init__(self, *args: Any, may_add: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.may_add = may_add
        self.terms: ChannelTerms | None = None
        for name in () if may_add else NEW_FIELDS:
            del self.fields[name]
        if self.names_new:
            self.fields["channel"].required = False

    @property
    def names_new(self) -> bool:
        """Whether a new channel was named, so that its fields are shown."""
        return self.may_add and bool(str(self["new_channel"].value() or "").strip())

    @property
    def main_fields(self) -> list[BoundField]:
        return [field for field in self.visible_fields() if field.name not in NEW_FIELDS]

    @property
    def new_channel_fields(self) -> list[BoundField]:
        return [self[name] for name in NEW_FIELDS if name in self.fields]

    @property
    def shows_new(self) -> bool:
        return self.names_new or any(field.errors for field in self.new_channel_fields)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        name = " ".join(cleaned.get("new_channel", "").split())
        if not name:
            if cleaned.get("new_commission"):
                self.add_error("new_channel", _("Name the channel that this commission belongs to."))
            return cleaned
        if cleaned.get("channel") is not None:
            self.add_error("new_channel", _("Choose a sales channel or name a new one, not both."))
            return cleaned
        known = SalesChannel.objects.filter(name__iexact=name).first()
        if known is not None and not known.is_active:
            switched_off = _("“{name}” is deactivated. Activate it under Sales channels first.", name=known)
            self.add_error("new_channel", switched_off)
        elif known is not None:
            cleaned["channel"] = known
        else:
            cleaned["channel"] = SalesChannel(name=name, payment=cleaned.get("new_payment") or Payment.CASH)
            commission = cleaned.get("new_commission") or 0
            self.terms = ChannelTerms(commission=commission, commission_before_tax=True)
        return cleaned

    def saving_channel_first(self, action: Callable[[], Result], submission: Submission) -> Result:
        """Save a channel that is new, then what is sold through it: all of it or nothing. Raises what either raises."""
        channel: SalesChannel = self.cleaned_data["channel"]
        if channel.pk is not None or self.terms is None:
            return action()
        try:
            with transaction(submission):
                add_channel(channel, self.terms, submission=submission)
                return action()
        except Exception:
            channel.pk = self.terms.pk = None  # undone with the rest
            raise
