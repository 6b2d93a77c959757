"""What saving a table came to. The page's script saves part by part, so the session adds up what each part did."""

from dataclasses import asdict, dataclass, field
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext_lazy

from studio.imports.actions import Saved
from studio.imports.kinds import ImportKind
from studio.translation import _, ngettext

STEPS = [gettext_lazy("Choose or paste"), gettext_lazy("Check the rows"), gettext_lazy("Saved")]
MOST_LISTED = 200
SAVED = "saved"  # in the address: shows what the last saving came to


@dataclass(slots=True)
class Outcome:
    """So many rows of a kind were saved, and so many were there already; `made` are labels and addresses."""

    kind: str
    saved: int = 0
    there: int = 0
    made: list[tuple[str, str]] = field(default_factory=list)

    @classmethod
    def of(cls, request: HttpRequest, kind: ImportKind) -> "Outcome":
        """What the parts came to that were saved so far."""
        kept: dict[str, Any] = request.session.get(SAVED) or {}
        return cls(**kept) if kept.get("kind") == kind.code else cls(kind.code)

    def add(self, part: Saved) -> None:
        self.saved += part.saved
        self.there += part.there
        self.made = [*self.made, *part.made][:MOST_LISTED]

    def keep(self, request: HttpRequest) -> None:
        request.session[SAVED] = asdict(self)

    @property
    def total(self) -> int:
        return self.saved + self.there

    @property
    def words(self) -> str:
        """What became of the rows."""
        parts = [ngettext("{n} row saved.", "{n} rows saved.", self.saved, n=self.saved)]
        if self.there:
            parts.append(
                ngettext("{n} was already there.", "{n} were already there.", self.there, n=self.there)
            )
        return " ".join(parts)

    def tell(self, request: HttpRequest, *, wrong: int) -> None:
        """Say on the next page what was saved, and as an error what could not be saved."""
        if self.saved:
            messages.success(request, self.words)
        messages.error(
            request,
            ngettext(
                "{n} row could not be saved. The reason stands below.",
                "{n} rows could not be saved. The reasons stand below.",
                wrong,
                n=wrong,
            ),
        )


def saved_address(kind: ImportKind) -> str:
    return f"{reverse(kind.url_name)}?{SAVED}=1"


def saved_page(request: HttpRequest, kind: ImportKind) -> HttpResponse:
    """The last step: what was made, and where it stands now."""
    context = {
        "kind": kind,
        "outcome": Outcome.of(request, kind),
        "steps": STEPS,
        "title": kind.title,
        "lead": "",
        "back_url": reverse("imports"),
        "back_label": _("Import"),
        "section": "imports",
    }
    return render(request, "imports/saved.html", context)
