"""The ledger to look at, and how the books are kept."""

from collections.abc import Iterator
from datetime import date
from typing import Any

from django import forms
from django.contrib import admin
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext_lazy

from inventory.ledger.closing import choose_costing_method, close_through
from inventory.ledger.models import Books, Entry, LotBalance, Posting
from inventory.reordering.models import Alert
from studio.admin_fields import LookOnlyAdmin, SettingsAdmin, column
from studio.pages.glossary.views import explained
from studio.pages.submissions import submission_from
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _, pgettext


@admin.register(Posting)
class PostingAdmin(LookOnlyAdmin):
    list_display = ["number", "kind", "effective_on", "recorded_by", "note", "in_full"]
    list_filter = ["kind", "recorded_by"]
    list_select_related = ["recorded_by"]
    search_fields = ["=number", "note"]
    date_hierarchy = "effective_on"

    @admin.display(description=gettext_lazy("Entries"))
    def in_full(self, posting: Posting) -> str:
        address = reverse("inventory:posting", args=[posting.pk])
        return format_html('<a href="{}">{}</a>', address, pgettext("verb", "Open"))


class RoleFilter(admin.ChoicesFieldListFilter):
    """What materials came to a pour as. Most entries have no role, and a nameless line could not be read."""

    def choices(self, changelist: Any) -> Iterator[Any]:
        yield from (choice for choice in super().choices(changelist) if choice["display"])


@admin.register(Entry)
class EntryAdmin(LookOnlyAdmin):
    list_filter = ["place", ("role", RoleFilter), "posting__kind"]
    list_select_related = ["posting", "material", "lot"]
    search_fields = ["=posting__number", "material__name"]

    def get_list_display(self, request: HttpRequest) -> list[Any]:
        formatter = Formatter.of(current_studio(request))
        return [
            column(_("Posting and line"), str, "posting"),
            "place",
            "material",
            "lot",
            column(_("Quantity"), lambda row: formatter.quantity(row.quantity, row.material.measure)),
            column(_("Money"), lambda row: formatter.money(row.money)),
            "role",
        ]

    def get_fields(self, request: HttpRequest, obj: Any = None) -> list[Any]:
        return self.get_readonly_fields(request, obj)

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> list[Any]:
        formatter = Formatter.of(current_studio(request))
        return [
            "posting",
            "line",
            "place",
            "material",
            "lot",
            "mix",
            "pour",
            "reason",
            column(_("Quantity"), lambda row: formatter.quantity(row.quantity, row.material.measure)),
            column(_("Money"), lambda row: formatter.money(row.money)),
            "role",
        ]


@admin.register(LotBalance)
class LotBalanceAdmin(LookOnlyAdmin):
    list_select_related = ["lot__material", "last_posting"]
    search_fields = ["lot__material__name"]

    def get_list_display(self, request: HttpRequest) -> list[Any]:
        return self.get_readonly_fields(request)

    def get_fields(self, request: HttpRequest, obj: Any = None) -> list[Any]:
        return self.get_readonly_fields(request, obj)

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> list[Any]:
        formatter = Formatter.of(current_studio(request))
        return [
            "lot",
            column(_("Material"), lambda row: row.lot.material.name, "lot__material__name"),
            column(_("Quantity"), lambda row: formatter.quantity(row.quantity, row.lot.material.measure)),
            column(_("Money"), lambda row: formatter.money(row.money), "money"),
            "last_posting",
        ]


@admin.register(Alert)
class AlertAdmin(LookOnlyAdmin):
    list_select_related = ["material"]
    search_fields = ["material__name"]
    list_filter = ["raised_at"]

    def get_list_display(self, request: HttpRequest) -> list[Any]:
        formatter = Formatter.of(current_studio(request))
        return [
            "material",
            "raised_at",
            "cleared_at",
            column(_("Stock"), lambda row: formatter.quantity(row.stock, row.material.measure)),
            column(_("In stock"), lambda row: formatter.quantity(row.level, row.material.measure)),
        ]

    def get_fields(self, request: HttpRequest, obj: Any = None) -> list[Any]:
        return self.get_readonly_fields(request, obj)

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> list[Any]:
        formatter = Formatter.of(current_studio(request))
        return [
            "material",
            "raised_at",
            "cleared_at",
            "mailed_at",
            column(_("Stock"), lambda row: formatter.quantity(row.stock, row.material.measure)),
            column(_("On order"), lambda row: formatter.quantity(row.on_order, row.material.measure)),
            column(_("In stock"), lambda row: formatter.quantity(row.level, row.material.measure)),
            "reason",
        ]


class BooksForm(forms.ModelForm):  # type: ignore[type-arg]
    class Meta:
        model = Books
        fields = ["costing_method", "closed_through"]
        help_texts = {
            "costing_method": gettext_lazy(
                "Choose this before anything is recorded; it cannot be changed afterwards."
            ),
            "closed_through": gettext_lazy(
                "Nothing can be posted on or before this day. A closed period stays closed."
            ),
        }


def _costing_methods() -> SafeString:
    """Both ways to count costs in plain words, each with its place on the page of words."""
    first_in_first_out = _(
        "First in, first out: paint costs what its own bottle cost, and the oldest is used first. Of "
        "two litre bottles bought for 10.00 and 14.00, the first litre used costs 10.00 and the "
        "second 14.00."
    )
    average = _(
        "Weighted average: all bottles of a material cost the same. Each of the two litres costs 12.00, and every "
        "delivery changes the average."
    )
    return format_html(
        "<p>{} {}</p><p>{} {}</p>",
        first_in_first_out,
        explained("first-in-first-out"),
        average,
        explained("weighted-average"),
    )


@admin.register(Books)
class BooksAdmin(SettingsAdmin):
    """How the books are kept. The ledger's own columns are the database's, and never typed."""

    form = BooksForm
    list_display = ["__str__", "costing_method", "closed_through"]
    readonly_fields = ["last_number", "last_hash", "last_recorded_at"]
    radio_fields = {"costing_method": admin.VERTICAL}

    def get_fieldsets(self, request: HttpRequest, obj: Any = None) -> Any:
        return [
            (_("Costing method"), {"fields": ["costing_method"], "description": _costing_methods()}),
            (
                _("Closing a period"),
                {"fields": ["closed_through"], "description": explained("closed-period")},
            ),
            (
                _("Last posting"),
                {
                    "fields": ["last_number", "last_hash", "last_recorded_at"],
                    "description": explained("seal"),
                },
            ),
        ]

    def changelist_view(self, request: HttpRequest, extra_context: Any = None) -> HttpResponse:
        return redirect("admin:inventory_books_change", 1)

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def save_model(self, request: HttpRequest, obj: Books, form: Any, change: bool) -> None:
        if "costing_method" in form.changed_data:
            choose_costing_method(costing_method=obj.costing_method, submission=submission_from(request))
        if "closed_through" in form.changed_data:
            close_through(day=obj.closed_through or date.min, submission=submission_from(request))
