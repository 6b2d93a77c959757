"""The record of changes: who changed which field when, old and new, and nobody rewrites it."""

import re
from collections.abc import Callable, Iterator
from datetime import timedelta
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from auditlog.models import LogEntry
from django.conf import settings
from django.contrib.contenttypes.models import ContentType
from django.core.management import call_command
from django.db import DatabaseError, connection, transaction
from django.test import Client, RequestFactory
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from costing.pricing.models import ChannelTerms, SalesChannel
from inventory.materials.models import Material, Supply
from inventory.sessions.models import Technique
from inventory.stock.actions.lots import describe_lot
from studio.accounts.models import Role, User
from studio.auditing.actor import acting, answering
from studio.auditing.queries import ChangeAction, entries, field_changes
from studio.auditing.recording import recorded, recorded_models
from studio.auditing.sealed_rows import sealed_models
from studio.auditing.wording import all_in_words
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from tests import making
from tests.two_tabs import Tab

ADDED, CHANGED, DELETED = ChangeAction


def changes_of(kind: str) -> list[tuple[ChangeAction, str, Any, Any]]:
    """What is recorded of a table, oldest first."""
    changes = field_changes(entries().filter(content_type__model=kind))
    return [(change.action, change.field, change.old, change.new) for change in changes]


@pytest.fixture
def as_owner(owner: User, rf: RequestFactory) -> Iterator[User]:
    request = rf.get("/")
    request.user = owner
    with answering(request):
        yield owner


def test_it_records_each_field_that_changed_with_old_and_new(as_owner: User) -> None:
    before = timezone.now()
    paint = making.make_material(name="Harbour Blue", density=None)
    paint.name, paint.density, paint.is_archived = "Harbour Grey", 1_120_000, True
    paint.save()
    paint.delete()
    assert changes_of("material") == [
        (ADDED, "", None, None),
        (CHANGED, "name", "Harbour Blue", "Harbour Grey"),
        (CHANGED, "density", None, 1_120_000),
        (CHANGED, "is_archived", False, True),
        (DELETED, "", None, None),
    ]
    for entry in entries().filter(content_type__model="material"):
        assert entry.actor == as_owner
        assert before <= entry.timestamp <= timezone.now()


def test_of_what_postings_made_only_what_is_put_right_by_hand_is_recorded(as_owner: User) -> None:
    lot = making.make_lot()
    assert changes_of("lot") == []
    lot.place, lot.empty_weight, lot.received_on = "Cool box", 42_000, lot.received_on - timedelta(days=1)
    lot.save()
    assert changes_of("lot") == [(CHANGED, "place", "", "Cool box"), (CHANGED, "empty_weight", None, 42_000)]


def test_a_save_that_changes_nothing_is_not_recorded(as_owner: User) -> None:
    paint = making.make_material()
    paint.save()
    Material.objects.get(pk=paint.pk).save(update_fields=["name"])
    assert changes_of("material") == [(ADDED, "", None, None)]


def test_it_sees_what_another_person_stored_meanwhile(as_owner: User) -> None:
    paint = making.make_material(name="Harbour Blue")
    other = Material.objects.get(pk=paint.pk)
    other.name = "Gull White"
    other.save()
    paint.notes = "thick"
    paint.save(update_fields=["notes"])
    assert changes_of("material")[1:] == [
        (CHANGED, "name", "Harbour Blue", "Gull White"),
        (CHANGED, "notes", "", "thick"),
    ]


@pytest.mark.skipif(connection.vendor == "sqlite", reason="A writer shuts out every other from its start.")
def test_a_row_is_locked_before_its_old_values_are_read(as_owner: User) -> None:
    paint = making.make_material()
    paint.notes = "thick"
    with CaptureQueriesContext(connection) as queries:
        paint.save()
    read = [query["sql"] for query in queries if query["sql"].startswith("SELECT")]
    assert ["FOR NO KEY UPDATE" in sql for sql in read[:2]] == [True, False]


