"""The program on the page for newcomers, run as it stands there against a live server."""

import re
import subprocess
import sys
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from costing.pieces.models import Piece
from inventory.plans.models import Plan
from inventory.purchasing.models import Delivery
from inventory.sessions.models import Session, Technique
from studio.accounts.models import TokenScope
from studio.accounts.tokens import add_token
from tests.inventory.browsing import as_user
from tests.making import make_owner, money


@pytest.mark.django_db(transaction=True)
def test_the_program_on_the_page_for_newcomers_does_what_the_page_says(
    live_server: Any, tmp_path: Path
) -> None:
    owner = make_owner()
    assert Technique.objects.exists()
    page = as_user(owner).get("/api/start/").content.decode()
    match = re.search(r'<code id="first-program">(.*?)</code>', page, re.DOTALL)
    assert match
    program = tmp_path / "first_program.py"
    program.write_text(unescape(match[1]), encoding="utf-8")
    _token, text = add_token(
        user=owner, name="First program", scope=TokenScope.WRITE, days=1, at=timezone.now()
    )
    ran = subprocess.run(
        [sys.executable, str(program), live_server.url, text],
        capture_output=True,
        text=True,
        timeout=120,
        cwd=tmp_path,
    )
    assert ran.stderr == ""
    assert (tmp_path / "prices.pdf").read_bytes().startswith(b"%PDF-")
    assert (Delivery.objects.count(), Session.objects.count()) == (1, 1)
    assert Plan.objects.get().session == Session.objects.get()
    assert Piece.objects.get().price == money(120)


def test_a_stranger_is_sent_to_the_door() -> None:
    assert Client().get("/api/start/").status_code in (302, 401)
