"""The shopping list on paper, and as the text of an email."""

from urllib.parse import quote

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.shopping.papers import draw_shopping_list
from inventory.shopping.queries import shopping_list
from inventory.shopping.sheets import email_text, paper_parts
from inventory.shopping.views.listing import SECTION, words_for
from studio.accounts.roles import EVERYONE, role_required
from studio.pages.papers import PaperForm, pdf_answer
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.preferences.frames import frame_for
from studio.translation import _


@require_safe
@role_required(*EVERYONE)
def paper(request: HttpRequest) -> HttpResponse:
    """The list as PDF on the paper that was chosen, with prices for those who see money."""
    studio, today = current_studio(request), timezone.localdate()
    form = PaperForm(request.GET, studio=studio)
    if not form.is_valid():
        messages.error(request, _("Choose one of the papers in the list."))
        return redirect(SECTION)
    listed = shopping_list(today)
    frame = frame_for(studio, _("Shopping list"), Formatter.of(studio).day(today))
    return pdf_answer(
        draw_shopping_list(paper_parts(listed, words_for(request, listed)), frame, paper=form.chosen),
        f"shopping-list-{today.isoformat()}",
    )


@require_safe
@role_required(*EVERYONE)
def email(request: HttpRequest) -> HttpResponse:
    """The whole list as text, and a text for each supplier to be sent as an order."""
    listed = shopping_list(timezone.localdate())
    words = words_for(request, listed)
    subject = _("Shopping list, {studio}", studio=current_studio(request).name)
    whole = email_text(listed, words)
    texts = [(_("The whole list"), "", whole, _mailto("", subject, whole))]
    for part in listed.parts:
        text = email_text(listed, words, only=part)
        asked = _("Order, {studio}", studio=current_studio(request).name)
        texts.append(
            (part.supplier.name, part.supplier.email, text, _mailto(part.supplier.email, asked, text))
        )
    context = {
        "title": _("Shopping list as an email"),
        "lead": _("Copy a text, or open it in your mail program."),
        "texts": texts,
        "is_empty": listed.is_empty,
        "back_url": reverse(SECTION),
        "back_label": _("Shopping list"),
        "section": SECTION,
    }
    return render(request, "shopping/email.html", context)


def _mailto(address: str, subject: str, text: str) -> str:
    """RFC 6068: line breaks in a body are %0D%0A."""
    body = quote(text.replace("\n", "\r\n"))
    return f"mailto:{quote(address, safe='@+')}?subject={quote(subject)}&body={body}"
