"""The filters of the lists: what pages leave out and the API refuses, and which rows each one keeps."""

from types import SimpleNamespace
from typing import Any

import pytest
from django.http import QueryDict

from costing.pieces.filters import PieceFilter
from costing.selling.filters import SaleFilter
from inventory.alerts.filters import AlertFilter
from inventory.ledger.filters import PostingFilter
from inventory.purchasing.filters import DeliveryFilter, OrderFilter
from inventory.recipes.filters import MixFilter, RecipeFilter
from inventory.sessions.filters import GroupedPourFilter, PourFilter, SessionFilter
from inventory.stock.filters import LotFilter, StockFilter, StocktakeFilter
from studio.accounts.models import User
from studio.pages.filters import SORT, ListFilterSet
from tests.small_studio import SmallStudio

pytestmark = pytest.mark.django_db
ALL = [
    AlertFilter, DeliveryFilter, GroupedPourFilter, LotFilter, MixFilter, OrderFilter, PieceFilter, PostingFilter,
    PourFilter, RecipeFilter, SaleFilter, SessionFilter, StockFilter, StocktakeFilter,
]  # fmt: skip
WITH_MONEY = [DeliveryFilter, PieceFilter, StockFilter]
UNREADABLE = {
    "search": "\0", "page": "", "year": "MMXX", "month": "2026-13", "first": "yesterday", "last": "31.3.2026",
    "as_of": "2026-02-30", "expires_by": "soon",
}  # fmt: skip


def asked(kind: type[ListFilterSet], query: dict[str, Any], user: User | None = None) -> ListFilterSet:
    data = QueryDict(mutable=True)
    data.update({name: str(value) for name, value in query.items()})
    return kind(data, request=SimpleNamespace(user=user))


def rows(kind: type[ListFilterSet], user: User | None = None, **query: Any) -> list[Any]:
    found = asked(kind, query, user)
    assert found.is_valid(), found.errors
    return list(found.qs)


@pytest.mark.parametrize("kind", ALL)
def test_what_cannot_be_read_is_an_error_and_filters_nothing(
    built: SmallStudio, kind: type[ListFilterSet]
) -> None:
    nonsense = {name: UNREADABLE.get(name, "nonsense") for name in kind.base_filters}
    found = asked(kind, nonsense)
    assert set(found.errors) == set(nonsense)
    assert list(found.qs) == list(asked(kind, {}).qs)
    assert not found.is_narrowed()


@pytest.mark.parametrize("kind", ALL)
def test_every_filter_takes_what_its_own_form_offers(built: SmallStudio, kind: type[ListFilterSet]) -> None:
    form = asked(kind, {}).form
    for name, field in form.fields.items():
        for value, _label in list(getattr(field.widget, "choices", ()))[:4]:
            assert asked(kind, {name: value}).is_valid(), (name, value)


@pytest.mark.parametrize("kind", WITH_MONEY)
def test_nobody_sorts_by_money_who_may_not_see_it(
    kind: type[ListFilterSet], owner: User, helper: User
) -> None:
    money = [sign + name for name in kind.base_filters[SORT].money for sign in ("", "-")]  # type: ignore[attr-defined]
    assert kind.base_filters[SORT].field  # as the schema of the API reads it
    for sort in money:
        assert asked(kind, {SORT: sort}, owner).is_valid()
        for user in (helper, None):
            assert list(asked(kind, {SORT: sort}, user).errors) == [SORT]
            offered = [value for value, _label in asked(kind, {}, user).form.fields[SORT].widget.choices]
            assert sort not in offered


def test_postings_fit_when_one_entry_has_all_that_was_asked_for(built: SmallStudio) -> None:
    paint = rows(PostingFilter, material=built.paint.pk)
    assert {posting.kind for posting in paint} >= {"delivery", "session", "stocktake"}
    lost = rows(PostingFilter, material=built.paint.pk, place="loss")
    assert 0 < len(lost) < len(paint)
    number = paint[0].number
    assert number in [posting.number for posting in rows(PostingFilter, search=str(number))]


def test_deliveries_are_found_by_supplier_year_material_and_day(built: SmallStudio) -> None:
    day = built.delivery.received_on
    assert built.delivery in rows(DeliveryFilter, supplier=built.supplier.pk, year=day.year)
    assert built.delivery in rows(DeliveryFilter, search=built.paint.name)
    assert built.delivery in rows(DeliveryFilter, first=day, last=day)
    assert rows(DeliveryFilter, year=day.year - 50) == []


def test_orders_are_the_open_ones_unless_asked_otherwise(built: SmallStudio) -> None:
    assert [order.is_closed for order in rows(OrderFilter)] == [False]
    assert rows(OrderFilter, state="closed") == []
    assert rows(OrderFilter, state="all") == rows(OrderFilter)


def test_sessions_and_pours_are_found_by_technique_and_words(built: SmallStudio) -> None:
    technique = built.session.pours.first().technique_id  # type: ignore[union-attr]
    assert built.session in rows(SessionFilter, technique=technique, search=built.canvas.name)
    assert rows(SessionFilter, search=f"{built.canvas.name} nowhere") == []
    assert set(rows(PourFilter, session=built.session.pk)) == set(built.session.pours.all())


def test_a_recipe_is_found_by_what_goes_in_and_archived_ones_when_asked_for(built: SmallStudio) -> None:
    recipe = built.colour.recipe
    assert recipe in rows(RecipeFilter, search=built.paint.name)
    recipe.is_archived = True
    recipe.save(update_fields=["is_archived"])
    assert recipe not in rows(RecipeFilter)
    assert recipe in rows(RecipeFilter, archived="true")


def test_lots_in_stock_and_emptied_ones_are_all_lots(built: SmallStudio) -> None:
    held, emptied = rows(LotFilter, held="true"), rows(LotFilter, held="false")
    assert built.lot in held
    assert {*held, *emptied} == set(rows(LotFilter))
    assert not {*held} & {*emptied}


def test_pieces_that_left_are_listed_when_asked_for(built: SmallStudio, owner: User) -> None:
    here = rows(PieceFilter)
    sold = rows(PieceFilter, state="sold")
    assert sold
    assert not {*sold} & {*here}
    assert {*sold, *here} <= set(rows(PieceFilter, state="all"))
    assert rows(PieceFilter, search=here[0].label) == [here[0]]
    priced = [piece.price for piece in rows(PieceFilter, owner, sort="price", state="all")]
    assert priced == sorted(priced, key=lambda price: (price is None, price))


def test_sales_are_found_by_channel_month_and_whether_they_came_back(built: SmallStudio) -> None:
    [sale] = rows(SaleFilter, piece=built.sold.pk)
    month = f"{sale.sold_on:%Y-%m}"
    assert rows(SaleFilter, channel=sale.channel_id, month=month) == [sale]
    assert rows(SaleFilter, returned="false") == [sale]
    assert rows(SaleFilter, returned="true") == []


def test_low_stock_is_of_today_only(built: SmallStudio) -> None:
    low = asked(StockFilter, {"low": "on"})
    assert isinstance(low, StockFilter)
    assert built.varnish.pk in [row.material.pk for row in low.rows]
    assert list(asked(StockFilter, {"low": "true", "as_of": "2025-01-01"}).errors) == ["low"]
