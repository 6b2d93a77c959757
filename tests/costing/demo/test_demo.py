"""The demonstration studio as it stands after its year: one full build, looked at from many sides."""

from collections import Counter
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import transaction
from django.db.models import Count, Sum
from django.test import override_settings
from PIL import Image
from stdnum import ean

from costing.commissions.models import Commission
from costing.commissions.queries import customer_deposits, figures_of
from costing.cost_sheets.queries import cost_summaries
from costing.demo.build import build
from costing.demo.people import PEOPLE
from costing.demo.setting_up import STUDIO_NAME
from costing.markets.models import CashCount, MarketDay, PackedPiece
from costing.markets.queries import results_of as market_results
from costing.pieces.calculations import State
from costing.pieces.models import Labour, Piece
from costing.selling.models import Sale, SaleLine
from inventory.alerts.queries import alert_levels
from inventory.comparisons.calculations.likeness import Fairness
from inventory.comparisons.calculations.verdicts import Finding
from inventory.comparisons.models import Comparison
from inventory.comparisons.queries.results import results_of
from inventory.ledger.models import Entry, Lot, Place, Posting, PostingKind
from inventory.ledger.verification import check
from inventory.materials.models import Kind, Material, Supplier, Supply
from inventory.purchasing.models import Delivery, DeliveryLine, Order, OrderChase
from inventory.recipes.models import Mix, Recipe
from inventory.sessions.models import Pour, Session, SessionPhoto
from inventory.stock.models import Stocktake
from studio.accounts.models import User
from studio.preferences.models import Studio
from tests.days import AT, DAY, TODAY

pytestmark = (
    pytest.mark.django_db
)  # without it no test database is made, and the year would go into real books
FORTNIGHT = timedelta(days=14)


@pytest.fixture(scope="module", autouse=True)
def demo(
    django_db_setup: None, django_db_blocker: Any, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Path]:
    """The whole year, built once for this module and rolled back after it. Gives the folder of its photos."""
    photos = tmp_path_factory.mktemp("photos")
    with django_db_blocker.unblock(), override_settings(MEDIA_ROOT=photos), transaction.atomic():
        build(today=TODAY, now=AT)
        yield photos
        transaction.set_rollback(True)


@pytest.mark.parametrize(
    ("counted", "about"),
    [
        (lambda: Material.objects.exclude(kind=Kind.MIX).count(), 40),
        (lambda: Supplier.objects.count(), 8),
        (lambda: Delivery.objects.filter(posting__reversed_by=None).count(), 60),
        (lambda: Recipe.objects.filter(by_ratio=False).count(), 14),
        (lambda: Session.objects.count(), 80),
        (lambda: Pour.objects.count(), 250),
        (lambda: SaleLine.objects.count(), 150),
    ],
    ids=["materials", "suppliers", "deliveries", "recipes", "sessions", "pours", "sales"],
)
def test_the_year_is_as_large_as_it_says(counted: Any, about: int) -> None:
    assert about * 0.9 <= counted() <= about * 1.1


def test_its_books_hold() -> None:
    report = check()
    assert report.is_clean, report.breaks


def test_its_markets_were_packed_sold_at_and_counted() -> None:
    held = MarketDay.objects.filter(held_on__lt=TODAY)
    rows = market_results(held)
    assert len(rows) == 12
    assert all(row.result.cash or row.result.card for row in rows)
    assert sum(bool(row.result.cash and row.result.card) for row in rows) > len(rows) / 2
    assert {row.result.profit > 0 for row in rows} == {True, False}
    assert sorted({count.difference for count in CashCount.objects.all()}) == [-2_000_000, 0, 500_000]
    assert PackedPiece.objects.get(is_missing=True).piece.state == State.WRITTEN_OFF


def test_the_shelf_was_never_short() -> None:
    assert not Posting.objects.filter(kind=PostingKind.COUNT_GAIN).exists()


