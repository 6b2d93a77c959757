"""A document as plain data, so that it can be kept, and a document out of what was kept."""

from dataclasses import asdict, replace
from typing import Any

from studio.papers.frame import PageFrame
from studio.papers.lines import Document, Line, LinesPaper


def to_plain(document: Document) -> tuple[dict[str, Any], list[Any]]:
    """Everything on a document but its logo, and apart from it whom it is for."""
    own, to = document.lines.addresses[:1], document.lines.addresses[1:]
    lines = replace(document.lines, addresses=own)
    contents = {
        "name": document.name,
        "language": document.language,
        "frame": asdict(replace(document.frame, logo=None)),
        "lines": asdict(lines),
    }
    return _plain(contents), _plain(to)


def from_plain(contents: dict[str, Any], addressee: list[Any], *, logo: bytes | None) -> Document:
    """The document that was kept, whom it is for included as far as that is given."""
    sheet = dict(contents["lines"])
    sheet["addresses"] = [*sheet["addresses"], *addressee]
    sheet["lines"] = [Line(**line) for line in sheet["lines"]]
    frame = PageFrame(**{**contents["frame"], "logo": logo})
    return Document(contents["name"], frame, LinesPaper(**sheet), contents.get("language", ""))


def _plain(value: Any) -> Any:
    """As JSON gives it back: lists for all that is listed."""
    if isinstance(value, dict):
        return {name: _plain(each) for name, each in value.items()}
    return [_plain(each) for each in value] if isinstance(value, list | tuple) else value
