"""Addresses of the ground floor's part of the API."""

from studio.api.viewsets import routes
from studio.imports import api as imports
from studio.search import api as search
from studio.setup import api as setup

urlpatterns = routes(setup, imports, search)
