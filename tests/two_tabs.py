"""The same page open twice: what a browser without script would send from each."""

from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any
from urllib.parse import urljoin, urlsplit

from django.test import Client

UNSENT = {"submit", "button", "reset", "image", "file"}


@dataclass(slots=True)
class Form:
    """A form of a page with everything that stands in it."""

    path: str
    fields: dict[str, Any] = field(default_factory=dict)


class FormsOfPage(HTMLParser):
    """Reads the forms of a page as a browser sends them: of ticks only those set, of choices the chosen one."""

    def __init__(self, page: str, html: str) -> None:
        super().__init__()
        self.page, self.forms = page, list[Form]()
        self._form: Form | None = None
        self._text: tuple[str, list[str]] | None = None
        self._select: str | None = None
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = {name: value or "" for name, value in attrs}
        if tag == "form":
            self._form = Form(urlsplit(urljoin(self.page, said.get("action") or self.page)).path)
            self.forms.append(self._form)
        elif self._form is None or "disabled" in said:
            return
        elif tag == "input" and said.get("name"):
            self._input(self._form, said)
        elif tag == "textarea":
            self._text = said["name"], []
        elif tag == "select":
            self._select = said["name"]
        elif (
            tag == "option" and self._select and ("selected" in said or self._select not in self._form.fields)
        ):
            self._form.fields[self._select] = said.get("value", "")

    def _input(self, form: Form, said: dict[str, str]) -> None:
        kind = said.get("type", "text")
        if kind in UNSENT or (kind in ("checkbox", "radio") and "checked" not in said):
            return
        form.fields[said["name"]] = said.get("value", "on" if kind == "checkbox" else "")

    def handle_data(self, data: str) -> None:
        if self._text is not None:
            self._text[1].append(data)

    def handle_endtag(self, tag: str) -> None:
        if tag == "textarea" and self._text is not None and self._form is not None:
            self._form.fields[self._text[0]] = "".join(self._text[1]).removeprefix("\n")
            self._text = None
        elif tag == "select":
            self._select = None
        elif tag == "form":
            self._form = None


def form_on(response: Any, page: str, to: str) -> dict[str, Any]:
    """What would be sent to an address from this page."""
    found = [form for form in FormsOfPage(page, response.content.decode()).forms if form.path == to]
    assert len(found) == 1, f"{page} has {len(found)} forms for {to}"
    return found[0].fields


@dataclass
class Tab:
    """One tab with a form open in it. The page is looked at once, when the tab is opened or its form comes back."""

    client: Client
    page: str
    to: str
    fields: dict[str, Any] = field(init=False)

    def __post_init__(self) -> None:
        response: Any = self.client.get(self.page)
        assert response.status_code == 200, f"{self.page}: {response.status_code}"
        self.fields = form_on(response, self.page, self.to)

    def send(self, **typed: Any) -> Any:
        """Type something and send the form, and follow where the answer leads; None unticks a box."""
        sent = {name: value for name, value in (self.fields | typed).items() if value is not None}
        response: Any = self.client.post(self.to, sent, follow=True)
        assert response.status_code < 500
        return response

    def back(self, response: Any) -> None:
        """The form that came back with the answer is the one that is open now."""
        self.fields = form_on(response, self.page, self.to)
