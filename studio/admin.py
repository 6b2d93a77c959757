"""Settings pages of the ground floor: the studio itself, and the people who sign in."""

from typing import Any

from babel import Locale, UnknownLocaleError
from django.apps import apps
from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.contrib.auth.forms import AdminUserCreationForm
from django.contrib.auth.models import Group
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from studio.admin_fields import ForOwners, Refusals, SettingsAdmin, TypedModelForm
from studio.errors import InputError
from studio.forms import MoneyField, PercentField
from studio.models import Studio, User
from studio.money import minor_units
from studio.people import save_person

admin.site.unregister(Group)  # what somebody may do follows from the role


class StudioForm(TypedModelForm):
    wage_per_hour = MoneyField(help_text="What an hour of your own work costs, for cost sheets.")
    overhead_per_hour = MoneyField(help_text="Rent, light, insurance and the like, per hour worked.")
    tax_rate = PercentField(
        help_text="Tax inside the prices shown, such as 20 %. 0 % if you are not registered."
    )
    reserve = PercentField(help_text="Extra paint planned on top of the need, such as 10 %.")

    class Meta:
        model = Studio
        exclude: list[str] = []

    def clean_currency(self) -> str:
        currency = str(self.cleaned_data["currency"]).strip().upper()
        try:
            minor_units(currency)
        except InputError as problem:
            self.add_error("currency", str(problem))
        return currency

    def clean_locale(self) -> str:
        locale = str(self.cleaned_data["locale"]).strip().replace("-", "_")
        try:
            Locale.parse(locale)
        except (ValueError, UnknownLocaleError):
            self.add_error("locale", "Write a language and a country, such as en_GB or de_DE.")
        return locale


@admin.register(Studio)
class StudioAdmin(SettingsAdmin):
    """The one studio: never added, never removed."""

    form = StudioForm
    fieldsets = [
        (None, {"fields": ["name", "currency", "locale", "fluid_system", "paper"]}),
        ("Work and tax", {"fields": ["wage_per_hour", "overhead_per_hour", "tax_rate"]}),
        ("Pouring", {"fields": ["reserve", "varnish_after_days"]}),
    ]

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> list[str]:
        # Every amount in the books is in the studio's currency: it stays once anything has been posted.
        begun = apps.get_model("inventory", "Posting")._default_manager.exists()
        return ["currency"] if begun else []

    def changelist_view(self, request: HttpRequest, extra_context: Any = None) -> HttpResponse:
        return redirect("admin:studio_studio_change", 1)


class NewPersonForm(AdminUserCreationForm):  # type: ignore[type-arg]
    class Meta:
        model = User
        fields = ["username", "email", "role", "may_see_money"]


@admin.register(User)
class PersonAdmin(ForOwners, Refusals, UserAdmin):  # type: ignore[type-arg]
    """People who sign in. Nobody is ever removed, because postings name them: switch them off instead."""

    actions = None
    add_form = NewPersonForm
    list_display = ["username", "first_name", "last_name", "role", "may_see_money", "is_active", "last_login"]
    list_filter = ["role", "is_active"]
    search_fields = ["username", "first_name", "last_name", "email"]
    filter_horizontal = ()
    readonly_fields = ["last_login", "date_joined"]
    fieldsets = [
        (None, {"fields": ["username", "password"]}),
        ("Who", {"fields": ["first_name", "last_name", "email"]}),
        (
            "What they may do",
            {
                "fields": ["role", "may_see_money", "is_active"],
                "description": "Owners do everything. Helpers log and count. Bookkeepers read, and change nothing. "
                "Whoever has left is switched off here: what they posted keeps their name.",
            },
        ),
        ("When", {"fields": ["last_login", "date_joined"]}),
    ]
    add_fieldsets = [
        (None, {"fields": ["username", "password1", "password2", "role", "may_see_money", "email"]})
    ]

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def save_model(self, request: HttpRequest, obj: User, form: Any, change: bool) -> None:
        save_person(person=obj)
