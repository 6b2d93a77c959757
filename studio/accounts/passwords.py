"""What a password may not be, besides what the framework refuses."""

import string

from django.contrib.auth.password_validation import (
    CommonPasswordValidator,
    MinimumLengthValidator,
    get_default_password_validators,
    password_validators_help_text_html,
)
from django.core.exceptions import ValidationError

from studio.accounts.public_passwords import is_public
from studio.preferences.models import Studio
from studio.translation import _

AROUND = string.digits + string.punctuation + string.whitespace
LONGEST_REPEAT = 4
# What somebody who guesses at a studio's passwords would try first, besides the studio's own name.
STUDIO_WORDS = {
    "meniscus", "studio", "acrylic", "bookkeeper", "canvas", "fluid", "helper", "medium", "owner", "paint", "password",
    "pouring", "pour",
}  # fmt: skip
LEAST_BESIDES = 8  # letters
LEAST_OWN = 4  # letters of a word of the studio's name


class CommonWithDigitsValidator(CommonPasswordValidator):
    """Refuses a common password made longer: by digits and signs around it, or by saying it more than once."""

    def validate(self, password: str, user: object = None) -> None:
        core = password.casefold().strip(AROUND)
        repeated = {
            core[: len(core) // times] for times in range(2, LONGEST_REPEAT + 1) if _repeats(core, times)
        }
        if not core or self.passwords & {core, *repeated}:
            raise ValidationError(
                _("This is a common password with digits or signs added. Use four or more unrelated words."),
                code="password_too_common",
            )


def _repeats(text: str, times: int) -> bool:
    part = text[: len(text) // times]
    return bool(part) and part * times == text


class StudioWordsValidator:
    """Refuses a password that is little else than words of the trade, of this service or of the studio's name."""

    def validate(self, password: str, user: object = None) -> None:
        name, is_demo = Studio.objects.values_list("name", "is_demo").first() or ("", False)
        if is_public(password) and not is_demo:
            raise ValidationError(
                _("Anyone can read this password in the demo. Choose one of your own."),
                code="public_password",
            )
        own = {word for word in name.casefold().split() if len(word) >= LEAST_OWN}
        typed = rest = password.casefold()
        for word in sorted(STUDIO_WORDS | own, key=len, reverse=True):
            rest = rest.replace(word, "")
        if rest != typed and sum(map(str.isalpha, rest)) < LEAST_BESIDES:
            raise ValidationError(
                _("Words like these are tried first in a studio. Use four or more unrelated words."),
                code="password_of_studio_words",
            )

    def get_help_text(self) -> str:
        return _("Use four or more unrelated words: no common password, and not your name or the studio’s.")


def password_rules() -> str:
    """What is said before a new password is typed: how long it must be, and one line for all that is refused."""
    told = (MinimumLengthValidator, StudioWordsValidator)
    rules: str = password_validators_help_text_html(
        [each for each in get_default_password_validators() if isinstance(each, told)]
    )
    return rules
