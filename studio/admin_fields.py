"""What every settings page shares: amounts typed as people type them, and who may look, change or neither."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from django import forms
from django.contrib import admin, messages
from django.core.exceptions import FieldDoesNotExist
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.text import capfirst

from studio.admin_edits import NothingLost
from studio.errors import InputError, MeniscusError
from studio.pages.forms import TypedField
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.values.quantities import input_text
from studio.values.units import Measure

if TYPE_CHECKING:
    from django.utils.functional import _StrOrPromise

    AnyAdmin = admin.ModelAdmin[Any]
    AnyInline = admin.TabularInline[Any, Any]
    AnyModelForm = forms.ModelForm[Any]
else:
    AnyAdmin, AnyInline, AnyModelForm = admin.ModelAdmin, admin.TabularInline, forms.ModelForm


class TypedModelForm(AnyModelForm):
    """A model form whose amounts are typed the studio's way. The page tells it the way before it is made."""

    formatter: Formatter

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not hasattr(self, "formatter"):
            self.formatter = Formatter.of(Studio.current())
        for name, field in self.fields.items():
            if isinstance(field, TypedField):
                field.formatter = self.formatter
            if field.label is None:
                field.label = self._label_of(name)

    def _label_of(self, name: str) -> "_StrOrPromise | None":
        """What the column is called: Django would label a field declared on the form by its English name."""
        try:
            return capfirst(getattr(self._meta.model._meta.get_field(name), "verbose_name", None))
        except FieldDoesNotExist:
            return None

    def write_amount(self, name: str, measure: str) -> None:
        """Show a stored quantity as it could have been typed."""
        amount = self.initial.get(name)
        if isinstance(amount, int):
            self.initial[name] = input_text(
                amount, Measure(measure), decimal_comma=self.formatter.decimal_comma
            )

    def read_amount(
        self, name: str, measure: str, *, density: int | None = None, allow_zero: bool = False
    ) -> None:
        """Read a typed quantity into the whole number that is stored; a problem lands on the field."""
        text = self.cleaned_data.get(name)
        if not text:
            self.cleaned_data[name] = None
            return
        try:
            reading = self.formatter.read(text, measure, density=density, allow_zero=allow_zero)
        except InputError as problem:
            self.add_error(name, str(problem))
        else:
            self.cleaned_data[name] = reading.quantity.amount


class ForOwners:
    """Permissions by role: whoever the settings open to may look at, add, change and remove."""

    admin_site: admin.AdminSite

    def has_view_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return self.admin_site.has_permission(request)

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return self.admin_site.has_permission(request)

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return self.admin_site.has_permission(request)

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return self.admin_site.has_permission(request)

    def has_module_permission(self, request: HttpRequest) -> bool:
        return self.admin_site.has_permission(request)


class ForNobody(ForOwners):
    """Looking only: what stands here is written elsewhere, or by the database itself."""

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


class Light(AnyAdmin):
    """Only the scripts that these pages use: nothing here is filled in from a title, and no list has bulk actions."""

    @property
    def media(self) -> forms.Media:
        names = ["vendor/jquery/jquery.min.js", "jquery.init.js", "core.js", "admin/RelatedObjectLookups.js"]
        return forms.Media(js=[f"admin/js/{name}" for name in names])


class Refusals(NothingLost, Light):
    """What a writer refuses becomes a message on the page, and nothing is saved."""

    def changeform_view(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        try:
            return super().changeform_view(request, *args, **kwargs)
        except MeniscusError as problem:
            self.message_user(request, str(problem), messages.ERROR)
            return redirect(request.get_full_path())


class SettingsAdmin(ForOwners, Refusals):
    """One kind of reference data."""

    actions = None
    list_per_page = 50

    def get_form(self, request: HttpRequest, obj: Any = None, change: bool = False, **kwargs: Any) -> Any:
        form = super().get_form(request, obj, change=change, **kwargs)
        form.formatter = Formatter.of(current_studio(request))
        return form


class LookOnlyAdmin(ForNobody, Light):
    """A table to search and read, with its figures written the studio's way."""

    actions = None
    list_per_page = 100
    show_full_result_count = False


def column(
    label: "_StrOrPromise", write: Callable[[Any], str], order: str | None = None
) -> Callable[[Any], str]:
    """A column of a list, written by a function; `order` names the field it sorts by."""

    def cell(row: Any) -> str:
        return write(row)

    cell.short_description = label  # type: ignore[attr-defined]
    cell.admin_order_field = order  # type: ignore[attr-defined]
    return cell
