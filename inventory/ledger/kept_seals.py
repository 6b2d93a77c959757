"""Seals kept elsewhere: in emails, backups, on paper. A ledger that was rewritten as a whole shows only beside them."""

import re
import zipfile
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from inventory.ledger.findings import Tally
from inventory.ledger.models import Posting
from studio.backups.archive import read_manifest
from studio.translation import _

# "The ledger is at posting 1042, 3f0c…" in whatever language, or 1042:3f0c… as it is typed.
_KEPT = re.compile(r"(?<![\w.])(\d{1,15})\D{1,40}?\b([0-9a-f]{64})\b")
_SOFT_BREAK = re.compile(r"=\r?\n")  # of an email saved as it was sent (RFC 2045, quoted-printable)


@dataclass(frozen=True, slots=True, order=True)
class KeptSeal:
    """The seal of a posting as somebody kept it, and where."""

    number: int
    seal: str
    where: str


def seals_in(text: str, where: str) -> list[KeptSeal]:
    """Every seal that a text tells, with the posting before it."""
    found = _KEPT.findall(_SOFT_BREAK.sub("", text))
    return [KeptSeal(int(number), seal, where) for number, seal in found if int(number)]


def seals_of_file(path: Path) -> list[KeptSeal]:
    """Those of a saved email or any other text; of a backup, the one in its manifest. Raises BackupError, OSError."""
    if zipfile.is_zipfile(path):
        totals = read_manifest(path, key=None).totals
        return seals_in(f"{totals.get('postings')}:{totals.get('last_hash')}", path.name)
    return seals_in(path.read_text(encoding="utf-8", errors="replace"), path.name)


def compare(kept: Iterable[KeptSeal], tally: Tally, *, using: str = "default") -> None:
    """Tell which kept seals do not fit, and so from where on history was rewritten."""
    seals = sorted(set(kept))
    present = dict(
        Posting.objects.using(using)
        .filter(pk__in=[each.number for each in seals])
        .values_list("number", "hash")
    )
    tally.checked["seals"] += len(seals)
    fitting = 0
    for each in seals:
        found = present.get(each.number)
        if found == each.seal:
            fitting = each.number
        elif found is None:
            tally.tell_posting(
                "seals", each.number, _("{where} names it, but it is missing", where=each.where)
            )
        else:
            tally.tell_posting(
                "seals",
                each.number,
                _(
                    "{where} kept another seal: history was rewritten after posting {last} and not after this one",
                    where=each.where,
                    last=fitting,
                ),
            )
