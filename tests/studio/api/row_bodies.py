"""What programs send to add, change and delete rows, for tests that spoil it."""

import base64
from datetime import date
from typing import Any

from costing.locations.models import Location
from costing.markets.actions.selling import quick_sale
from costing.overhead.models import OverheadLine, OverheadYear
from costing.pieces.calculations import State
from costing.pricing.models import ChannelTerms, SalesChannel
from costing.selling.actions import PieceSold
from inventory.ledger.models import Reason
from inventory.materials.models import Supply
from inventory.sessions.actions.photos import add_photo
from inventory.sessions.models import Flaw, Technique
from studio.preferences.models import Rates
from tests.costing.markets.stories import make_market
from tests.costing.stories import a_piece
from tests.making import (
    make_material,
    make_submission,
    make_supplier,
    money,
    the_reason,
    the_technique,
    units,
)
from tests.pictures import encoded, left_red_right_blue
from tests.small_studio import SmallStudio

Bodies = dict[str, dict[str, Any]]


def bodies_of_rows(studio: SmallStudio, day: str) -> Bodies:
    """Bodies that are accepted, by the address below /api/."""
    return {
        **_of_the_shelf(studio, day),
        **_of_the_bench(studio, day),
        **_of_pieces(studio, day),
        **_of_selling(studio, day),
        **_of_the_studio(studio, day),
    }


def _of_the_shelf(studio: SmallStudio, day: str) -> Bodies:
    unused = make_material(name="Never opened")
    nobody = make_supplier(name="Never asked")
    pack = Supply.objects.create(supplier=nobody, material=unused, pack_size=units(250), price=money(4))
    forgotten = make_supplier(name="Long forgotten")
    return {
        "materials/": {"name": "Kelp Green", "kind": "paint", "measure": "volume", "reorder_level": "250 ml"},
        f"materials/{studio.paint.pk}/change/": {"maker": "Limpet & Bung", "keeps_days": 400},
        f"materials/{studio.paint.pk}/density/": {"density": "1.2"},
        f"materials/{make_material(name='Never bought').pk}/delete/": {},
        "suppliers/": {"name": "Cleat & Son", "currency": "GBP", "carriage": "4.95"},
        f"suppliers/{studio.supplier.pk}/change/": {"notes": "Rings twice", "minimum_order": "20.00"},
        f"suppliers/{forgotten.pk}/delete/": {},
        "packs/": {
            "supplier": studio.supplier.pk,
            "material": studio.paint.pk,
            "pack_size": "250 ml",
            "price": "9.50",
            "price_breaks": [{"from_packs": 4, "price": "8.50"}],
        },
        f"packs/{studio.supply.pk}/change/": {"price": "18.00", "minimum_packs": 2},
        f"packs/{pack.pk}/delete/": {},
        "reasons/": {"name": "Fell from the shelf", "kind": Reason.Kind.values[0]},
        f"reasons/{the_reason().pk}/change/": {"name": "Spilt"},
        f"lots/{studio.lot.pk}/change/": {"place": "Window", "empty_weight": "40 g"},
        f"lots/{studio.lot.pk}/decant/": {"quantity": "10 ml", "on": day, "place": "Window"},
        "books/": {"closed_through": "2025-05-01"},
        "shopping-clearing/": {},
        "alerts/check/": {},
    }


def _of_the_bench(studio: SmallStudio, day: str) -> Bodies:
    picture = encoded(left_red_right_blue()).getvalue()
    photo = add_photo(
        session=studio.session, upload=encoded(left_red_right_blue(60)), submission=make_submission()
    )
    flaw, _ = Flaw.objects.get_or_create(name="Dust")
    unused, _ = Technique.objects.get_or_create(name="Never tried", defaults={"coverage": 200})
    comparison, plan = f"comparisons/{studio.comparison.pk}", f"plans/{studio.plan.pk}"
    colours = [{"recipe": studio.recipe.pk, "share": 1}]
    line = {"surface": studio.canvas.pk, "count": 2, "technique": the_technique().pk, "colours": colours}
    parts = [{"material": studio.paint.pk, "parts": "2"}, {"material": studio.glue.pk, "parts": "1.5"}]
    return {
        "techniques/": {"name": "Tide line", "coverage": 250},
        f"techniques/{the_technique().pk}/change/": {"coverage": 260},
        f"techniques/{unused.pk}/delete/": {},
        f"sessions/{studio.session.pk}/set/": {"set_name": "Tuesday tiles"},
        "flaws/": {"name": "Sand in it"},
        f"flaws/{flaw.pk}/change/": {"name": "Dust on it"},
        f"flaws/{flaw.pk}/delete/": {},
        "recipes/": {"name": "Kelp, poured", "parts": parts, "new_kind": "mix"},
        f"recipes/{studio.recipe.pk}/versions/": {"parts": parts, "basis": "mass", "notes": "Thicker"},
        f"recipes/{studio.recipe.pk}/duplicate/": {"name": "Kelp, again"},
        f"recipes/{studio.recipe.pk}/for-paints/": {
            "paints": [make_material(name="Marram Green").pk],
            "replaces": studio.paint.pk,
        },
        f"recipes/{studio.recipe.pk}/colour/": {"colour": "#2f5d9b"},
        f"{plan}/change/": {"name": "Lamps", "planned_on": day, "lines": [line]},
        f"{plan}/copy/": {"on": day},
        f"{plan}/delete/": {},
        f"pours/{studio.loose.pk}/change/": {"run_off": "3 ml", "notes": "Slow"},
        f"{comparison}/change/": {"name": "Late or early"},
        f"{comparison}/delete/": {},
        "session-photos/": {
            "session": studio.session.pk,
            "pours": [studio.loose.pk],
            "content": base64.b64encode(picture).decode(),
        },
        f"session-photos/{photo.pk}/delete/": {},
    }