def test_nothing_lies_ahead_of_the_last_day() -> None:
    assert not Posting.objects.filter(effective_on__gt=TODAY).exists()
    assert not Posting.objects.filter(recorded_at__gt=AT).exists()
    assert not Piece.objects.filter(steps__on__gt=TODAY).exists()
    assert Session.objects.filter(held_on=TODAY).exists()


def test_each_posting_was_written_down_on_its_own_day() -> None:
    days = Posting.objects.exclude(kind=PostingKind.REVERSAL).values_list("effective_on", "recorded_at")
    assert all(recorded.date() == effective for effective, recorded in days)


def test_everybody_can_sign_in_with_the_printed_phrase() -> None:
    assert Studio.current().name == STUDIO_NAME
    for person in PEOPLE:
        assert len(person.phrase) >= 15
        assert User.objects.get(username=person.username, role=person.role).check_password(person.phrase)


def test_barcodes_are_valid_and_from_the_range_for_use_inside_a_shop() -> None:
    """Check digit: python-stdnum; GS1 General Specifications: prefixes 20 to 29 are for restricted circulation."""
    codes = list(Supply.objects.values_list("barcode", flat=True))
    assert all(ean.is_valid(code) and 20 <= int(code[:2]) <= 29 for code in codes)
    assert len(set(codes)) == len(codes) >= 40


def test_hazards_are_those_of_the_invented_data_sheet() -> None:
    """UN GHS, Annex 3: H225, H319 and H336 with the signal word Danger."""
    alcohol = Material.objects.get(name="Isopropyl alcohol")
    assert alcohol.signal_word == "Danger"
    assert [line[:4] for line in alcohol.hazards.splitlines()] == ["H225", "H319", "H336"]
    assert alcohol.safety_sheet_dated is not None


def test_the_import_came_in_another_currency_with_duty_and_tax() -> None:
    imported = Delivery.objects.exclude(currency="GBP")
    assert imported.count() >= 3
    assert all(each.rate != 1_000_000 and each.duty > 0 and each.tax > 0 for each in imported)


def test_a_cost_came_late_and_a_mistake_was_taken_back() -> None:
    assert Posting.objects.filter(kind=PostingKind.CORRECTION).count() == 1
    wrong = Delivery.objects.get(posting__reversed_by__isnull=False)
    again = Delivery.objects.get(
        supplier=wrong.supplier, received_on=wrong.received_on, posting__reversed_by=None
    )
    assert wrong.lines.count() == again.lines.count()


def test_two_orders_are_open_and_one_of_them_is_late() -> None:
    awaited = Order.objects.filter(is_closed=False)
    assert awaited.filter(expected_on__lt=TODAY).count() == 1
    assert awaited.filter(expected_on__gt=TODAY).count() == 1
    assert awaited.count() == 2
    assert OrderChase.objects.filter(order=awaited.get(expected_on__lt=TODAY)).count() == 2


def test_an_order_came_in_two_parts_and_one_was_dearer_than_ordered() -> None:
    [order] = Order.objects.annotate(parts=Count("deliveries")).filter(parts=2)
    assert order.is_closed
    assert not order.rest_cancelled
    lines = DeliveryLine.objects.filter(delivery__order=order).order_by("pk")
    assert [line.price > line.order_line.price for line in lines if line.order_line] == [False, True]


def test_a_recipe_changed_after_it_had_been_used() -> None:
    changed = Recipe.objects.get(name="Tide Blue")
    assert all(version.mixes.exists() for version in changed.versions.all())
    assert changed.versions.count() == 2
    assert not Recipe.objects.exclude(pk=changed.pk).filter(versions__number__gt=1).exists()


def test_leftovers_were_kept_used_later_and_thrown_away() -> None:
    assert set(Mix.objects.values_list("leftover", flat=True)) == set(Mix.Leftover.values)
    from_an_earlier_day = Entry.objects.filter(
        lot__mix__session__isnull=False, quantity__lt=0, posting__session__isnull=False
    ).exclude(lot__mix__posting=None)
    assert any(entry.posting_id != entry.lot.mix.posting_id for entry in from_an_earlier_day if entry.lot)


