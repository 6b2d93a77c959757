"""A ratio applied on a page: which one, to which paints, in which media. The page turns what comes of it into rows."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple, Self, cast

from django import forms
from django.forms import BoundField
from django.utils.translation import gettext_lazy

from inventory.materials.choices import MaterialChoice, by_kind
from inventory.materials.models import Kind, Material
from inventory.recipes.actions.ratios import RatioFacts, RatioPartFacts, RatioUse, facts_of
from inventory.recipes.actions.recipes import MIXABLE
from inventory.recipes.forms.choices import FormChoices, last_of, offer
from inventory.recipes.forms.recipes import PartsField
from inventory.recipes.models import Basis
from inventory.recipes.ratio_parts import read_notation
from studio.errors import InputError, MeniscusError
from studio.pages.forms import AmountStepper, StudioForm, mark_decimals
from studio.translation import _
from studio.values.numbers import format_scaled, read_small_whole

IN_SIGHT = 8  # paints or media before the rest is folded away
PREFIX = "ratio"
_OF_A_PAINT = ("paint_", "parts_")
BUTTON = "by-ratio"  # what the button that applies it sends as "do"


class Ticked(NamedTuple):
    """A paint or medium to be ticked, and the parts that it takes in a pour."""

    tick: BoundField
    parts: BoundField | None


class ByRatioForm(StudioForm):
    """The ratio, kept or typed here, and a tick box for each paint and each medium, those used last first."""

    has_shares = False  # of the paints in a pour
    use_required_attribute = False  # the page around it is saved without it
    ratio = forms.ChoiceField(label=gettext_lazy("Ratio"), required=False)
    written = forms.CharField(
        label=gettext_lazy("Or type one"),
        required=False,
        max_length=60,
        widget=forms.TextInput(attrs={"placeholder": "1 : 2 : ½"}),
        help_text=gettext_lazy("Paint : medium : water, then + 2% or + 3 drops of an additive."),
    )
    basis = forms.ChoiceField(
        label=gettext_lazy("Measure parts"),
        required=False,
        choices=Basis.choices,
        help_text=gettext_lazy("Of a ratio typed here."),
    )
    additive = MaterialChoice(label=gettext_lazy("Additive"), required=False)
    # The media that stayed ticked after they were applied: by themselves they ask for nothing.
    used_media = forms.CharField(required=False, max_length=2000, widget=forms.HiddenInput)
    was_applied = False

    def __init__(self, *args: Any, form_choices: FormChoices, **kwargs: Any) -> None:
        super().__init__(*args, studio=form_choices.studio, prefix=PREFIX, **kwargs)
        self.form_choices = form_choices
        self.offered_paints = _in_turn(form_choices, (Kind.PAINT, Kind.MIX))
        self.offered_media = _in_turn(form_choices, (Kind.MEDIUM,))
        additives = {item.pk: item for item in form_choices.materials if item.kind == Kind.ADDITIVE}
        offer(self, "additive", additives, [("", _("None")), *by_kind(additives.values())[1:]])
        kept = [
            (str(pk), f"{row.name} ({self._written(facts_of(row))})")
            for pk, row in form_choices.ratios.items()
        ]
        field = cast("forms.ChoiceField", self.fields["ratio"])
        field.choices = [("", _("Typed beside this")), *kept]
        if kept and (len(kept) == 1 or next(iter(form_choices.ratios.values())).is_favourite):
            field.initial = kept[0][0]
        for pk, material in self.offered_paints.items():
            self._add_tick(f"paint_{pk}", material)
            if self.has_shares:
                parts = PartsField(
                    label=_("Parts of {name}", name=material.name), required=False, example="1"
                )
                parts.write_as(self.formatter)
                self.fields[f"parts_{pk}"] = parts
        for pk, material in self.offered_media.items():
            self._add_tick(f"medium_{pk}", material)
        is_only = len(self.offered_media) == 1  # there is nothing to choose
        self.usual_media = {
            pk for pk in list(self.offered_media)[:1] if is_only or pk in form_choices.last_used.ingredients
        }
        for pk in self.usual_media:
            self.fields[f"medium_{pk}"].initial = True
        if self.is_bound:
            used = str(self.data.get(self.add_prefix("used_media"), "")).split(",")
            self.usual_media |= {pk for pk in self.offered_media if str(pk) in used}
        mark_decimals(self)

    def again(self, form_choices: FormChoices) -> Self:
        """The form once it was applied: open, with the ratio and the media as they were, and no paint ticked."""
        kept = {name: self[name].value() for name in self.fields if not name.startswith(_OF_A_PAINT)}
        used = [str(pk) for pk in self.offered_media if kept[f"medium_{pk}"]]
        form = type(self)(form_choices=form_choices, initial=kept | {"used_media": ",".join(used)})
        form.was_applied = True
        return form

    def _add_tick(self, name: str, material: Material) -> None:
        self.fields[name] = forms.BooleanField(label=self.form_choices.with_stock(material), required=False)

    def _written(self, ratio: RatioFacts) -> str:
        return ratio.written(decimal_comma=self.formatter.decimal_comma)

    @property
    def can_mix(self) -> bool:
        return bool(self.offered_paints)

    @property
    def says_something(self) -> bool:
        """Whether a paint, or another medium than the usual one, was ticked, so that the page must not pass it over."""
        names = [f"paint_{pk}" for pk in self.offered_paints]
        names += [f"medium_{pk}" for pk in self.offered_media if pk not in self.usual_media]
        return self.is_bound and any(self.data.get(self.add_prefix(name)) for name in names)

    @property
    def is_open(self) -> bool:
        return self.was_applied or self.says_something or bool(self.errors)

    @property
    def typed_ratio_fields(self) -> list[BoundField]:
        return [self[name] for name in ("written", "basis", "additive")]

    @property
    def shows_typed_ratio(self) -> bool:
        """Whether no kept ratio is chosen, or something was typed beside it."""
        typed = any(self[name].value() for name in ("written", "additive"))
        return typed or bool(self.errors) or not self["ratio"].value()

    @property
    def paint_rows(self) -> list[Ticked]:
        return [
            Ticked(self[f"paint_{pk}"], self[f"parts_{pk}"] if self.has_shares else None)
            for pk in self.offered_paints
        ]

    @property
    def medium_rows(self) -> list[Ticked]:
        return [Ticked(self[f"medium_{pk}"], None) for pk in self.offered_media]

    @property
    def tick_groups(self) -> list[tuple[str, str, list[Ticked], list[Ticked]]]:
        """Paints and media: the heading of each, that of the rest, those in sight, and the rest."""
        return [
            (heading, more, rows[:IN_SIGHT], rows[IN_SIGHT:])
            for heading, more, rows in (
                (_("Paints"), _("More paints"), self.paint_rows),
                (_("Media"), _("More media"), self.medium_rows),
            )
        ]

    def typed_parts(self, paint: Material) -> str:
        """The parts that a ticked paint takes in a pour, as they would be typed; nothing counts as one."""
        parts = self.cleaned_data.get(f"parts_{paint.pk}")
        return format_scaled(parts, 3, decimal_comma=self.formatter.decimal_comma) if parts else ""

    def use(self) -> RatioUse:
        """The ratio with what it is applied to, once the form is valid. Raises InputError."""
        cleaned = self.cleaned_data
        return RatioUse(
            self._ratio(),
            [paint for pk, paint in self.offered_paints.items() if cleaned[f"paint_{pk}"]],
            [medium for pk, medium in self.offered_media.items() if cleaned[f"medium_{pk}"]],
            additive=cleaned["additive"],
        )

    def _ratio(self) -> RatioFacts:
        cleaned = self.cleaned_data
        if not cleaned["written"]:
            kept = self.form_choices.ratios.get(read_small_whole(cleaned["ratio"]) or 0)
            if kept is None:
                raise InputError(_("Choose a ratio, or type one."), field="ratio")
            return facts_of(kept)
        try:
            read = read_notation(cleaned["written"], decimal_comma=self.formatter.decimal_comma)
            parts = [RatioPartFacts(part.role, part.amount, part.unit) for part in read]
            return RatioFacts(parts, cleaned["basis"] or Basis.VOLUME)
        except InputError as problem:
            raise InputError(str(problem), field="written") from None


class CupsByRatioForm(ByRatioForm):
    """Cups made of a ratio: as much in each."""

    wanted = forms.CharField(
        label=gettext_lazy("Amount in each cup"),
        required=False,
        max_length=60,
        widget=AmountStepper(attrs={"placeholder": "60 ml"}),
        help_text=gettext_lazy("Leave blank to fill the cups for the pours."),
    )

    @property
    def cup_fields(self) -> list[BoundField]:
        return [self["wanted"]]


class BatchByRatioForm(ByRatioForm):
    """A batch made of a ratio: of one paint, in one medium at most."""

    def use(self) -> RatioUse:
        use = super().use()
        if len(use.paints) > 1 or len(use.media) > 1:
            raise InputError(_("A batch is one mix. Tick one paint and one medium."))
        return use


def applied(form: ByRatioForm) -> RatioUse | None:
    """What a form that was sent asks for; None with what must be put right upon it."""
    if not form.is_valid():
        return None
    try:
        return form.use()
    except MeniscusError as problem:
        form.refuse(problem)
        return None


def _in_turn(form_choices: FormChoices, kinds: Sequence[Kind]) -> Mapping[int, Material]:
    """Materials of these kinds that can be mixed, those that went into a mix last in front, then by kind and name."""
    by_ratio = {
        version.recipe.makes_id for version in form_choices.recipes.values() if version.recipe.by_ratio
    }
    materials: Iterable[Material] = (
        item
        for item in form_choices.materials
        if item.kind in kinds and item.measure in MIXABLE and item.pk not in by_ratio
    )
    by_name = {
        item.pk: item
        for item in sorted(materials, key=lambda item: (kinds.index(Kind(item.kind)), item.name))
    }
    first = last_of(by_name, form_choices.last_used.ingredients)
    return {pk: by_name[pk] for pk in [*first, *(pk for pk in by_name if pk not in first)]}
