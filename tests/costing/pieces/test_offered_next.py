"""What comes next once a piece is offered for sale."""

import pytest
from django.test import Client
from django.urls import reverse

from costing.pieces.calculations import State
from tests.costing.pages import page_of
from tests.costing.stories import a_piece

pytestmark = pytest.mark.django_db


def test_a_piece_that_is_offered_leads_to_the_price_list_and_its_title_stays_text(signed: Client) -> None:
    piece = a_piece(title="<b>Ebb</b>", state=State.FINISHED, price="45.00")
    step = {"step-to": "for_sale", "step-on": "2025-06-09"}
    page = signed.post(page_of(piece, "piece-step"), step, follow=True)
    [message] = page.context["messages"]
    assert f'href="{reverse("costing:price-list")}"' in str(message)
    assert "<b>" not in str(message)
    assert str(message) in page.content.decode()


def test_the_next_step_stands_first_and_the_rest_is_folded_away(signed: Client) -> None:
    piece = a_piece(title="Ebb", state=State.FOR_SALE, price="45.00")
    page = signed.get(page_of(piece)).content.decode()
    page = page[page.index('id="next"') : page.index('id="history"')]
    in_sight, folded = page.split("<details", 1)
    for name in ("sell", "piece-edit"):
        assert f'href="{page_of(piece, name)}"' in in_sight
    for name in ("piece-pack", "piece-reserve", "piece-step", "piece-write-off"):
        assert page_of(piece, name) in folded
