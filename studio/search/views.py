"""One box for everything: a code opens its page, words show what has them, kind by kind."""

from typing import Any

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from studio.accounts.roles import EVERYONE, current_user, role_required
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.search import queries
from studio.search.filters import found_pages
from studio.search.forms import SearchForm
from studio.search.kinds import kinds_for
from studio.translation import _


@require_safe
@role_required(*EVERYONE)
def search(request: HttpRequest) -> HttpResponse:
    form = SearchForm(request.GET)
    context: dict[str, Any] = {"title": _("Search"), "form": form, "section": "search"}
    if not form.is_valid():
        return render(request, "search/page.html", context, status=422)
    text = form.cleaned_data["q"]
    kinds = {kind.name: kind for kind in kinds_for(current_user(request))}
    kind = kinds.get(form.cleaned_data["kind"])
    formatter = Formatter.of(current_studio(request))
    context |= {"text": text, "kinds": [each.label for each in kinds.values()]}
    if kind is not None and text:
        rows = Paginator(queries.found_of(kind, text), queries.A_PAGE)
        page = rows.get_page(request.GET.get("page"))
        hits = [kind.hit(row, formatter) for row in page]
        context |= {"kind": kind, "page_obj": page, "hits": hits, "count": rows.count}
    elif text:
        found = queries.search(text, kinds.values(), formatter)
        if (hit := queries.opens(found)) is not None:
            return redirect(hit.url)
        pages = found_pages(text, current_user(request))
        count = len(pages) + sum(group.count for group in found)
        context |= {"found": found, "found_pages": pages, "count": count}
    return render(request, "search/page.html", context)
