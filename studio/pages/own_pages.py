"""How one person likes the pages: the phone's bottom bar, keyboard shortcuts, and the filters kept of each list."""

from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, QueryDict
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from studio.accounts.models import User
from studio.accounts.roles import EVERYONE, current_user, role_required
from studio.pages.filters import ListFilterSet
from studio.pages.forms import StudioForm
from studio.pages.navigation import BAR, bar, bar_choices
from studio.pages.saving import form_page
from studio.preferences.context import current_studio
from studio.translation import _

NO_KEYS, FILTERS = "no_keys", "filters"  # of a person's page choices, beside the bottom bar
KEEP, FORGET = "keep", "forget"  # parameters of a list: a filter bar was used; show everything again
PLACES = 4


def choose(person: User, **choices: Any) -> None:
    """Keep how a person likes the pages. It is no fact of the studio: the change log leaves it out."""
    person.page_choices = {**person.page_choices, **choices}
    person.save(update_fields=["page_choices"])


def way_of(request: HttpRequest, filters: ListFilterSet) -> HttpResponseRedirect | None:
    """Where a list opens instead: with the filters that this person last chose there, or without any.

    Only what is sent by the bar above the list is kept; a link to a part of the list changes nothing.
    """
    match = request.resolver_match
    if match is None or match.kwargs:
        return None
    person = current_user(request)
    kept = person.page_choices.get(FILTERS, {})
    if FORGET in request.GET:
        _keep(person, match.view_name, "")
        return HttpResponseRedirect(request.path)
    if KEEP in request.GET and filters.is_valid():
        _keep(person, match.view_name, _query_of(request.GET, filters))
    elif not request.GET and match.view_name in kept:
        return HttpResponseRedirect(f"{request.path}?{kept[match.view_name]}")
    return None


def _query_of(sent: QueryDict, filters: ListFilterSet) -> str:
    """What was asked for, as an address says it; nothing where nothing was."""
    asked = QueryDict(mutable=True)
    for name in filters.filters:
        if values := [value for value in sent.getlist(name) if value]:
            asked.setlist(name, values)
    if asked:
        asked[KEEP] = "1"
    return asked.urlencode()


def _keep(person: User, name: str, query: str) -> None:
    kept = person.page_choices.get(FILTERS, {})
    if kept.get(name, "") != query:
        others = {each: value for each, value in kept.items() if each != name}
        choose(person, **{FILTERS: {**others, **({name: query} if query else {})}})


class OwnPagesForm(StudioForm):
    """The four places of the bottom bar, and whether keys open pages."""

    has_keys = forms.BooleanField(
        label=gettext_lazy("Keyboard shortcuts"),
        required=False,
        help_text=gettext_lazy(
            "Press ? on any page for the list. Switch them off if you dictate to the screen."
        ),
    )

    def __init__(self, *args: Any, person: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offered = [(entry.to, entry.label) for entry in bar_choices(person)]
        now = [entry.to for entry in bar(person)]
        for number in range(1, PLACES + 1):
            self.fields[f"place_{number}"] = forms.ChoiceField(
                label=_("Bottom bar, place {number}", number=number),
                choices=offered,
                initial=now[number - 1] if number <= len(now) else None,
            )
        self.fields["has_keys"].initial = not person.page_choices.get(NO_KEYS)
        self.order_fields([*(f"place_{number}" for number in range(1, PLACES + 1)), "has_keys"])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        seen: set[str] = set()
        for number in range(1, PLACES + 1):
            chosen = cleaned.get(f"place_{number}")
            if chosen in seen:
                self.add_error(
                    f"place_{number}",
                    ValidationError(_("This page has a place already. Choose another one.")),
                )
            seen.add(chosen or "")
        return cleaned

    @property
    def places(self) -> list[str]:
        return [self.cleaned_data[f"place_{number}"] for number in range(1, PLACES + 1)]


@require_http_methods(["GET", "HEAD", "POST"])
@role_required(*EVERYONE)
def own_pages(request: HttpRequest) -> HttpResponse:
    """Choose the bottom bar's pages and whether keys open pages; forget the filters that are kept."""
    person = current_user(request)
    if "forget_filters" in request.POST:
        choose(person, **{FILTERS: {}})
        messages.success(request, _("All lists show everything again."))
        return redirect("own-pages")
    form = OwnPagesForm(request.POST or None, studio=current_studio(request), person=person)
    if form.is_valid():
        choose(person, **{BAR: form.places, NO_KEYS: not form.cleaned_data["has_keys"]})
        messages.success(request, _("Saved. This holds for your pages only."))
        return redirect("own-pages")
    return form_page(
        request,
        form,
        "own_pages.html",
        title=_("Your pages"),
        lead=_("Which pages are within reach of your thumb, and which keys open pages. For you alone."),
        kept=len(person.page_choices.get(FILTERS, {})),
        back_url=reverse("home"),
        back_label=_("Today"),
    )