def test_home_made_medium_was_made_ahead() -> None:
    ahead = Mix.objects.filter(lot__material__name="Loft medium")
    assert ahead.count() >= 10
    assert not ahead.filter(session__isnull=False).exists()


def test_one_session_compares_white_first_with_white_last_and_nothing_else_differs() -> None:
    pours = Pour.objects.exclude(arm="")
    assert Counter(pours.values_list("arm", flat=True)) == {"White first": 3, "White last": 3}
    assert pours.values("session", "technique", "surface", "area", "poured").distinct().count() == 1
    used = Entry.objects.filter(pour__in=pours, role="poured").values_list("pour__arm", "material")
    totals = {(arm, material): total for arm, material, total in used.annotate(total=Sum("quantity"))}
    assert all(total == totals[_other(arm), material] for (arm, material), total in totals.items())
    assert not pours.filter(notes="").exists()


def test_it_was_judged_blind_by_both_and_the_figures_name_no_winner() -> None:
    comparison = Comparison.objects.get()
    assert (comparison.is_blind, comparison.is_finished, comparison.judges.count()) == (True, True, 2)
    results = results_of(comparison)
    assert results.likeness.fairness == Fairness.FAIR
    assert len(results.verdicts) == 6
    assert [len(arm.pieces) for counted in results.counted for arm in counted.arms] == [6] * 4
    assert all(arm.error for counted in results.counted for arm in counted.arms)
    assert all(verdict.finding != Finding.SHOWS for _measured, verdict in results.verdicts)
    stages = Counter(SessionPhoto.objects.values_list("stage", flat=True))
    assert stages == {"wet": 6, "dry": 6}


def _other(arm: str) -> str:
    return "White last" if arm == "White first" else "White first"


def test_failed_pours_and_a_scraped_board_were_poured_over() -> None:
    covering = Pour.objects.filter(over__isnull=False)
    assert covering.count() == 3
    scraped = Piece.objects.get(state="scraped").parts.get().pour
    assert covering.filter(over=scraped).exists()
    assert all(pour.over and pour.over.outcome == Pour.Outcome.FAILED for pour in covering)
    assert Pour.objects.filter(outcome=Pour.Outcome.FAILED).count() > 8


def test_failed_pours_were_thrown_away_as_normal_and_as_abnormal_losses() -> None:
    takers = Entry.objects.filter(posting__kind="pour_write_off", quantity__gt=0)
    assert set(takers.values_list("place", flat=True)) == {"work", "loss"}


def test_run_off_is_part_of_what_was_poured() -> None:
    weighed = Pour.objects.filter(run_off__isnull=False)
    assert weighed.count() > 150
    assert all(0 < (pour.run_off or 0) < pour.poured for pour in weighed)


def test_every_usual_way_out_was_taken() -> None:
    taken = set(Entry.objects.filter(place=Place.LOSS).values_list("reason__code", flat=True))
    usual = {
        "spoiled",
        "spilled",
        "ruined",
        "leftover",
        "dried-out",
        "gift",
        "own-use",
        "sample",
        "damaged",
        "count",
        "missing",
    }
    assert taken == usual


def test_the_stocktake_found_differences_and_weighed_bottles() -> None:
    lines = Stocktake.objects.get().lines.all()
    assert lines.count() == 12
    assert lines.filter(how__startswith="weighed").count() == 3
    assert 2 <= sum(line.counted != line.expected for line in lines) <= 6


def test_pieces_stand_in_every_state() -> None:
    states = Counter(Piece.objects.values_list("state", flat=True))
    assert states.keys() >= {
        "wet",
        "dry",
        "finished",
        "for_sale",
        "reserved",
        "sold",
        "kept",
        "given",
        "written_off",
    }
    assert states[State.FOR_SALE] >= 25


def test_there_are_sets_of_four_and_diptychs() -> None:
    sizes = Counter(piece.parts.count() for piece in Piece.objects.prefetch_related("parts"))
    assert sizes[4] >= 8
    assert sizes[2] == 2


