"""Settings pages of the ground floor: the studio itself, and the people who sign in."""

from typing import Any

from django import forms
from django.apps import apps
from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.contrib.auth.forms import AdminUserCreationForm
from django.contrib.auth.models import Group
from django.db.models import Exists, OuterRef, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext_lazy

from studio.accounts.actions import hold_owners, save_person
from studio.accounts.models import User
from studio.accounts.two_factor import phones_of
from studio.admin_fields import ForOwners, Refusals, SettingsAdmin, TypedModelForm
from studio.errors import InputError
from studio.pages.forms import MoneyField, PercentField
from studio.preferences.locale_choices import CurrencyInput, ways_of_writing
from studio.preferences.models import Studio
from studio.values.money import minor_units

admin.site.unregister(Group)  # what somebody may do follows from the role


class StudioForm(TypedModelForm):
    wage_per_hour = MoneyField(
        help_text=gettext_lazy("What an hour of your own labour costs, for cost sheets.")
    )
    overhead_per_hour = MoneyField(
        help_text=gettext_lazy("Rent, light, insurance and so on, per hour worked.")
    )
    tax_rate = PercentField(
        help_text=gettext_lazy(
            "Tax included in the prices shown, such as 20%. Enter 0% if you are not registered."
        )
    )
    reserve = PercentField(
        help_text=gettext_lazy("Extra paint planned on top of what is needed, such as 10%.")
    )

    locale = forms.ChoiceField(
        help_text=gettext_lazy("How amounts and dates are written on every page and document."),
        error_messages={"invalid_choice": gettext_lazy("Choose one of the formats in the list.")},
    )

    class Meta:
        model = Studio
        exclude: list[str] = []
        widgets = {"currency": CurrencyInput}
        help_texts = {
            "currency": gettext_lazy(
                "Three-letter code, such as GBP, EUR or USD. It cannot be changed once anything has "
                "been recorded."
            )
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["locale"].choices = ways_of_writing(self.instance.locale, self.instance.currency)  # type: ignore[attr-defined]

    def clean_currency(self) -> str:
        currency = str(self.cleaned_data["currency"]).strip().upper()
        try:
            minor_units(currency)
        except InputError as problem:
            self.add_error("currency", str(problem))
        return currency


@admin.register(Studio)
class StudioAdmin(SettingsAdmin):
    """The one studio: never added, never removed."""

    form = StudioForm
    fieldsets = [
        (None, {"fields": ["name", "currency", "language", "locale", "fluid_system", "paper"]}),
        (gettext_lazy("Labour and tax"), {"fields": ["wage_per_hour", "overhead_per_hour", "tax_rate"]}),
        (gettext_lazy("Pouring"), {"fields": ["reserve", "varnish_after_days"]}),
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
    list_display = [
        "username",
        "first_name",
        "last_name",
        "role",
        "may_see_money",
        "is_active",
        "has_codes",
        "last_login",
    ]
    list_filter = ["role", "is_active"]
    search_fields = ["username", "first_name", "last_name", "email"]
    filter_horizontal = ()
    readonly_fields = ["last_login", "date_joined"]
    fieldsets = [
        (None, {"fields": ["username", "password"]}),
        (gettext_lazy("Who"), {"fields": ["first_name", "last_name", "email"]}),
        (
            gettext_lazy("Permissions"),
            {
                "fields": ["role", "may_see_money", "language", "is_active"],
                "description": gettext_lazy(
                    "Owners can do everything. Helpers record work and stocktakes. Bookkeepers can "
                    "read but change nothing. Deactivate people who have left; their name stays on "
                    "their entries."
                ),
            },
        ),
        (gettext_lazy("When"), {"fields": ["last_login", "date_joined"]}),
    ]
    add_fieldsets = [
        (None, {"fields": ["username", "password1", "password2", "role", "may_see_money", "email"]})
    ]

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def hold(self, row: User) -> None:
        hold_owners()
        super().hold(row)

    def user_change_password(self, request: HttpRequest, id: str, form_url: str = "") -> HttpResponse:  # noqa: A002
        return self.refusing(
            request, lambda: super(PersonAdmin, self).user_change_password(request, id, form_url)
        )

    @admin.display(boolean=True, description=gettext_lazy("two-factor sign-in"))
    def has_codes(self, person: User) -> bool:
        return bool(person.has_codes)  # type: ignore[attr-defined]  # from the query below

    def get_queryset(self, request: HttpRequest) -> QuerySet[User]:
        people: QuerySet[User] = super().get_queryset(request)
        return people.annotate(has_codes=Exists(phones_of(OuterRef("pk"))))

    def save_model(self, request: HttpRequest, obj: User, form: Any, change: bool) -> None:
        save_person(person=obj)
