"""The people who sign in, added, changed, given another password; and what each types to sign in."""

from typing import Any

from django import forms
from django.contrib.auth.forms import PasswordChangeForm, SetPasswordMixin
from django.utils.functional import lazy
from django.utils.translation import gettext_lazy

from studio.accounts.actions import PERSON_FIELDS
from studio.accounts.models import User
from studio.accounts.passwords import password_rules
from studio.pages.forms import EditForm, RowForm, StudioForm
from studio.preferences.context import own_languages

RULES = lazy(password_rules, str)()


class NewPassword(SetPasswordMixin, StudioForm):  # type: ignore[type-arg]  # not subscriptable at run time
    """A password that somebody else will sign in with, typed twice."""

    error_messages = {
        "password_mismatch": gettext_lazy("The two passwords differ. Please enter the same one twice.")
    }
    password, again = SetPasswordMixin.create_password_fields(label2=gettext_lazy("Repeat password"))
    password.help_text, again.help_text = RULES, ""

    def clean(self) -> dict[str, Any]:
        self.validate_passwords("password", "again")
        return self.cleaned_data


class PasswordReset(EditForm, NewPassword):
    """Another password for somebody."""

    advice = gettext_lazy("Enter the new password again.")


class OwnPasswordForm(PasswordChangeForm):
    """One's own new password, after the old one."""

    new_password1, new_password2 = SetPasswordMixin.create_password_fields(
        label1=gettext_lazy("New password"), label2=gettext_lazy("Repeat password")
    )
    new_password1.help_text, new_password2.help_text = RULES, ""


class PersonForm(RowForm):
    """What the studio keeps of a person."""

    language = forms.ChoiceField(label=gettext_lazy("Language"), required=False, choices=own_languages)

    class Meta:
        model = User
        fields = PERSON_FIELDS
        labels = {"username": gettext_lazy("Username")}
        help_texts = {
            "username": gettext_lazy("Used to log in. Letters, digits and @ . + - _ only."),
            "role": gettext_lazy(
                "Owners can do everything. Helpers record work and stocktakes. Bookkeepers can read "
                "everything but change nothing."
            ),
        }
        widgets = {
            "username": forms.TextInput(
                attrs={"autocapitalize": "none", "autocomplete": "off", "spellcheck": "false"}
            )
        }


class NewPerson(NewPassword, PersonForm):
    """Somebody new, with the first password."""

    field_order = [*PERSON_FIELDS, "password", "again"]


class FirstOwnerForm(NewPassword):
    """Whoever owns the studio, with a password, and on the network the code that the terminal shows."""

    username = forms.CharField(
        label=gettext_lazy("Username"),
        max_length=150,
        help_text=gettext_lazy("Used to log in. Letters, digits and @ . + - _ only."),
        widget=forms.TextInput(
            attrs={"autocapitalize": "none", "autocomplete": "username", "spellcheck": "false"}
        ),
    )
    code = forms.CharField(
        label=gettext_lazy("One-time code"),
        max_length=60,
        help_text=gettext_lazy("Shown in the terminal of the studio's computer, such as K7MP-9QXT."),
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}
        ),
    )

    field_order = ["code", "username", "password", "again"]

    def __init__(self, *args: Any, with_code: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not with_code:
            del self.fields["code"]


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
