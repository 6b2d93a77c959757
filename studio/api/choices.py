"""What sets of choices are called in the API's schema. Each floor names its own, from its app's `ready`."""

from django.conf import settings


def name_choices(**choices: str) -> None:
    """Give sets of choices (the dotted paths of their classes) their names in the schema."""
    overrides: dict[str, str] = settings.SPECTACULAR_SETTINGS["ENUM_NAME_OVERRIDES"]  # type: ignore[assignment]
    overrides.update(choices)
