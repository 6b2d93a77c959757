"""The people who sign in: added, changed, given another password."""

from dataclasses import fields
from typing import Any

from django import forms
from django.conf import settings
from django.contrib.auth.password_validation import password_validators_help_text_html
from django.utils.translation import gettext_lazy

from studio.accounts.actions import PersonFacts
from studio.accounts.models import Role, User
from studio.pages.forms import EditForm, StudioForm
from studio.translation import _


class NewPassword(StudioForm):
    """A password that somebody else will sign in with, typed twice."""

    password = forms.CharField(
        label=gettext_lazy("Password"),
        max_length=4096,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )
    again = forms.CharField(
        label=gettext_lazy("Repeat password"),
        max_length=4096,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["password"].help_text = password_validators_help_text_html()

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("again") and cleaned.get("password") != cleaned["again"]:
            self.add_error("again", _("The two passwords differ. Please enter the same one twice."))
        return cleaned


class PasswordReset(EditForm, NewPassword):
    """Another password for somebody."""

    advice = gettext_lazy("Enter the new password again.")


class PersonForm(StudioForm):
    """What the studio keeps of a person."""

    username = forms.CharField(
        label=gettext_lazy("User name"),
        max_length=150,
        help_text=gettext_lazy("Used to log in. Letters, digits and @ . + - _ only."),
        widget=forms.TextInput(
            attrs={"autocapitalize": "none", "autocomplete": "off", "spellcheck": "false"}
        ),
    )
    first_name = forms.CharField(label=gettext_lazy("First name"), max_length=150, required=False)
    last_name = forms.CharField(label=gettext_lazy("Last name"), max_length=150, required=False)
    email = forms.EmailField(label=gettext_lazy("Email address"), max_length=254, required=False)
    role = forms.ChoiceField(
        label=gettext_lazy("Role"),
        choices=Role.choices,
        initial=Role.HELPER,
        help_text=gettext_lazy(
            "Owners can do everything. Helpers record work and stocktakes. Bookkeepers can read "
            "everything but change nothing."
        ),
    )
    may_see_money = forms.BooleanField(
        label=gettext_lazy("May see costs and prices"),
        required=False,
        help_text=gettext_lazy("For helpers only. Owners and bookkeepers always see them."),
    )
    language = forms.ChoiceField(label=gettext_lazy("Language"), required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        usual = _("The studio's ({language})", language=dict(settings.LANGUAGES)[self.studio.language])
        choice = self.fields["language"]
        if isinstance(choice, forms.ChoiceField):
            choice.choices = [("", usual), *settings.LANGUAGES]

    def facts(self) -> PersonFacts:
        """The person for the action."""
        return PersonFacts(**{field.name: self.cleaned_data[field.name] for field in fields(PersonFacts)})


class EditPerson(EditForm, PersonForm):
    """A person's own facts, changed."""

    def __init__(self, *args: Any, person: User, seen: int, **kwargs: Any) -> None:
        known = {field.name: getattr(person, field.name) for field in fields(PersonFacts)}
        super().__init__(*args, initial={"seen": seen} | known, **kwargs)


class NewPerson(NewPassword, PersonForm):
    """Somebody new, with the first password."""

    field_order = [*PersonForm.base_fields, "password", "again"]
