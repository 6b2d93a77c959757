"""The shopping list, at the desk and in the shop: looked at, added to, ticked off."""

from typing import Any

from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from inventory.materials.choices import buyable_materials
from inventory.materials.models import Material
from inventory.reordering.calculations.levels import LEAST_DAYS
from inventory.reordering.history import last_uses
from inventory.reordering.queries import levels
from inventory.shopping.actions import add_to_list, clear_ticked, remove, tick
from inventory.shopping.forms import AdditionForm
from inventory.shopping.models import ShoppingEntry
from inventory.shopping.queries import Line, Part, ShoppingList, shopping_list
from inventory.shopping.sheets import paper_parts
from inventory.shopping.tables import ShoppingTable, rows_of
from inventory.shopping.wording import ShoppingWords
from inventory.stock.queries import FULL_MARK, stock_list
from studio.accounts.roles import EVERYONE, WORKERS, current_user, role_required
from studio.pages.forms import new_key
from studio.pages.papers import PaperForm
from studio.pages.saving import form_status, saved, submission_from
from studio.pages.tables import wants_file
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _, ngettext
from studio.values.numbers import read_small_whole

SECTION = "inventory:shopping-list"
NEARLY_EMPTY = FULL_MARK * 15 // 100  # of what the lots still standing there held when they came in
MOST_NAMED = 5
TICKABLE: tuple[QuerySet[Any], QuerySet[Any]] = (Material.objects.all(), ShoppingEntry.objects.all())


def words_for(request: HttpRequest, listed: ShoppingList) -> ShoppingWords:
    formatter = Formatter.of(current_studio(request))
    return ShoppingWords(listed, formatter, sees_money=current_user(request).sees_money)


@require_safe
@role_required(*EVERYONE)
def shopping(request: HttpRequest) -> HttpResponse:
    return _page(request, _addition_form(request))


@require_POST
@role_required(*WORKERS)
def add(request: HttpRequest) -> HttpResponse:
    form = _addition_form(request)

    def act() -> Any:
        return form.facts and add_to_list(addition=form.facts, submission=submission_from(request))

    added = saved(form, act)
    if added is None:
        return _page(request, form)
    name = added.text or added.material.name
    messages.success(request, _("“{name}” is on the list.", name=name))
    return redirect(SECTION)


def _addition_form(request: HttpRequest) -> AdditionForm:
    data = request.POST if request.method == "POST" else None
    first = {"material": request.GET.get("material", "")}
    return AdditionForm(data, studio=current_studio(request), materials=buyable_materials(), initial=first)


def _page(request: HttpRequest, form: AdditionForm) -> HttpResponse:
    listed = shopping_list(timezone.localdate())
    words, studio = words_for(request, listed), current_studio(request)
    if wants_file(request):
        return ShoppingTable(list(rows_of(listed, words)), request).download()
    parts = [_shown(part, words, with_next_best=True) for part in listed.parts]
    printed = [
        text
        for part in paper_parts(listed, words)
        for text in (part.heading, *(line.name for line in part.lines))
    ]
    context = {
        "title": _("Shopping list"),
        "listed": listed,
        "enough_text": enough_text(listed, words.formatter),
        "parts": parts,
        "later": [_shown(part, words) for part in listed.later],
        "unsold": [(need, words.origin(need)) for need in listed.unsold],
        "has_ticked": any_ticked(listed),
        "total": words.formatter.money(listed.home_cost) if len(listed.parts) > 1 else "",
        "order_all": " ".join(part["to_order"] for part in parts if part["to_order"]),
        "form": form,
        "key": new_key(),
        "sheet_form": PaperForm.offered(studio, *printed),
        "section": SECTION,
    }
    return render(request, "shopping/list.html", context, status=form_status(form))


