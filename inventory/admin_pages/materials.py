"""Materials, techniques, causes and recipes."""

from typing import Any

from django import forms
from django.contrib import admin
from django.http import HttpRequest
from django.utils.translation import gettext_lazy

from inventory.ledger.models import Reason
from inventory.materials.models import Kind, Material, MeasureChoice
from inventory.recipes.models import Recipe
from inventory.sessions.models import Technique
from studio.admin_fields import LookOnlyAdmin, SettingsAdmin, TypedModelForm
from studio.pages.forms import MoneyField, PercentField, RatioField, SizeField
from studio.translation import _
from studio.values.sizes import Size


class MaterialForm(TypedModelForm):
    density = RatioField(
        unit="g/mL",
        required=False,
        help_text=gettext_lazy("Such as 1.12 g/mL. Best: weigh a measured sample."),
    )
    water_share = PercentField(
        initial="0 %",
        help_text=gettext_lazy("Added water it brings to a mix. Tap water is 100 %; paint as bought is 0 %."),
    )
    free_rate = MoneyField(
        initial="0",
        help_text=gettext_lazy("Set cost of a free material per litre or kilogram. Usually nothing."),
    )
    size = SizeField(
        label=gettext_lazy("Size"),
        required=False,
        help_text=gettext_lazy(
            "Surfaces only, height first: 30 x 40 x 1.8 cm, 8 x 10 in, 30 cm round x 1.8 cm."
        ),
    )
    reorder_level = forms.CharField(
        required=False,
        max_length=60,
        help_text=gettext_lazy(
            "Your own level, such as 500 ml. Left empty: worked out from use and lead time."
        ),
    )
    safety_stock = forms.CharField(
        required=False,
        max_length=60,
        help_text=gettext_lazy("Your own safety stock. Left empty: worked out."),
    )

    class Meta:
        model = Material
        exclude = ["height", "width", "depth", "is_round"]
        help_texts = {
            "measure": gettext_lazy(
                "Paint and medium by volume or mass, canvases and boxes by count. It stays once the material is in use."
            )
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        item = self.instance
        if item.height and item.width:
            size = Size(item.height, item.width, item.depth, item.is_round)
            self.initial["size"] = size.typed(decimal_comma=self.formatter.decimal_comma)
        for name in ("reorder_level", "safety_stock"):
            if item.measure:
                self.write_amount(name, item.measure)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        measure = cleaned.get("measure") or self.instance.measure
        for name in ("reorder_level", "safety_stock"):
            if not measure:
                cleaned[name] = None  # what was typed cannot be read before the measure is chosen
            elif name not in self.errors:
                self.read_amount(name, measure, density=cleaned.get("density"), allow_zero=True)
        if "size" not in self.errors:
            self._read_size(cleaned, measure)
        return cleaned

    def _read_size(self, cleaned: dict[str, Any], measure: str) -> None:
        size: Size | None = cleaned.get("size")
        if cleaned.get("kind") == Kind.SURFACE:
            if size is None:
                self.add_error("size", _("A surface needs its size, such as 30 x 40 x 1.8 cm."))
            if measure != MeasureChoice.COUNT:
                self.add_error(
                    "measure" if "measure" in self.fields else None, _("A surface is counted: each.")
                )
            if size is not None and size.depth is None and cleaned.get("sides_painted"):
                self.add_error(
                    "size", _("Its sides are painted, so write the depth as well: 30 x 40 x 1.8 cm.")
                )
        item = self.instance
        item.height, item.width = (size.height, size.width) if size else (None, None)
        item.depth, item.is_round = (size.depth, size.round) if size else (None, False)


@admin.register(Material)
class MaterialAdmin(SettingsAdmin):
    form = MaterialForm
    list_display = ["name", "kind", "measure", "maker", "is_archived"]
    list_filter = ["kind", "is_archived", "is_free"]
    search_fields = ["name", "maker"]
    fieldsets = [
        (None, {"fields": ["name", "kind", "measure", "maker", "colour", "density", "water_share"]}),
        (gettext_lazy("Surface"), {"fields": ["size", "sides_painted"]}),
        (gettext_lazy("Ordering and keeping"), {"fields": ["reorder_level", "safety_stock", "keeps_days"]}),
        (
            gettext_lazy("Safety data sheet"),
            {
                "fields": ["signal_word", "hazards", "safety_sheet_dated"],
                "description": gettext_lazy(
                    "Copied from the supplier's own sheet. Follow the label, the sheet and local rules."
                ),
            },
        ),
        (gettext_lazy("Free materials"), {"fields": ["is_free", "free_rate"]}),
        (None, {"fields": ["notes", "is_archived"]}),
    ]

    def get_readonly_fields(self, request: HttpRequest, obj: Material | None = None) -> list[str]:
        """Amounts already kept are in the material's measure, so it stays once there are any."""
        return ["measure", "is_free"] if obj is not None and _is_in_use(obj) else []


def _is_in_use(material: Material) -> bool:
    return any(
        rows.exists()
        for rows in (
            material.lots.all(),
            material.entries.all(),
            material.parts_of.all(),
            material.order_lines.all(),
            material.supplies.all(),
        )
    )


class TechniqueForm(TypedModelForm):
    coverage = RatioField(
        unit="mL/cm²",
        places=3,
        help_text=gettext_lazy("Paint poured per surface area, run-off included: 0.22 mL/cm²."),
    )

    class Meta:
        model = Technique
        exclude: list[str] = []


@admin.register(Technique)
class TechniqueAdmin(SettingsAdmin):
    form = TechniqueForm
    list_display = ["name", "source"]
    search_fields = ["name"]


@admin.register(Reason)
class ReasonAdmin(SettingsAdmin):
    """Causes may be added and renamed; the ledger names them, so none is removed and no code changes."""

    list_display = ["name", "kind", "code"]
    list_filter = ["kind"]
    search_fields = ["name"]

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def get_readonly_fields(self, request: HttpRequest, obj: Reason | None = None) -> list[str]:
        return ["code", "kind"] if obj is not None else []


@admin.register(Recipe)
class RecipeAdmin(LookOnlyAdmin):
    """Recipes are written, version by version, on their own pages."""

    list_display = ["name", "makes", "is_archived"]
    list_filter = ["is_archived"]
    list_select_related = ["makes"]
    search_fields = ["name", "makes__name"]
