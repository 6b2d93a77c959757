"""Every address of the service, read from the URL configuration itself."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from django.urls import get_resolver
from django.urls.resolvers import URLPattern, URLResolver

_KWARG = re.compile(r"<(?:\w+:)?(\w+)>")


@dataclass(frozen=True, slots=True)
class Address:
    """One URL pattern: its full name, and its route from the front door."""

    name: str
    route: str

    def path(self, values: Mapping[str, object]) -> str:
        """A path that leads there."""
        return "/" + _KWARG.sub(lambda found: str(values[found[1]]), self.route)


def addresses() -> list[Address]:
    """Every one, in the order in which they are tried."""
    return list(_walk(get_resolver(), "", ""))


def _walk(resolver: URLResolver, before: str, space: str) -> Iterator[Address]:
    for pattern in resolver.url_patterns:
        own = str(pattern.pattern)
        if isinstance(pattern, URLPattern):
            yield Address(f"{space}{pattern.name or ''}", before + own)
        elif isinstance(pattern, URLResolver):
            yield from _walk(
                pattern, before + own, f"{space}{pattern.namespace}:" if pattern.namespace else space
            )
