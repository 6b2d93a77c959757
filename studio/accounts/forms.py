"""The people who sign in, added, changed, given another password; and what each types to sign in."""

from dataclasses import fields
from typing import Any

from django import forms
from django.contrib.auth.forms import SetPasswordMixin
from django.utils.translation import gettext_lazy

from studio.accounts.actions import PersonFacts
from studio.accounts.models import Role, User
from studio.pages.forms import EditForm, StudioForm
from studio.preferences.locale_choices import own_languages


class NewPassword(SetPasswordMixin, StudioForm):  # type: ignore[type-arg]  # not subscriptable at run time
    """A password that somebody else will sign in with, typed twice."""

    error_messages = {
        "password_mismatch": gettext_lazy("The two passwords differ. Please enter the same one twice.")
    }
    password, again = SetPasswordMixin.create_password_fields(label2=gettext_lazy("Repeat password"))

    def clean(self) -> dict[str, Any]:
        self.validate_passwords("password", "again")
        return self.cleaned_data


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
    language = forms.ChoiceField(label=gettext_lazy("Language"), required=False, choices=own_languages)

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


def _code(help_text: Any, *, label: Any = None, **attrs: object) -> forms.CharField:
    """A field for a code from the phone, or from the sheet of recovery codes."""
    typed_as_is = {"autocomplete": "one-time-code", "autocapitalize": "none", "spellcheck": "false"}
    widget = forms.TextInput(attrs=typed_as_is | attrs)
    return forms.CharField(
        label=label or gettext_lazy("Code"), max_length=60, help_text=help_text, widget=widget
    )


class CodeForm(forms.Form):
    """A code, typed after the password."""

    code = _code(
        gettext_lazy("The six-digit code now shown on your phone."), inputmode="numeric", autofocus=True
    )


class RecoveryForm(forms.Form):
    """A recovery code in place of one from the phone."""

    code = _code(
        gettext_lazy("Sixteen letters and digits from your sheet. Each code works once."),
        label=gettext_lazy("Recovery code"),
        autocomplete="off",
        autofocus=True,
    )


class ConfirmForm(forms.Form):
    """The first code of a new phone."""

    code = _code(gettext_lazy("The six-digit code now shown in the app."), inputmode="numeric")


class PasswordForm(forms.Form):
    """One's own password, asked for again before anything about signing in is changed."""

    password = forms.CharField(
        label=gettext_lazy("Password"),
        max_length=4096,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )


class PasswordAndCodeForm(PasswordForm):
    """The password and a code, before codes are switched off or recovery codes made anew."""

    code = _code(gettext_lazy("The six-digit code on your phone, or one of your recovery codes."))
