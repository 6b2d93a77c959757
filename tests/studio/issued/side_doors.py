"""Ways round Python into what an issued paper said; the database refuses each."""

from collections.abc import Callable

from django.utils import timezone

from studio.issued.models import IssuedPaper
from tests.inventory.forging import POSTGRESQL, Attempt, Scene, run
from tests.inventory.side_doors import truncate

CHANGED, DELETED = "issued paper: it is never changed", "issued paper: it is never deleted"


def after_issuing(go: Callable[[], object]) -> Callable[[Scene], object]:
    def issue_first(_scene: Scene) -> None:
        IssuedPaper.objects.create(
            kind="receipt",
            about=1,
            version=1,
            title="Receipt 1",
            issued_at=timezone.now(),
            contents={"name": "receipt-1"},
            addressee=[["To", ["Ferry master"]]],
        )
        go()

    return issue_first


ATTEMPTS = {
    "issuedpaper_update": [
        Attempt("update()", after_issuing(lambda: IssuedPaper.objects.update(title="x")), CHANGED),
        Attempt("raw", after_issuing(lambda: run("UPDATE studio_issuedpaper SET contents = '{}'")), CHANGED),
        Attempt(
            "another addressee",
            after_issuing(lambda: IssuedPaper.objects.update(addressee=[["To", ["Harbour master"]]])),
            CHANGED,
        ),
    ],
    "issuedpaper_delete": [
        Attempt("delete()", after_issuing(lambda: IssuedPaper.objects.all().delete()), DELETED),
        Attempt("raw", after_issuing(lambda: run("DELETE FROM studio_issuedpaper")), DELETED),
    ],
    "issuedpaper_no_truncate": [
        Attempt("TRUNCATE", after_issuing(lambda: truncate("studio_issuedpaper")), DELETED, only=POSTGRESQL)
    ],
}
