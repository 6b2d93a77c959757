"""Jobs that work while a backup is made, make it, put it back, and say what is there then."""

import random
from dataclasses import dataclass
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import connection
from PIL import Image

from costing.pieces.actions.photos import store_photo
from costing.pieces.actions.pieces import PieceFacts, make_piece
from costing.pieces.models import Piece
from inventory.ledger.models import Books, Posting
from inventory.sessions.actions.sessions import log_session
from studio.accounts.models import User
from studio.backups.actions import make_backup, restore_backup
from tests.days import AT
from tests.faults.jobs import Meet, Say, Scene, look_through, session_facts
from tests.making import make_submission


@dataclass(frozen=True)
class Done:
    """A session that was acknowledged, with the photo of what was poured in it."""

    key: str
    number: int
    photo: str
    sha256: str


@dataclass(frozen=True)
class Restored:
    """What stands in restored books: their last posting, the requests posted, and the photos by their hashes."""

    number: int
    last_hash: str
    keys: dict[str, int]
    photos: dict[str, str]


def keep_photos_in(folder: str) -> None:
    settings.DATA_DIR, settings.MEDIA_ROOT = Path(folder), Path(folder) / "photos"
    settings.BACKUP_KEY = "the studio's, wherever its folder is"


def work_until_killed(*, scene: Scene, name: str, folder: str, say: Say, meet: Meet) -> None:
    """Log a session, make a piece of it, put its photo up, acknowledge all that, and so on."""
    keep_photos_in(folder)
    owner, facts, chance = scene.of(User, scene.owner), session_facts(scene), random.Random(name)
    turn = 0
    while True:
        key = f"{name}-{turn}"
        session = log_session(facts=facts, submission=make_submission(by=owner, key=key))
        piece = make_piece(
            facts=PieceFacts(title=key, pours=session.pours.all()), submission=make_submission(by=owner)
        )
        store_photo(piece=piece, upload=_picture(chance), submission=make_submission())
        found = _sums(piece)
        say(Done(key, session.posting_id, *found))
        turn += 1


def back_up(*, file: str, folder: str, say: Say, meet: Meet) -> int:
    keep_photos_in(folder)
    return make_backup(Path(file), at=AT).size


def restore(*, file: str, folder: str, say: Say, meet: Meet) -> str:
    keep_photos_in(folder)
    return restore_backup(Path(file), at=AT)


def chain(*, say: Say, meet: Meet) -> dict[int, str]:
    """Every posting's hash, by its number: each seals all that stood before it."""
    return dict(Posting.objects.values_list("number", "hash"))


def what_stands(*, folder: str, say: Say, meet: Meet) -> Restored:
    """Look the books and their file through, and every photo that a piece has."""
    keep_photos_in(folder)
    books: dict[str, Any] = look_through(say=say, meet=meet)
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA integrity_check")
            assert cursor.fetchall() == [("ok",)]
    head = Books.objects.get()
    photos = dict(_sums(piece) for piece in Piece.objects.exclude(photo=""))
    return Restored(head.last_number, head.last_hash, books["keys"], photos)


def _picture(chance: random.Random) -> BytesIO:
    picture = Image.frombytes("RGB", (40, 30), chance.randbytes(40 * 30 * 3))
    file = BytesIO()
    picture.save(file, "PNG")
    file.seek(0)
    return file


def _sums(piece: Piece) -> tuple[str, str]:
    """A piece's photo by name, and the hash of it and its thumbnail together."""
    content = b"".join(Path(file.path).read_bytes() for file in (piece.photo, piece.thumbnail))
    return str(piece.photo.name), sha256(content).hexdigest()
