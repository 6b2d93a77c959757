"""What a password may not be, besides what the framework refuses."""

import string

from django.contrib.auth.password_validation import CommonPasswordValidator
from django.core.exceptions import ValidationError

from studio.translation import _

AROUND = string.digits + string.punctuation + string.whitespace
LONGEST_REPEAT = 4


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
