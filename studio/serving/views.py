"""The page that brings a phone to the service, and what a wrong address is told."""

from django.conf import settings
from django.core.exceptions import DisallowedHost
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.template.loader import render_to_string
from django.utils import translation
from django.views.decorators.http import require_safe
from django.views.defaults import bad_request

from studio.accounts.roles import owner_required
from studio.api.plain_problems import is_for_programs, plain_problem
from studio.pages.qr import qr_code
from studio.serving.addresses import Place
from studio.setup.menu import way_back
from studio.translation import _


@require_safe
@owner_required
def on_phones(request: HttpRequest) -> HttpResponse:
    """How a phone opens this studio: with a code to scan where it is served on the home network."""
    place = Place.at(settings.SERVED_AT) if settings.ON_LAN else None
    context = way_back() | {
        "title": _("On your phone"),
        "lead": _("Open this studio on a phone on the same Wi-Fi, and put it on the home screen."),
        "place": place,
    }
    if place:
        context["code"] = qr_code(place.certificate_url or place.url)
        if not place.is_plain:
            # Every start of the program would wait for the library that reads certificates.
            from studio.serving.certificates import Certificates, fingerprint
            from studio.serving.starting import folder_of

            root = Certificates.of(folder_of(place.address)).read_root()
            context["fingerprint"] = fingerprint(root)
    return render(request, "serving/on_phones.html", context)


def misaddressed(request: HttpRequest, exception: Exception) -> HttpResponseBase:
    """The answer to a bad request. One that came by an address that is not served is told which one is.

    Programs get a problem document.
    """
    if is_for_programs(request):
        return plain_problem(400, "This request cannot be read.")
    if not isinstance(exception, DisallowedHost):
        return bad_request(request, exception)
    with translation.override(translation.get_language_from_request(request)):
        address = settings.SERVED_AT if settings.ON_LAN else ""
        return HttpResponse(render_to_string("serving/wrong_address.html", {"address": address}), status=400)
