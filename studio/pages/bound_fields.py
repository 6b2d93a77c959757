"""Fields as a page draws them."""

from typing import Any

from django import forms
from django.forms.models import ModelChoiceField

LONG_TEXT, LONG_CHOICE = 61, 19  # characters: more than one column of four shows; amounts are typed in 60


class CalmField(forms.BoundField):
    """A field that is told to be wrong once it was judged: browsers call every required one wrong while it is blank."""

    def build_widget_attrs(self, attrs: dict[str, Any], widget: forms.Widget | None = None) -> dict[str, Any]:
        built: dict[str, Any] = super().build_widget_attrs(attrs, widget)
        if built.get("required"):
            built.setdefault("aria-invalid", "false")
        return built

    @property
    def span(self) -> str:
        """How much of a form's line it takes: all for long texts; two columns for names, notes and lists of names."""
        if (as_elsewhere := getattr(self.field, "span_of_rows", None)) is not None:
            return str(as_elsewhere)
        widget, longest = self.field.widget, getattr(self.field, "max_length", None)
        if isinstance(widget, forms.Textarea):
            return "is-wide"
        is_text = type(self.field) in (forms.CharField, forms.EmailField)
        is_long_text = is_text and longest is not None and longest >= LONG_TEXT
        return "is-broad" if is_long_text or self._lists_names else ""

    @property
    def _lists_names(self) -> bool:
        if not isinstance(self.field.widget, forms.Select):
            return False
        choices = getattr(self.field, "choices", ())
        is_at_hand = isinstance(choices, list)  # others would ask the database
        has_long = is_at_hand and any(
            isinstance(text, list) or len(str(text)) > LONG_CHOICE for _value, text in choices
        )
        return isinstance(self.field, ModelChoiceField) or has_long