def enough_text(listed: ShoppingList, formatter: Formatter) -> str:
    """What an empty list says: that there is enough, or that nothing can tell yet and what is nearly empty.

    That is what is bought, and nearly gone or less than its last use took.
    """
    if not listed.is_empty:
        return ""
    today = timezone.localdate()
    if any(level.level is not None for level in levels(today)) or not (
        rows := stock_list(buyable_materials().values(), order="level")
    ):
        return _("There is enough of everything, including what is already on order.")
    text = _(
        "Nothing has a reorder level yet: it takes {least} days of use, or one of your own, set with the material.",
        least=LEAST_DAYS,
    )
    last = last_uses()
    low = [
        row
        for row in rows
        if row.quantity > 0 and (row.level <= NEARLY_EMPTY or row.quantity < last.get(row.material.pk, 0))
    ][:MOST_NAMED]
    if not low:
        return text
    names = ", ".join(
        f"{row.material.name} ({formatter.short_quantity(row.quantity, row.material.measure)})" for row in low
    )
    return f"{text} " + _("Nearly empty: {names}.", names=names)


def any_ticked(listed: ShoppingList) -> bool:
    entries = [need.entry for need in listed.needs.needs.values()] + list(listed.others)
    return any(entry is not None and entry.is_ticked for entry in entries)


def _shown(part: Part, words: ShoppingWords, *, with_next_best: bool = False) -> dict[str, Any]:
    """One supplier's part in words. `to_order` is what its button sends: what is not in the basket yet."""
    waiting = [packs for line in part.lines if not line.is_ticked for packs in line.packs]
    return {
        "part": part,
        "lines": [_line(line, part, words) for line in part.lines],
        "goods": words.money(part.goods, part),
        "carriage": words.money(part.carriage, part) if part.carriage else "",
        "cost": words.money(part.cost, part),
        "terms": words.terms(part),
        "elsewhere": words.elsewhere(part) if with_next_best else "",
        "to_order": " ".join(f"{packs.supply.pk}:{packs.count}" for packs in waiting),
        "is_bought": any(line.is_ticked for line in part.lines),
    }


def _line(line: Line, part: Part, words: ShoppingWords) -> dict[str, Any]:
    return {
        "line": line,
        "packs": words.packs(line),
        "cost": words.money(line.cost, part),
        "origin": words.origin(line.need),
        "why": words.why(line),
        "has_choice": len(words.listed.needs.supplies[line.material.pk]) > 1 or line.need.is_chosen,
    }


@require_safe
@role_required(*WORKERS)
def in_the_shop(request: HttpRequest) -> HttpResponse:
    """What to put into the basket, in large touches; without prices, so that a device may keep it."""
    listed = shopping_list(timezone.localdate())
    words = words_for(request, listed)
    context = {
        "title": _("In the shop"),
        "lead": _("Touch what is in the basket."),
        "parts": [
            (part.supplier.name, [(line, words.packs(line)) for line in part.lines]) for part in listed.parts
        ],
        "unsold": listed.unsold,
        "others": listed.others,
        "is_empty": listed.is_empty,
        "enough_text": enough_text(listed, words.formatter),
        "back_url": reverse(SECTION),
        "back_label": _("Shopping list"),
        "section": SECTION,
    }
    return render(request, "shopping/shop.html", context)


@require_POST
@role_required(*WORKERS)
def tick_one(request: HttpRequest) -> HttpResponse:
    """Tick a material or an entry in words, or take its tick back: which of them, the button says."""
    named = (read_small_whole(request.POST.get(name, "")) for name in ("material", "entry"))
    material, entry = (rows.filter(pk=pk).first() for rows, pk in zip(TICKABLE, named, strict=True))
    if material is None and entry is None:
        messages.error(request, _("That is not on the list any more. Look at it again."))
    else:
        ticked = request.POST.get("ticked") == "yes"
        tick(material=material, entry=entry, ticked=ticked, submission=submission_from(request))
    return redirect("inventory:shopping-shop" if request.POST.get("back") == "shop" else SECTION)


@require_POST
@role_required(*WORKERS)
def remove_one(request: HttpRequest, pk: int) -> HttpResponse:
    entry = get_object_or_404(ShoppingEntry.objects.select_related("material"), pk=pk)
    remove(entry=entry, submission=submission_from(request))
    name = entry.text or (entry.material.name if entry.material else "")
    messages.success(request, _("What was added by hand of “{name}” is off the list.", name=name))
    return redirect(SECTION)


@require_POST
@role_required(*WORKERS)
def clear(request: HttpRequest) -> HttpResponse:
    count = clear_ticked(submission=submission_from(request))
    messages.success(
        request,
        ngettext("{n} ticked item has been removed.", "{n} ticked items have been removed.", count, n=count),
    )
    return redirect(SECTION)
