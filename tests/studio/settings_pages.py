"""Looking at the settings pages: their addresses, what a form would send, and what it complains of."""

from typing import Any

from django.test import Client
from django.urls import reverse


def page_of(model: Any, action: str, *arguments: Any) -> str:
    return reverse(f"admin:{model._meta.app_label}_{model._meta.model_name}_{action}", args=arguments)


def values(client: Client, address: str) -> dict[str, Any]:
    """What a settings form would send if nothing in it were changed."""
    page: Any = client.get(address)
    form = page.context["adminform"].form
    sent: dict[str, Any] = {"seen": getattr(page.wsgi_request, "seen", "")}
    for bound in form:
        value = bound.value()
        if value is not None and value is not False:
            sent[bound.html_name] = "on" if value is True else bound.field.prepare_value(value)
    return sent


def errors(response: Any) -> str:
    found = response.context["errors"]
    return " ".join(str(item) for item in found)
