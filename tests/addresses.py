"""Every address of the service, read from the URL configuration itself."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from django.urls import get_resolver
from django.urls.resolvers import RegexPattern, URLPattern, URLResolver

_KWARG = re.compile(r"<(?:\w+:)?(\w+)>")


@dataclass(frozen=True, slots=True)
class Address:
    """One URL pattern: its full name, and its route from the front door."""

    name: str
    route: str

    @property
    def is_settings(self) -> bool:
        return self.name.startswith("admin:")

    def path(self, values: Mapping[str, object]) -> str:
        """A path that leads there."""
        return "/" + _KWARG.sub(lambda found: str(values[found[1]]), self.route)


def addresses() -> list[Address]:
    """Every one, in the order in which they are tried."""
    return list(_walk(get_resolver(), "", ""))


def _walk(resolver: URLResolver, before: str, space: str) -> Iterator[Address]:
    for pattern in resolver.url_patterns:
        # The settings site ends in a pattern for whatever else is asked for below it.
        own = "no-such-page" if isinstance(pattern.pattern, RegexPattern) else str(pattern.pattern)
        if isinstance(pattern, URLPattern):
            yield Address(f"{space}{pattern.name or ''}", before + own)
        elif isinstance(pattern, URLResolver):
            yield from _walk(
                pattern, before + own, f"{space}{pattern.namespace}:" if pattern.namespace else space
            )