def test_a_command_is_recorded_without_a_person(db: None) -> None:
    studio = Studio.current()
    studio.reserve = 150_000
    studio.save()
    [change] = field_changes(entries())
    assert (change.by, change.field, change.new) == (None, "reserve", 150_000)


def test_one_save_is_one_entry_with_codes_and_numbers(as_owner: User) -> None:
    supply = Supply.objects.create(
        supplier=making.make_supplier(currency="EUR"),
        material=making.make_material(),
        pack_size=250_000,
        price=1,
    )
    other = making.make_supplier(name="Fathom Colours")
    supply.price, supply.is_preferred, supply.supplier = 9_250_000, True, other
    supply.save()
    entry = LogEntry.objects.latest("pk")
    assert entry.changes == {
        "price": [1, 9_250_000],
        "is_preferred": [False, True],
        "supplier": [other.pk - 1, other.pk],
    }
    assert entry.additional_data["currency"] == other.currency
    assert entry.additional_data["measure"] == "volume"


def test_the_person_of_a_submission_comes_before_the_one_of_the_request(as_owner: User, helper: User) -> None:
    with acting(helper):
        paint = making.make_material(name="Harbour Blue")
        with acting(as_owner):
            paint.name = "Harbour Grey"
            paint.save()
        paint.name = "Harbour Green"
        paint.save()
    paint.delete()
    people = entries().filter(content_type__model="material").values_list("actor__username", flat=True)
    assert list(people) == [helper.username, as_owner.username, helper.username, as_owner.username]


def test_an_action_is_recorded_as_its_submissions_person_also_without_a_request(helper: User) -> None:
    lot = making.make_lot()
    lot.place = "Cool box"
    describe_lot(lot, submission=making.make_submission(by=helper))
    [change] = field_changes(entries().filter(content_type__model="lot"))
    assert (change.by, change.field, change.new) == (helper, "place", "Cool box")


def test_a_password_is_recorded_as_changed_and_never_shown(owner: User, client: Client) -> None:
    keeper = User.objects.create_user("keeper", password="seven herons over the slipway")
    first = keeper.password
    keeper.set_password("nine oystercatchers on the quay")
    keeper.last_login = timezone.now()
    keeper.save()
    assert changes_of("user")[-1] == (CHANGED, "password", "", "")
    written = str(list(LogEntry.objects.values()))
    assert not any(secret in written for secret in (first, keeper.password, "herons", "oystercatchers"))
    formatter = Formatter.of(Studio.current())
    assert [words.is_told for words in all_in_words(field_changes(entries()), formatter)][-1] is False
    client.force_login(owner)
    page = client.get("/change-log/").content.decode()
    assert keeper.password not in page
    assert str(User._meta.get_field("password").verbose_name) in page


def test_the_rooms_register_what_is_recorded() -> None:
    whole = (
        "ChannelTerms Commission Contact DigestChoice Flaw Location MarketDay Material Order OverheadLine OverheadYear "
        "Plan PriceRules Rates Ratio Reason Recipe SalesChannel Studio Supplier Supply Technique User"
    )
    corrected = "Books Comparison Lot Mix Piece Pour Session Webhook"
    kinds = {model.__name__: recorded(model) for model in recorded_models()}
    assert {name for name, kept in kinds.items() if kept and kept.is_whole} == set(whole.split())
    assert {name for name, kept in kinds.items() if kept and not kept.is_whole} == set(corrected.split())


def test_nobody_rewrites_the_record(as_owner: User) -> None:
    making.make_material()
    entry = LogEntry.objects.latest("pk")
    attempts: list[Callable[[], object]] = [
        lambda: LogEntry.objects.update(changes={}),
        lambda: LogEntry.objects.filter(pk=entry.pk).delete(),
        entry.delete,
        lambda: LogEntry.objects.bulk_update([entry], ["changes"]),
        entry.save,
        lambda: call_command("auditlogflush", yes=True, stdout=StringIO()),
        as_owner.delete,
        ContentType.objects.get_for_model(Material).delete,
        lambda: run("DELETE FROM auditlog_logentry"),
        lambda: run("UPDATE auditlog_logentry SET object_repr = 'x'"),
        lambda: run(
            "INSERT OR REPLACE INTO auditlog_logentry SELECT * FROM auditlog_logentry"
            if connection.vendor == "sqlite"
            else "SET CONSTRAINTS ALL IMMEDIATE; TRUNCATE auditlog_logentry"
        ),
    ]
    count = LogEntry.objects.count()
    for attempt in attempts:
        refused = "record: (what was changed is never|there is one with this id)"
        with pytest.raises(DatabaseError, match=refused), transaction.atomic():
            attempt()
    assert LogEntry.objects.count() == count


