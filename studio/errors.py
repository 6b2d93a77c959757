"""The error families that every room shares: messages are for the person at the bench and say what to do."""


class MeniscusError(Exception):
    """Raised when a request cannot be carried out; its text is shown to the user as it stands."""


class InputError(MeniscusError):
    """Raised when something typed or imported cannot be read; the text says what was expected."""

    def __init__(self, message: str, *, field: str | None = None) -> None:
        super().__init__(message)
        self.field = field


class QuantityError(InputError):
    """Raised when a quantity is unreadable, of the wrong measure, or needs a density that is not known."""


class MoneyError(InputError):
    """Raised when an amount of money is unreadable, too precise for its currency, or out of range."""


class PhotoError(MeniscusError):
    """Raised when an uploaded file cannot serve as a photo; the text says which files can."""


class SharingError(MeniscusError):
    """Raised when a whole cannot be shared: no weights, a negative weight, or weights that are all zero."""
