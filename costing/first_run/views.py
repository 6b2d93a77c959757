"""The way into an empty studio: how it counts and writes, what it uses and sells by, what is there already."""

from django.contrib import messages
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import translation
from django.views.decorators.http import require_http_methods

from costing.first_run.actions import add_starters, begin_studio, post_first_stock
from costing.first_run.forms import FirstStockForm, FirstStudioForm, StarterForm, habits
from costing.pricing.models import SalesChannel
from inventory.ledger.models import Books, Lot
from inventory.materials.models import Material
from studio.accounts.roles import WORKERS, current_user, owner_required, role_required
from studio.pages.saving import form_status, saved, submission_from
from studio.preferences.countries import Habits
from studio.preferences.models import Studio
from studio.translation import _

MOST_LINES = 40  # more materials than the starter set has are better entered as opening stock


@require_http_methods(["GET", "HEAD", "POST"])
@owner_required
def begin(request: HttpRequest) -> HttpResponse:
    """Name, country and costing method. Once they are chosen, they are changed under Settings."""
    studio = Studio.current()
    if studio.confirmed_at is not None or Books.objects.get().last_number:
        messages.info(request, _("Your studio is set up already. You can change things here."))
        return redirect("studio-settings")
    usual = habits(request.POST.get("country", ""))
    if usual:
        for name in ("currency", "language", "locale", "paper", "fluid_system"):
            setattr(studio, name, getattr(usual, name))
    initial = {"country": _country_of(request)}
    form = FirstStudioForm(request.POST or None, studio=studio, initial=initial)
    done = saved(form, lambda: begin_studio(form.facts, submission=submission_from(request)))
    if done is None or usual is None:
        lead = _(
            "These few answers set everything else. They can be changed later, but not the costing method, nor "
            "the currency once anything is recorded."
        )
        return _page(request, 2, "first_run/studio.html", form, title=_("Your studio"), lead=lead)
    with translation.override(current_user(request).language or studio.language):
        messages.success(request, _in_words(studio, usual))
    return redirect("begin-materials")


@require_http_methods(["GET", "HEAD", "POST"])
@owner_required
def begin_materials(request: HttpRequest) -> HttpResponse:
    """What most studios have, to be ticked."""
    studio = Studio.current()
    present = {*Material.objects.values_list("name", flat=True)} | {
        *SalesChannel.objects.values_list("name", flat=True)
    }
    form = StarterForm(request.POST or None, studio=studio, present=present)
    added = saved(form, lambda: add_starters(form.ticked, studio=studio, submission=submission_from(request)))
    if added is None:
        lead = _(
            "Tick what you use; names and details can be changed later. Add your own materials at any time."
        )
        named_in = str(studio.get_language_display()) if translation.get_language() != studio.language else ""
        words = {"title": _("Materials"), "lead": lead, "named_in": named_in}
        return _page(request, 3, "first_run/materials.html", form, **words)
    return redirect("begin-stock" if _without_stock() else "home")


@require_http_methods(["GET", "HEAD", "POST"])
@role_required(*WORKERS, money=True)
def begin_stock(request: HttpRequest) -> HttpResponse:
    """How much there is of each material that has no lot yet."""
    materials = _named_in(request) if request.method == "POST" else _without_stock()
    if not materials:
        return redirect("inventory:opening-stock")
    form = FirstStockForm(
        request.POST or None,
        studio=Studio.current(),
        materials=materials,
        may_change=current_user(request).is_owner,
    )
    posting = saved(
        form,
        lambda: post_first_stock(
            form.facts,
            form.densities,
            submission=submission_from(request, on=form.cleaned_data["on"], key=form.cleaned_data["key"]),
        ),
    )
    if posting is None:
        lead = _("How much you have of each, and what that amount cost you. A careful guess will do.")
        return _page(request, 4, "first_run/stock.html", form, title=_("What you have"), lead=lead)
    messages.success(
        request, _("Opening stock saved. Write the lot numbers, listed under Stock, on the bottles.")
    )
    return redirect("home")


def _stocked() -> QuerySet[Material]:
    return Material.objects.filter(is_free=False, is_archived=False)


def _without_stock() -> list[Material]:
    known = Q(pk__in=Lot.objects.order_by().values("material"))
    return list(_stocked().exclude(known)[:MOST_LINES])


def _named_in(request: HttpRequest) -> list[Material]:
    """The materials of the form that was sent: sent twice, it has stock of them by then, and is posted once."""
    sent = {f"amount{pk}": pk for pk in _stocked().order_by().values_list("pk", flat=True)}
    return list(
        _stocked().filter(pk__in=[pk for name, pk in sent.items() if name in request.POST])[:MOST_LINES]
    )


def _page(
    request: HttpRequest,
    step: int,
    template: str,
    form: FirstStudioForm | StarterForm | FirstStockForm,
    **words: str,
) -> HttpResponse:
    context = {
        "form": form,
        "step": step,
        "steps": [_("Your account"), _("Studio"), _("Materials"), _("Stock")],
        "back_url": reverse("home"),
        "back_label": _("Today"),
        **words,
    }
    return render(request, template, context, status=form_status(form))


def _country_of(request: HttpRequest) -> str:
    """The country that the browser names with its language (en-GB), which is only proposed."""
    wanted = request.headers.get("Accept-Language", "").split(",")[0].split(";")[0]
    region = wanted.rpartition("-")[2].upper()
    return region if "-" in wanted and habits(region) else ""


def _in_words(studio: Studio, usual: Habits) -> str:
    set_so = [studio.currency, studio.get_language_display(), studio.get_paper_display()]
    if usual.uses_ounces:
        set_so.append(studio.get_fluid_system_display())
    facts = ", ".join(map(str, set_so))
    tax = (
        _("Prices are usually written with tax.")
        if usual.is_tax_in_prices
        else _("Prices are usually written before tax, which is added at the till.")
    )
    return _("Set for your country: {facts}. {tax} Change any of it under Settings.", facts=facts, tax=tax)