def run(sql: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(sql)


def test_nothing_in_the_project_writes_sealed_rows_past_the_record() -> None:
    """`update()` and the bulk calls send no signals; only the very first rows may come that way."""
    names = [model.__name__ for model in sealed_models()]
    assert {"Material", "Lot", "DeliveryLine"} <= set(names)
    past = re.compile(
        rf"\b({'|'.join(names)})\.(objects|_default_manager)\b[^\n]*\.(update|bulk_create|bulk_update)\("
    )
    found = [
        f"{path.relative_to(settings.BASE_DIR)}: {line.strip()}"
        for package in ("studio", "inventory", "costing")
        for path in Path(settings.BASE_DIR, package).rglob("*.py")
        if "migrations" not in path.parts and path.name != "starter_rows.py"
        for line in path.read_text(encoding="utf-8").splitlines()
        if past.search(line)
    ]
    assert found == []


# The page


def test_the_page_tells_a_change_in_the_studios_words(as_owner: User, client: Client) -> None:
    paint = making.make_material(name="Harbour Blue", density=1_120_000)
    paint.density = 1_080_000
    paint.save()
    supply = Supply.objects.create(
        supplier=making.make_supplier(name="Netloft Stores"),
        material=paint,
        pack_size=250_000,
        price=8_500_000,
    )
    supply.price, supply.pack_size, supply.is_preferred = 9_250_000, 500_500, True
    supply.save()
    channel = SalesChannel.objects.create(name="<b>Lantern Quay</b>")
    terms = ChannelTerms.objects.create(channel=channel, commission=100_000)
    terms.commission = 125_000
    terms.save()
    client.force_login(as_owner)
    page = client.get("/change-log/").content.decode()
    shares, densities = ("10%", "12.5%"), ("1.12\u00a0g/mL", "1.08\u00a0g/mL")
    for words in ("£8.50", "£9.25", "250\u00a0mL", "500.5\u00a0mL", "no", "yes", *shares, *densities):
        assert f">{words}</td>" in page
    assert "Supply: Netloft Stores, Harbour Blue" in page
    assert "Sales channel: &lt;b&gt;Lantern Quay&lt;/b&gt;" in page


def test_a_price_is_told_in_the_currency_that_the_supplier_had_at_the_time(
    as_owner: User, client: Client
) -> None:
    supplier = making.make_supplier(name="Netloft Stores", currency="EUR")
    supply = Supply.objects.create(
        supplier=supplier, material=making.make_material(), pack_size=250_000, price=8_500_000
    )
    supply.price = 9_250_000
    supply.save()
    supplier.currency = "JPY"
    supplier.save()
    supply.price = 1_600_000_000
    supply.save()
    client.force_login(as_owner)
    page = client.get("/change-log/").content.decode()
    assert [f">{words}</td>" in page for words in ("€8.50", "€9.25", "JP¥9", "JP¥1,600", "£8.50")] == [
        True, True, True, True, False,
    ]  # fmt: skip


def test_levels_and_packs_are_told_in_the_materials_own_unit(as_owner: User, client: Client) -> None:
    wire = making.make_material(measure="length", density=None)
    wire.reorder_level, wire.safety_stock = 3_000, 1_000
    wire.save()
    powder = making.make_material(measure="mass", density=None)
    powder.reorder_level = 250_500
    powder.save()
    client.force_login(as_owner)
    page = client.get("/change-log/").content.decode()
    for words in ("3\u00a0cm", "1\u00a0cm", "250.5\u00a0g"):
        assert f">{words}</td>" in page


def test_the_figures_of_a_row_that_is_gone_keep_their_units(as_owner: User, client: Client) -> None:
    supply = Supply.objects.create(
        supplier=making.make_supplier(currency="EUR"),
        material=making.make_material(),
        pack_size=250_000,
        price=8_500_000,
    )
    supply.price, supply.pack_size = 9_250_000, 500_500
    supply.save()
    supply.delete()
    client.force_login(as_owner)
    page = client.get("/change-log/").content.decode()
    for words in ("€8.50", "€9.25", "250\u00a0mL", "500.5\u00a0mL"):
        assert f">{words}</td>" in page


def test_the_page_filters(as_owner: User, client: Client) -> None:
    making.make_material(name="Harbour Blue")
    making.make_material(name="Gull White")
    technique = Technique.objects.first()
    assert technique is not None
    technique.coverage += 1
    technique.save()
    client.force_login(as_owner)

    def names(**said: str) -> set[str]:
        return {row.change.name for row in client.get("/change-log/", said).context["table"].rows}

    today, tomorrow = timezone.localdate(), timezone.localdate() + timedelta(days=1)
    assert names(kind="inventory.technique") == {technique.name}
    assert names(search="harbour") == {"Harbour Blue"}
    Supply.objects.create(
        supplier=making.make_supplier(name="Netloft Stores"),
        material=making.make_material(),
        pack_size=1,
        price=1,
    )
    assert len(names(search="netloft")) == 2, "the supplier, and the pack that it sells"
    assert "Gull White" in names(by=str(as_owner.pk), first=today.isoformat(), last=today.isoformat())
    assert names(first=tomorrow.isoformat()) == set()
    for nonsense in ({"by": "x"}, {"by": "9" * 40}, {"first": "2025-99-99"}, {"search": "\0"}, {"page": "x"}):
        assert client.get("/change-log/", nonsense).status_code == 200


def test_the_page_is_for_the_owner_and_the_bookkeeper(
    owner: User, bookkeeper: User, helper: User, client: Client
) -> None:
    trusted = User.objects.create(username="trusted", role=Role.HELPER, may_see_money=True)
    for user, status in ((owner, 200), (bookkeeper, 200), (helper, 403), (trusted, 403)):
        client.force_login(user)
        assert client.get("/change-log/").status_code == status
    client.logout()
    assert client.get("/change-log/").status_code == 302


def test_the_page_takes_as_many_queries_for_many_changes_as_for_few(
    as_owner: User, client: Client, django_assert_max_num_queries: Any
) -> None:
    client.force_login(as_owner)
    for _ in range(60):
        making.make_material()
    with django_assert_max_num_queries(8):
        page = client.get("/change-log/")
    assert len(page.context["table"].rows) == 25


def test_nor_do_many_prices_and_levels_cost_more_queries(
    as_owner: User, client: Client, django_assert_num_queries: Any
) -> None:
    client.force_login(as_owner)

    def reprice() -> None:
        supply = Supply.objects.create(
            supplier=making.make_supplier(),
            material=making.make_material(),
            pack_size=250_000,
            price=8_500_000,
        )
        supply.price, supply.material.reorder_level = 9_250_000, 500_500
        supply.save()
        supply.material.save()

    reprice()
    with CaptureQueriesContext(connection) as few:
        client.get("/change-log/")
    for _ in range(9):
        reprice()
    with django_assert_num_queries(len(few)):
        client.get("/change-log/")


def test_what_is_changed_in_the_settings_is_recorded_with_the_person(owner: User, client: Client) -> None:
    client.force_login(owner)
    technique = Technique.objects.get(name="Ring pour")
    page = reverse("inventory:technique-edit", args=[technique.pk])
    Tab(client, page, page).send(source="own history")
    [change] = field_changes(entries(), fields=["source"])
    assert (change.kind, change.by, change.new) == ("inventory.technique", owner, "own history")
