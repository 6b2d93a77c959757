"""Two web servers on one database, with one folder of photos: whoever asks cannot tell them from one.

The servers share no memory: they are two groups of processes that know of each other by the database and the photos
alone, as on two machines.
"""

import http.client
import random
from http import HTTPStatus
from io import BytesIO
from tempfile import TemporaryDirectory

from django.core.files.uploadedfile import SimpleUploadedFile
from django.test.client import BOUNDARY, MULTIPART_CONTENT, encode_multipart
from PIL import Image

from tests.faults import jobs, page_jobs
from tests.faults.double_clicks import clicked
from tests.faults.jobs import Scene, Tally
from tests.faults.page_jobs import Door
from tests.faults.real_databases import RealDatabase
from tests.faults.web_server import PATIENCE, ask, web_server


def two_hosts(database: RealDatabase, *, keys: int, racers: int, photos: int) -> Tally:
    """One person's sign-in holds at both; a photo put up at one is handed out by the other; keys raced at both."""
    scene: Scene = database.do(jobs.stock_shelf, paint_in_lots=[jobs.PLENTY])
    door: Door = database.do(page_jobs.open_the_door, scene=scene)
    with TemporaryDirectory() as folder:
        here = web_server(database, threads=8, MENISCUS_DATA=folder)
        there = web_server(database, threads=8, MENISCUS_DATA=folder)
        with here as (_one, first), there as (_other, second):
            tally = clicked(database, scene, door, ports=[first, second], keys=keys, racers=racers)
            pieces: list[int] = database.do(jobs.make_pieces, scene=scene, count=photos)
            for number, piece in enumerate(pieces):
                put_up_at, asked_at = (first, second) if number % 2 else (second, first)
                _put_up(put_up_at, piece, number, door)
                statuses = [_photo(port, piece, door) for port in (put_up_at, asked_at)]
                assert statuses[0] == statuses[1]
                assert statuses[0][0] == HTTPStatus.OK
    database.do(jobs.look_over)
    return tally


def _put_up(port: int, piece: int, number: int, door: Door) -> None:
    picture, file = Image.frombytes("RGB", (40, 30), random.Random(number).randbytes(40 * 30 * 3)), BytesIO()
    picture.save(file, "PNG")
    upload = SimpleUploadedFile("pour.png", file.getvalue(), "image/png")
    body = encode_multipart(BOUNDARY, {"photo-photo": upload, "photo-seen": "0"})
    answer = ask(
        port, f"/pieces/{piece}/photo/change/", body, {**door.browser, "Content-Type": MULTIPART_CONTENT}
    )
    assert answer.status == HTTPStatus.FOUND, answer


def _photo(port: int, piece: int, door: Door) -> tuple[int, bytes]:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE)
    try:
        connection.request("GET", f"/pieces/{piece}/photo/", headers=door.browser)
        response = connection.getresponse()
        return response.status, response.read()
    finally:
        connection.close()
