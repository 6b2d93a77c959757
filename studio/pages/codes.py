"""A photo of a code, sent by a page whose browser reads none itself."""

from django import forms
from django.http import HttpRequest, JsonResponse
from django.views.decorators.http import require_POST

from studio.accounts.roles import WORKERS, role_required
from studio.codes import read_codes
from studio.errors import PhotoError
from studio.translation import _


class CodeForm(forms.Form):
    """The photo."""

    photo = forms.FileField()


@require_POST
@role_required(*WORKERS)
def codes(request: HttpRequest) -> JsonResponse:
    """The texts of the codes on it, in no order; none is an answer too. Nothing is kept of the photo."""
    form = CodeForm(request.POST, request.FILES)
    if not form.is_valid():
        return JsonResponse({"detail": _("Send a photo of the code.")}, status=422)
    try:
        return JsonResponse({"codes": read_codes(form.cleaned_data["photo"])})
    except PhotoError as problem:
        return JsonResponse({"detail": str(problem)}, status=422)