def test_titles_come_in_other_alphabets() -> None:
    titles = list(Piece.objects.filter(state=State.FOR_SALE).values_list("title", flat=True))
    assert {"Ήσυχο νερό", "Тихая вода", "Lågvatten & after"} <= set(titles)


def test_nothing_was_varnished_before_it_had_dried_for_a_week() -> None:
    coats = Entry.objects.filter(role="finish", pour__isnull=False).values_list(
        "posting__effective_on", "pour__session__held_on"
    )
    assert coats
    assert all(finished - poured >= 7 * DAY for finished, poured in coats)


def test_what_hangs_for_sale_is_priced_above_its_cost_but_for_two_on_purpose() -> None:
    hanging = list(Piece.objects.filter(state=State.FOR_SALE))
    costs = cost_summaries(hanging)
    below = [piece for piece in hanging if (piece.price or 0) < costs[piece.pk].whole]
    assert all(piece.price for piece in hanging)
    assert len(below) == 2


def test_minutes_were_written_down_for_every_piece_that_hangs() -> None:
    worked = set(Labour.objects.values_list("piece", flat=True))
    poured_here = Piece.objects.filter(state=State.FOR_SALE, stated_labour=0)
    assert set(poured_here.values_list("pk", flat=True)) <= worked


def test_older_pieces_were_brought_in_at_a_stated_cost() -> None:
    opening = Entry.objects.filter(posting__kind="opening", place=Place.WORK)
    assert (opening.count(), sum(entry.money for entry in opening)) == (3, 8_650_000)


def test_it_sold_on_every_route_and_two_pieces_came_back() -> None:
    channels = Counter(Sale.objects.values_list("channel__name", flat=True))
    assert len(channels) == 4
    assert min(channels.values()) >= 15
    assert Sale.objects.filter(lines__refunds__condition="as_sold").count() == 1
    assert Sale.objects.filter(lines__refunds__condition="second").count() == 1
    assert Sale.objects.alias(pieces=Count("lines")).filter(pieces__gt=1).count() > 5
    assert Sale.objects.filter(note__contains="spring market").count() > 8


def test_photos_are_real_pictures_and_few(demo: Path) -> None:
    pictured = Piece.objects.exclude(photo="")
    assert 25 <= pictured.count() <= 40
    assert len(list(demo.glob("pieces/*.jpg"))) == pictured.count()
    for piece in pictured[:3]:
        with Image.open(demo / str(piece.photo.name)) as photo:
            assert photo.size == (480, 480)
            assert len(photo.getcolors(maxcolors=480 * 480) or []) > 200


def test_alerts_stand_open_and_something_goes_off_soon() -> None:
    assert 3 <= len(alert_levels()) <= 8
    soon = Lot.objects.filter(
        balance__quantity__gt=0, best_before__gte=TODAY, best_before__lte=TODAY + FORTNIGHT
    )
    assert 1 <= soon.count() <= 4


def test_a_second_run_changes_nothing() -> None:
    before = _size_of_everything()
    call_command("demo", build_only=True)
    assert _size_of_everything() == before


def test_it_refuses_somebodys_own_studio_and_leaves_it_alone() -> None:
    before = _size_of_everything()
    with transaction.atomic():
        Studio.objects.update(is_demo=False)
        with pytest.raises(CommandError, match=r"MENISCUS_DATA.*DATABASE_URL") as refusal:
            call_command("demo", build_only=True)
        transaction.set_rollback(True)
    assert refusal.value.returncode == 2
    assert _size_of_everything() == before


def _size_of_everything() -> list[int]:
    return [model._default_manager.count() for model in (Posting, Entry, Material, Piece, Sale, User, Supply)]


def test_a_commission_is_open_one_is_sold_and_one_came_to_nothing() -> None:
    rows = {each.commission.state: each for each in figures_of(Commission.objects.all())}
    assert set(rows) == {"open", "sold", "cancelled"}
    assert customer_deposits() == rows["open"].held == 80_000_000
    assert (rows["cancelled"].kept, Sale.objects.get(commission=rows["sold"].commission).paid_before) == (
        10_000_000,
        70_000_000,
    )
