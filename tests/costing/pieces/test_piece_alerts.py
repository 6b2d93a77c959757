"""Pieces that are dry, and pieces priced below their cost: alerts that clear as soon as the piece has moved on."""

from datetime import timedelta

import pytest
from pytest_django import DjangoCaptureOnCommitCallbacks

from costing.cost_sheets.queries import cost_summaries
from costing.pieces.actions.pieces import set_price
from costing.pieces.alerts import drying_ends
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from inventory.alerts.actions.refreshing import refresh_alerts
from inventory.alerts.models import Alert
from studio.preferences.models import Studio
from tests.costing.stories import a_piece, moved_to
from tests.days import AT, DAY
from tests.inventory.alerts.looking import in_words, standing
from tests.making import make_submission, money

pytestmark = pytest.mark.django_db


@pytest.fixture
def piece() -> Piece:
    return a_piece()


def test_a_piece_is_told_once_its_drying_days_are_over(
    piece: Piece, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    dry = piece.made_on + timedelta(days=Studio.current().varnish_after_days)
    refresh_alerts(on=dry - DAY, at=AT)
    assert standing("ready_to_varnish") == []
    refresh_alerts(on=dry, at=AT)
    [alert] = standing("ready_to_varnish")
    assert (alert.since, alert.figures["name"]) == (dry, piece.title)
    assert in_words(alert).endswith("its 7 days of drying are over.")
    assert [(event.key, event.day) for event in drying_ends(dry - DAY, dry)] == [(f"drying-{piece.pk}", dry)]
    with django_capture_on_commit_callbacks(execute=True):
        moved_to(piece, State.FINISHED)
    assert standing("ready_to_varnish") == []
    assert list(drying_ends(dry - DAY, dry)) == []


def test_a_price_below_cost_is_told_until_it_covers_it(
    piece: Piece, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    moved_to(piece, State.FINISHED)
    cost = cost_summaries([piece])[piece.pk].whole
    assert cost > money(1)
    set_price(piece=piece, price=money(1), submission=make_submission())
    refresh_alerts(on=piece.made_on, at=AT)
    [alert] = standing("below_cost")
    assert (alert.figures["price"], alert.figures["cost"]) == (money(1), cost)
    assert "Priced at £1.00, it cost £" in in_words(alert)
    with django_capture_on_commit_callbacks(execute=True):
        set_price(piece=piece, price=cost + money(1) - cost % money(1), submission=make_submission())
    assert standing("below_cost") == []
    assert Alert.objects.get(kind="below_cost").cleared_at is not None
