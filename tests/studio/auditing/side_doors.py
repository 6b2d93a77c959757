"""Ways round Python into the seals of the change log; the database refuses each."""

from studio.auditing.models import ChangeSeal
from tests.inventory.forging import POSTGRESQL, Attempt, run
from tests.inventory.side_doors import truncate

IN_ORDER = "record: a seal of the change log takes the next number"
CHANGED = "record: a seal of the change log is never changed"
DELETED = "record: a seal of the change log is never deleted"

# The scene's own materials and recipes were added by their pages' actions, so that the first seals are there.
ATTEMPTS = {
    "changeseal_in_order": [
        Attempt(
            "create()", lambda scene: ChangeSeal.objects.create(number=10**6, rows={}, hash="a"), IN_ORDER
        ),
        Attempt(
            "raw",
            lambda scene: run(
                "INSERT INTO studio_changeseal (number, rows, hash) VALUES (1000000, '{}', 'a')"
            ),
            IN_ORDER,
        ),
    ],
    "changeseal_no_update": [
        Attempt("update()", lambda scene: ChangeSeal.objects.update(rows={}), CHANGED),
        Attempt("raw", lambda scene: run("UPDATE studio_changeseal SET hash = 'a'"), CHANGED),
    ],
    "changeseal_no_delete": [
        Attempt("delete()", lambda scene: ChangeSeal.objects.all().delete(), DELETED),
        Attempt("raw", lambda scene: run("DELETE FROM studio_changeseal WHERE number = 1"), DELETED),
    ],
    "changeseal_no_truncate": [
        Attempt("TRUNCATE", lambda scene: truncate("studio_changeseal"), DELETED, only=POSTGRESQL)
    ],
}
