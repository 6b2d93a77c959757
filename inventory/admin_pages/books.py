"""The ledger to look at, and how the books are kept."""

from collections.abc import Iterator
from datetime import date
from typing import Any

from django import forms
from django.contrib import admin
from django.http import HttpRequest
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html

from inventory.books_settings import choose_cost_flow, close_through
from inventory.models import Alert, Books, Entry, LotBalance, Posting
from studio.admin_fields import LookOnlyAdmin, SettingsAdmin, column
from studio.context import current
from studio.showing import Shown


@admin.register(Posting)
class PostingAdmin(LookOnlyAdmin):
    list_display = ["number", "kind", "effective_on", "recorded_by", "note", "in_full"]
    list_filter = ["kind", "recorded_by"]
    list_select_related = ["recorded_by"]
    search_fields = ["=number", "note"]
    date_hierarchy = "effective_on"

    @admin.display(description="Entries")
    def in_full(self, posting: Posting) -> str:
        return format_html('<a href="{}">Open</a>', reverse("inventory:posting", args=[posting.pk]))


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
        shown = Shown.of(current(request))
        return [
            column("Posting and line", str, "posting"),
            "place",
            "material",
            "lot",
            column("Quantity", lambda row: shown.quantity(row.quantity, row.material.measure)),
            column("Money", lambda row: shown.money(row.money)),
            "role",
        ]

    def get_fields(self, request: HttpRequest, obj: Any = None) -> list[Any]:
        return self.get_readonly_fields(request, obj)

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> list[Any]:
        shown = Shown.of(current(request))
        return [
            "posting",
            "line",
            "place",
            "material",
            "lot",
            "mix",
            "pour",
            "cause",
            column("Quantity", lambda row: shown.quantity(row.quantity, row.material.measure)),
            column("Money", lambda row: shown.money(row.money)),
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
        shown = Shown.of(current(request))
        return [
            "lot",
            column("Material", lambda row: row.lot.material.name, "lot__material__name"),
            column("Quantity", lambda row: shown.quantity(row.quantity, row.lot.material.measure)),
            column("Money", lambda row: shown.money(row.money), "money"),
            "last_posting",
        ]


@admin.register(Alert)
class AlertAdmin(LookOnlyAdmin):
    list_select_related = ["material"]
    search_fields = ["material__name"]
    list_filter = ["raised_at"]

    def get_list_display(self, request: HttpRequest) -> list[Any]:
        shown = Shown.of(current(request))
        return [
            "material",
            "raised_at",
            "cleared_at",
            column("Stock", lambda row: shown.quantity(row.stock, row.material.measure)),
            column("Level", lambda row: shown.quantity(row.level, row.material.measure)),
        ]

    def get_fields(self, request: HttpRequest, obj: Any = None) -> list[Any]:
        return self.get_readonly_fields(request, obj)

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> list[Any]:
        shown = Shown.of(current(request))
        return [
            "material",
            "raised_at",
            "cleared_at",
            "mailed_at",
            column("Stock", lambda row: shown.quantity(row.stock, row.material.measure)),
            column("On order", lambda row: shown.quantity(row.on_order, row.material.measure)),
            column("Level", lambda row: shown.quantity(row.level, row.material.measure)),
            "reason",
        ]


class BooksForm(forms.ModelForm):  # type: ignore[type-arg]
    class Meta:
        model = Books
        fields = ["cost_flow", "closed_through"]
        help_texts = {
            "cost_flow": "How cost follows use. Chosen before the first posting; after that it stays.",
            "closed_through": "Nothing may be posted on or before this day. A closed period stays closed.",
        }


@admin.register(Books)
class BooksAdmin(SettingsAdmin):
    """How the books are kept. The ledger's own columns are the database's, and never typed."""

    form = BooksForm
    list_display = ["__str__", "cost_flow", "closed_through"]
    fields = ["cost_flow", "closed_through", "last_number", "last_hash", "last_recorded_at"]
    readonly_fields = ["last_number", "last_hash", "last_recorded_at"]

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def save_model(self, request: HttpRequest, obj: Books, form: Any, change: bool) -> None:
        if "cost_flow" in form.changed_data:
            choose_cost_flow(cost_flow=obj.cost_flow)
        if "closed_through" in form.changed_data:
            close_through(day=obj.closed_through or date.min, today=timezone.localdate())
