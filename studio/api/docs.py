"""The documentation page of the API, with nothing from another server."""

from csp.constants import SELF, UNSAFE_INLINE
from csp.decorators import csp_update
from django.utils.decorators import method_decorator
from drf_spectacular.views import SpectacularSwaggerSplitView


# Swagger UI styles its parts in place and draws its icons from data addresses. Its scripts are files of our own.
@method_decorator(csp_update({"style-src": [SELF, UNSAFE_INLINE], "img-src": ["data:"]}), name="dispatch")
class ApiDocs(SpectacularSwaggerSplitView):
    """Every endpoint, to read and to try out."""
