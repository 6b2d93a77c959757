"""What the page "Settings" links to. Each floor registers its own pages when it starts up, in the order shown."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from django.urls import reverse
from django.utils.translation import gettext_lazy

from studio.translation import _

if TYPE_CHECKING:
    from django.utils.functional import _StrOrPromise


@dataclass(frozen=True, slots=True)
class SettingsPage:
    """One page of settings: the name of its address, its title, and what is set there."""

    to: str
    title: "_StrOrPromise"
    text: "_StrOrPromise"
    icon: str = "settings"


_pages: dict[str, SettingsPage] = {}


def register(*pages: SettingsPage) -> None:
    """Link to these pages."""
    _pages.update({page.to: page for page in pages})


def way_back() -> dict[str, Any]:
    """What a page that is reached from the settings adds to its context."""
    return {"section": "settings", "back_url": reverse("settings"), "back_label": _("Settings")}


def pages() -> list[SettingsPage]:
    return list(_pages.values())


register(
    SettingsPage(
        "studio-settings",
        gettext_lazy("Studio settings"),
        gettext_lazy("Name, currency, language, number format, drying time."),
    ),
    SettingsPage(
        "rates",
        gettext_lazy("Hourly rates and tax"),
        gettext_lazy("What an hour costs and the tax in your prices, each from the day on which it starts."),
        icon="price",
    ),
    SettingsPage(
        "on-phones",
        gettext_lazy("On your phone"),
        gettext_lazy("Open this studio on a phone on the same Wi-Fi, and put it on the home screen."),
        icon="phone",
    ),
    SettingsPage(
        "logo",
        gettext_lazy("Logo"),
        gettext_lazy("A small picture at the top of every document."),
        icon="print",
    ),
    SettingsPage(
        "people", gettext_lazy("People"), gettext_lazy("Who can log in, and what each person can do and see.")
    ),
)
