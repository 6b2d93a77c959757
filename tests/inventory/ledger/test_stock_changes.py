"""What changes the stock announces it, wherever it came from: once, after the commit, and only what it touched."""

from collections.abc import Iterator
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.db import transaction
from django.urls import reverse
from pytest_django import DjangoCaptureOnCommitCallbacks

from inventory.alerts.models import Alert
from inventory.errors import NotEnough
from inventory.ledger.models import Posting
from inventory.ledger.stock_changes import batched, stock_changed
from inventory.materials.models import Material
from inventory.purchasing.actions.orders import close_order
from studio.accounts.models import User
from tests import making
from tests.days import AT, TODAY
from tests.inventory.browsing import as_user
from tests.making import make_lot, make_material, make_order, make_supplier, units
from tests.programs import Program

pytestmark = pytest.mark.django_db


@pytest.fixture
def announced() -> Iterator[list[set[int]]]:
    """The materials of every announcement, in order."""
    heard: list[set[int]] = []

    def hear(*, materials: frozenset[int], **signal: Any) -> None:
        heard.append(set(materials))

    stock_changed.connect(hear, weak=False)
    yield heard
    stock_changed.disconnect(hear)


def test_a_posting_announces_the_materials_it_touched_after_the_commit(
    announced: list[set[int]], django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    lot, _other = make_lot(), make_lot()
    with django_capture_on_commit_callbacks(execute=True):
        making.spill(lot=lot, quantity=units(1))
        assert announced == []
    assert announced == [{lot.material_id}]


def test_a_refused_or_repeated_submission_announces_nothing(
    announced: list[set[int]], django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    lot = make_lot(quantity=units(10))
    making.spill(lot=lot, quantity=units(1), key="once")
    with django_capture_on_commit_callbacks(execute=True):
        making.spill(lot=lot, quantity=units(1), key="once")
        with pytest.raises(NotEnough):
            making.spill(lot=lot, quantity=units(11))
    assert announced == []


def test_what_is_on_order_is_announced_too(
    announced: list[set[int]], django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    paint = make_material()
    with django_capture_on_commit_callbacks(execute=True):
        order = make_order((paint, units(100)))
        close_order(order=order, submission=making.make_submission())
    assert announced == [{paint.pk}, {paint.pk}]


def test_a_batch_is_announced_once_at_its_end(
    announced: list[set[int]], django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    first, second = make_lot(), make_lot()
    with django_capture_on_commit_callbacks(execute=True), batched(at=AT):
        for lot in (first, second, first):
            making.spill(lot=lot, quantity=units(1))
    assert announced == [{first.material_id, second.material_id}]


def test_a_receiver_that_fails_does_not_unsay_the_posting(
    announced: list[set[int]],
    caplog: pytest.LogCaptureFixture,
    django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
) -> None:
    def fail(**signal: Any) -> None:
        raise RuntimeError("a receiver of a test")

    lot = make_lot()
    stock_changed.connect(fail)
    try:
        with django_capture_on_commit_callbacks(execute=True):
            making.spill(lot=lot, quantity=units(1))
    finally:
        stock_changed.disconnect(fail)
    assert announced == [{lot.material_id}]
    assert "a receiver of a test" in caplog.text


def low_paint() -> Material:
    """A litre is on the shelf, and 800 mL are to be reordered at."""
    paint: Material = make_material(reorder_level=units(800))
    make_lot(material=paint)
    return paint


def test_an_alert_follows_an_action_a_program_a_file_and_a_page(
    owner: User, tmp_path: Path, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    paint = low_paint()
    lot = paint.lots.get()
    with django_capture_on_commit_callbacks(execute=True):
        making.spill(lot=lot, quantity=units(300))
    assert Alert.objects.get().material == paint
    supplier, file = make_supplier(), tmp_path / "parcel.csv"
    file.write_text(f"material,quantity,price\n{paint.name},500 ml,5.00\n")
    with django_capture_on_commit_callbacks(execute=True):
        call_command(
            "receive_file",
            file,
            supplier=supplier.name,
            by=owner.username,
            received_on=TODAY,
            stdout=StringIO(),
        )
    assert not Alert.objects.filter(cleared_at=None).exists()
    with django_capture_on_commit_callbacks(execute=True):
        request = {"lot": lot.pk, "quantity": "400 ml", "reason": making.the_reason().pk, "on": str(TODAY)}
        Program(owner).send("write-offs/", request)
    assert Alert.objects.get(cleared_at=None).material == paint
    address, number = reverse("inventory:posting-reverse", args=[Posting.objects.count()]), "b" * 32
    with django_capture_on_commit_callbacks(execute=True):
        as_user(owner).post(address, {"reason": "Typed twice", "key": number})
    assert not Alert.objects.filter(cleared_at=None).exists()


@pytest.mark.django_db(transaction=True)
def test_a_commit_really_calls_the_receivers() -> None:
    paint = low_paint()
    assert not Alert.objects.exists()
    with transaction.atomic():
        making.spill(lot=paint.lots.get(), quantity=units(300), on=TODAY)
        assert not Alert.objects.exists()
    assert Alert.objects.get().raised_at == AT
