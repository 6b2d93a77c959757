"""Hostile and plausible input: the forms that pages really show, filled in by a seeded hand."""

from dataclasses import dataclass, field
from html.parser import HTMLParser
from random import Random
from typing import Any
from urllib.parse import urljoin
from uuid import UUID

from django.core.files.uploadedfile import SimpleUploadedFile

MARKUP = "<script>alert(1)</script>"
NUMBERS = [
    "-1", "0", "-0", "1e309", "1e3", "NaN", "Infinity", "9" * 30, "9" * 16, "9000000000000", "1,5", "1.5.5", "1.0005",
    "１２", "٣", "½", "1/0", "1/2", "0x10", "+5", "--5", "1 000 000", "²", "0.0000001", "-9223372036854775809",
]  # fmt: skip
UNITS = [
    "2 furlongs",
    "5 kg",
    "3 m2",
    "1 fl oz",
    "250 ML",
    "ml",
    "250 ml ml",
    "1 l 2",
    "0 ml",
    "-5 ml",
    "9e9 l",
    "1 %",
    "101 %",
]
DAYS = [
    "2025-02-30",
    "0000-00-00",
    "9999-12-31",
    "0001-01-01",
    "tomorrow",
    "2025-13-01",
    "10000-01-01",
    "1970-01-01",
]
WORDS = [
    "", " ", "\x00", "a\x00b", "\x07\x1b[31m", "\u202eabc\u2066", "\ufeff", "\u200b", "é" * 300, "a\u0301" * 500,
    "🎨" * 200, "x" * 10_000, "9" * 5_000, "a\r\nb", "\u2028", MARKUP, "'\"><img src=x onerror=alert(1)>", "{{ 7*7 }}",
    "{% debug %}", "%s%n%(x)s", "../../etc/passwd", "=HYPERLINK(\"x\")", "' OR 1=1 --", "null", "None", "undefined",
    "true", "[]", "{}", "on",
]  # fmt: skip
ROWS = [
    "0",
    "-1",
    "1",
    "2",
    "3",
    "7",
    "999999",
    "9223372036854775807",
    "9223372036854775808",
    "01",
    " 1",
    "1.0",
    "１",
]
# Within what the readers take, and large or small enough to break sums that nobody thought of.
EXTREMES = [
    "8999999999 l", "9000000000000 ml", "0.001 ml", "9000000000000 each", "1 each", "8000000 kg", "9000000000.00",
    "8999999999", "0.01", "100000", "1000000", "32767", "32768", "2147483647", "2147483648", "99999", "100 %",
]  # fmt: skip
HOSTILE = [*NUMBERS, *UNITS, *DAYS, *WORDS, *ROWS, *EXTREMES]
# What a well-meaning person might type, by a word of the field's name.
PLAUSIBLE = {
    "price": ["12.50", "0.99", "45"],
    "money": ["12.50"],
    "cost": ["3.40"],
    "carriage": ["4.95", ""],
    "duty": ["", "1.00"],
    "tax": ["", "2.00"],
    "market_value": ["40.00"],
    "quantity": ["10 ml", "2 each", "5"],
    "amount": ["10 ml", "1 each", "2.50", ""],
    "counted": ["100 ml", "3 each", ""],
    "weight": ["34 g", ""],
    "pack": ["250 ml", "10 each", "500 g"],
    "wanted": ["30 ml", "40 g"],
    "each": ["12 ml"],
    "parts": ["2", "1", "0.5"],
    "rate": ["", "0.86", "2 %"],
    "percent": ["20 %"],
    "size": ["30 x 30 cm", "20 cm round"],
    "colour": ["#1f5f6b"],
    "minutes": ["30"],
    "title": ["Neap tide"],
    "name": ["Harbour grey"],
    "reason": ["Entered twice"],
    "note": ["", "By lamplight"],
}
ANYTHING = ["", "1", "2", "10 ml", "12.50", "Lantern", "3 each"]
FILES = [
    b"", b"\x00\xff" * 400, b"material,pack\n=1+1,\x00", b"\xef\xbb\xbfmaterial;pack;packs;price\nx;y;z;w\n",
    b"GIF89a" + b"\x00" * 100, b"\x89PNG\r\n\x1a\n" + b"\x00" * 200, MARKUP.encode() * 50, b"a," * 5_000 + b"\n",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a form: its kind, what stood in it, and what may be chosen."""

    name: str
    kind: str
    value: str = ""
    choices: tuple[str, ...] = ()


@dataclass(slots=True)
class Form:
    """A form as a page showed it: where it goes, and its fields."""

    path: str
    method: str
    fields: list[Field] = field(default_factory=list)

    @property
    def shape(self) -> tuple[str, str, tuple[str, ...]]:
        return self.method, self.path, tuple(sorted({each.name for each in self.fields}))


class FormReader(HTMLParser):
    """Collects the forms of one page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.page = page
        self.forms: list[Form] = []
        self._form: Form | None = None
        self._select: tuple[str, list[str], list[str]] | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = {name: value or "" for name, value in attrs}
        if tag == "form":
            path = urljoin(self.page, said.get("action") or self.page)
            self._form = Form(path, said.get("method", "get").lower())
            self.forms.append(self._form)
        elif self._form is not None and tag in ("input", "textarea", "button") and said.get("name"):
            kind = said.get("type", "submit" if tag == "button" else "text")
            self._form.fields.append(Field(said["name"], kind, said.get("value", "")))
        elif tag == "select" and said.get("name"):
            self._select = said["name"], [], []
        elif tag == "option" and self._select is not None:
            self._select[1].append(said.get("value", ""))
            if "selected" in said:
                self._select[2].append(said.get("value", ""))

    def handle_endtag(self, tag: str) -> None:
        if tag == "select" and self._select is not None and self._form is not None:
            name, choices, chosen = self._select
            self._form.fields.append(Field(name, "select", chosen[0] if chosen else "", tuple(choices)))
            self._select = None
        elif tag == "form":
            self._form = None


def forms_on(page: str, html: str) -> list[Form]:
    """Every form a page shows."""
    reader = FormReader(page)
    reader.feed(html)
    return reader.forms


def filled(form: Form, hand: Random) -> dict[str, Any]:
    """The form filled in plausibly, then spoilt in no field, in a few, or in all of them."""
    data: dict[str, Any] = {}
    for each in form.fields:
        value = _plausible(each, hand)
        if value is not None:
            data.setdefault(each.name, value)
    names = [each.name for each in form.fields if each.name != "csrfmiddlewaretoken"]
    spoilt = hand.choice([0, 0, 1, 1, 2, 3, len(names)])
    for name in hand.sample(names, min(spoilt, len(names))):
        _spoil(data, name, hand)
    return data


def _plausible(each: Field, hand: Random) -> Any:
    if each.name.rpartition("-")[2] == "key":
        return UUID(int=hand.getrandbits(128)).hex
    match each.kind:
        case "hidden":
            return each.value
        case "select" | "radio":
            return hand.choice(each.choices) if each.choices and hand.random() < 0.7 else each.value
        case "checkbox" | "submit":
            return (each.value or "on") if hand.random() < 0.3 else None
        case "date":
            return hand.choice(["2025-06-10", "2025-06-09", "2025-06-01", each.value])
        case "number":
            return hand.choice([each.value, "1", "2", "10"])
        case "file":
            return SimpleUploadedFile("../picture.png", hand.choice(FILES))
        case "password":
            return "a long pass phrase of hers"
    if each.value and hand.random() < 0.5:
        return each.value
    known = next((PLAUSIBLE[word] for word in PLAUSIBLE if word in each.name), ANYTHING)
    return hand.choice(known)


def _spoil(data: dict[str, Any], name: str, hand: Random) -> None:
    if isinstance(data.get(name), SimpleUploadedFile):
        data[name] = SimpleUploadedFile(hand.choice(["", "x" * 300, MARKUP]) or "x", hand.choice(FILES))
        return
    match hand.randrange(8):
        case 0:
            data.pop(name, None)
        case 1:
            data[name] = [hand.choice(HOSTILE), hand.choice(HOSTILE)]
        case 2:
            data[hand.choice(HOSTILE)[:50] or "unknown"] = hand.choice(HOSTILE)
        case _:
            data[name] = hand.choice(HOSTILE)


# Bodies of the API

ODD_VALUES: list[Any] = [
    None, True, False, 0, -1, 1, 2, 7, 10**6, 2**63 - 1, 2**63, 10**40, 1.5, -0.0, [], {}, [[]], [None], {"amount": 1},
    {"amount": -1, "measure": "volume"}, {"amount": 9 * 10**15, "measure": "volume"}, {"amount": 1, "measure": "mass"},
    {"amount": True, "measure": "volume"}, {"amount": 1, "measure": []},
]  # fmt: skip


def spoilt_body(body: Any, hand: Random) -> Any:
    """A body with some of its parts left out, doubled, or turned into something else."""
    for _ in range(hand.choice([0, 1, 1, 2, 4])):
        body = _changed(body, hand)
    return body


def _changed(part: Any, hand: Random) -> Any:
    inside = isinstance(part, dict | list) and part and hand.random() < 0.85
    if not inside:
        # Mostly of the same kind as before, so that more than the reading of kinds is tried.
        alike: dict[type, list[Any]] = {
            str: HOSTILE + 3 * EXTREMES,
            int: [each for each in ODD_VALUES if type(each) is int],
        }
        return hand.choice(
            alike[type(part)] if type(part) in alike and hand.random() < 0.75 else [*ODD_VALUES, *HOSTILE]
        )
    if isinstance(part, list):
        items = list(part)
        if hand.random() < 0.2:
            return items * hand.choice([0, 2, 150])
        at = hand.randrange(len(items))
        items[at] = _changed(items[at], hand)
        return items
    said = dict(part)
    name = hand.choice(sorted(said))
    match hand.randrange(10):
        case 0:
            del said[name]
        case 1:
            said[hand.choice(HOSTILE)[:50]] = hand.choice(HOSTILE)
        case _:
            said[name] = _changed(said[name], hand)
    return said
