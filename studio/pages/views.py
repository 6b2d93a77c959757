"""Addresses that every site has."""

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.templatetags.static import static
from django.views.decorators.http import require_safe


@require_safe
@login_not_required
def favicon(request: HttpRequest) -> HttpResponse:
    """Browsers ask for the icon here, whatever a page says."""
    return redirect(static("studio/icon.svg"))
