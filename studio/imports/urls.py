"""Addresses of the room's pages: some for each kind that the floors above have registered."""

from collections.abc import Iterator

from django.urls import URLPattern, path

from studio.imports.kinds import every_kind
from studio.imports.views import importing as views


def _addresses() -> Iterator[URLPattern]:
    for kind in every_kind():
        code = {"code": kind.code}
        yield path(f"import/{kind.code}/", views.table, code, name=kind.url_name)
        yield path(f"import/{kind.code}/example/", views.example, code, name=f"{kind.url_name}-example")
        if kind.recorded is not None:
            yield path(
                f"import/{kind.code}/recorded/", views.recorded, code, name=f"{kind.url_name}-recorded"
            )


urlpatterns: list[URLPattern] = [path("import/", views.imports, name="imports"), *_addresses()]
