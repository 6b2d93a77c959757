"""Looking at the pages of the price tag: who is signed in, what is sent, and what the page says."""

import re
from typing import Any

from django.test import Client
from django.urls import reverse

from costing.pieces.models import Piece
from inventory.materials.models import Kind, Material
from studio.accounts.models import User
from tests.costing.stories import POURED_ON
from tests.making import make_lot, make_material, money, units

KEY = "0" * 32
NASTY = "<script>alert(1)</script>"
MONEY = re.compile(r"£|\d\.\d\d\b")


def as_user(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def text_of(response: Any) -> str:
    """The page's words with all spaces plain."""
    words = re.sub(r"<[^>]+>", " ", response.content.decode())
    return " ".join(words.replace("\xa0", " ").split())


def page_of(piece: Piece, name: str = "piece") -> str:
    """The address of a page of a piece."""
    return reverse(f"costing:{name}", args=[piece.pk])


def worked(*rows: tuple[Material, str], **facts: Any) -> dict[str, Any]:
    """A finishing or packing as the browser sends it."""
    data: dict[str, Any] = {
        "key": KEY,
        "on": "2025-06-09",
        "used-TOTAL_FORMS": str(len(rows) + 1),
        "used-INITIAL_FORMS": "0",
    }
    for number, (material, amount) in enumerate(rows):
        data |= {f"used-{number}-material": material.pk, f"used-{number}-amount": amount}
    return data | facts


def make_varnish() -> Material:
    """100 mL of varnish for 5.00."""
    varnish = make_material(name="Satin varnish", kind=Kind.FINISH)
    return make_lot(material=varnish, quantity=units(100), cost=money(5), on=POURED_ON).material
