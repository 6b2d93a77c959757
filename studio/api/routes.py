"""The addresses of each floor's viewsets."""

from types import ModuleType

from django.urls import URLPattern, URLResolver
from rest_framework.routers import SimpleRouter


def routes(*rooms: ModuleType) -> list[URLPattern | URLResolver]:
    """The addresses of what each room lists in its VIEWSETS, by the first part of the address."""
    router = SimpleRouter(use_regex_path=False)
    for room in rooms:
        for prefix, viewset in room.VIEWSETS.items():
            router.register(prefix, viewset, basename=f"api-{prefix}")
    return router.urls