def _of_pieces(studio: SmallStudio, day: str) -> Bodies:
    picture = base64.b64encode(encoded(left_red_right_blue()).getvalue()).decode()
    dry, piece = f"pieces/{studio.dry.pk}", f"pieces/{studio.for_sale.pk}"
    work = {"on": day, "materials": [{"material": studio.varnish.pk, "quantity": "5 ml"}], "minutes": 10}
    gift = Reason.objects.filter(kind="gift")[0]
    return {
        f"{dry}/finish/": {**work, "note": "Two coats", "anyway": True},
        f"{piece}/pack/": {**work, "confirm_gain": False},
        f"{piece}/minutes/": {"on": day, "work": "Framing", "minutes": 15},
        f"{piece}/give/": {"on": day, "reason": gift.pk, "market_value": "60.00", "note": ""},
        f"{piece}/photo/": {"content": picture},
        f"{piece}/photo/delete/": {},
        f"{dry}/split/": {},
    }


def _of_selling(studio: SmallStudio, day: str) -> Bodies:
    market, empty = f"market-days/{studio.market.pk}", make_market(on=date(2025, 6, 27), name="Never held")
    channel, _ = SalesChannel.objects.get_or_create(name="Never used")
    terms = ChannelTerms.objects.get_or_create(channel=channel, holds_from=None, defaults={"commission": 0})[
        0
    ]
    sold = [PieceSold(a_piece(title="Sold by mistake", state=State.FOR_SALE), money(20))]
    quick_sale(market=studio.market, lines=sold, paid_by="cash", submission=make_submission(key="by-mistake"))
    shed, _ = Location.objects.get_or_create(name="Never filled", defaults={"kind": "box"})
    return {
        f"{market}/change/": {"place": "Slipway", "minutes": 90},
        f"market-days/{empty.pk}/delete/": {},
        f"{market}/unpack/": {"piece": studio.for_sale.pk},
        f"{market}/bring-home/": {},
        f"{market}/undo/": {"sale": "by-mistake"},
        "sales-channels/": {"name": "Open studio", "payment": "cash"},
        f"sales-channels/{studio.channel.pk}/change/": {"is_active": False},
        f"sales-channels/{channel.pk}/delete/": {},
        "channel-terms/": {"channel": studio.channel.pk, "holds_from": "2025-08-01", "commission": "0.3"},
        f"channel-terms/{terms.pk}/change/": {"card_rate": "0.02"},
        f"channel-terms/{terms.pk}/delete/": {},
        f"locations/{studio.box.pk}/change/": {"name": "Long box"},
        f"locations/{shed.pk}/delete/": {},
    }


def _of_the_studio(studio: SmallStudio, day: str) -> Bodies:
    picture = base64.b64encode(encoded(left_red_right_blue()).getvalue()).decode()
    year, line = OverheadYear.objects.all()[0], OverheadLine.objects.all()[0]
    rates = Rates.objects.all()[0]
    return {
        "overhead-lines/": {"year": year.pk, "name": "Heating", "estimated": "300.00", "paid": None},
        f"overhead-lines/{line.pk}/change/": {"paid": "1190.00"},
        f"overhead-lines/{line.pk}/delete/": {},
        f"overhead/{year.pk}/change/": {"hours": 600},
        f"overhead/{year.pk}/delete/": {},
        f"rates/{rates.pk}/change/": {"wage_per_hour": "14.00"},
        f"rates/{rates.pk}/delete/": {},
        "price-rules/": {"wage": "15.00"},
        "logo/": {"content": picture},
        "logo/delete/": {},
        "studio-settings/": {"name": "Netloft Studio", "measuring_step": "1 ml"},
    }
