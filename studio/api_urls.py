"""Addresses of the ground floor's part of the API."""

from studio.api import papers
from studio.api.papers import Printable, register
from studio.api.viewsets import routes
from studio.imports import api as imports
from studio.issued import api as issued
from studio.issued.views import issued_paper
from studio.search import api as search
from studio.setup import api as setup

register(Printable("issued", "issued document", issued_paper))
urlpatterns = routes(setup, imports, papers, issued, search)
