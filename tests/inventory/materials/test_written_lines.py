"""Lines about purchases as people write them. The lines are invented; how such lines are written: common practice."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.materials.written_facts import Doubt, PriceIs
from inventory.materials.written_lines import read_line, read_lines

EACH, TOTAL = PriceIs.EACH, PriceIs.TOTAL


@pytest.mark.parametrize(
    "text",
    [
        "half bottle Ebbe Lemon 250 ml £3",
        "Ebbe Lemon, half full, 250 ml £3",
        "halbe Flasche Ebbe Lemon 250 ml £3",
    ],
)
def test_a_bottle_that_is_not_full_is_not_named_so_and_asked_about(text: str) -> None:
    line = read_line(text)
    assert (line.name, line.amount, line.doubts) == ("Ebbe Lemon", "250 ml", (Doubt.PART_LEFT,))


@pytest.mark.parametrize(
    ("text", "name", "amount", "packs", "price", "price_is"),
    [
        ("2 x Sail Loft White 500ml @ £7.20", "Sail Loft White", "500ml", 2, "7.20", EACH),
        ("Lantern Amber 8 fl oz 9.40", "Lantern Amber", "8 fl oz", 1, "9.40", TOTAL),
        ("6 for £24 Tide Grey 120 ml", "Tide Grey", "120 ml", 6, "24", TOTAL),
        ("Round board 20 cm x4 £3.49 each", "Round board 20 cm", "1 each", 4, "3.49", EACH),
        ("Canvas 30 x 40 cm, 5 for £32.50", "Canvas 30 x 40 cm", "1 each", 5, "32.50", TOTAL),
        ("Nitrile gloves box of 100 £8.95", "Nitrile gloves", "100 each", 1, "8.95", TOTAL),
        ("Cups 200 ml pack of 50 £6.50", "Cups 200 ml", "50 each", 1, "6.50", TOTAL),
        ("- Harbour Red 1/2 l  £11", "Harbour Red", "1/2 l", 1, "11", TOTAL),
        ("1) Gull White, 1 gal, $48.00", "Gull White", "1 gal", 1, "48.00", TOTAL),
        ("Varnish gloss 750ml 2 @ 13.50", "Varnish gloss", "750ml", 2, "13.50", EACH),
        ("Copper powder 25 g 5.90 each x 3", "Copper powder", "25 g", 3, "5.90", EACH),
        ("Anker Ocker 250 ml 2 Stk je 6,90", "Anker Ocker", "250 ml", 2, "6,90", EACH),
        ("Linen tea towel x 6 12.00 in all", "Linen tea towel", "1 each", 6, "12.00", TOTAL),
        ("Signal red 500 ml £7.20 £14.40", "Signal red", "500 ml", 2, "7.20", EACH),
        ("Tissue paper 100 sheets 4.20", "Tissue paper", "100 each", 1, "4.20", TOTAL),
        ("Kelp Green 250 ml = £18.00 x4", "Kelp Green", "250 ml", 4, "18.00", TOTAL),
        ("2 x Anker Ocker 120 ml à 4,80 €", "Anker Ocker", "120 ml", 2, "4,80", EACH),
        ("Anker Ocker 120 ml 2 St. 4,80 €/St.", "Anker Ocker", "120 ml", 2, "4,80", EACH),
        ("2 Flaschen à 120 ml Anker Ocker je 4,80", "Anker Ocker", "120 ml", 2, "4,80", EACH),
        ("Leinwand 30x30 5er Pack 17,50 €", "Leinwand 30x30", "5 each", 1, "17,50", TOTAL),
        ("Leinwand 30x30 Pack à 5 17,50 €", "Leinwand 30x30", "5 each", 1, "17,50", TOTAL),
        ("Leinwand 30x30 VE 5 17,50 €", "Leinwand 30x30", "5 each", 1, "17,50", TOTAL),
        ("Canvas 30x30 5-pack £15.50", "Canvas 30x30", "5 each", 1, "15.50", TOTAL),
        ("Leinwand 30x30 5er 17,50 €", "Leinwand 30x30", "5 each", 1, "17,50", TOTAL),
        ("Leinwand 30x30 (5er) 17,50 €", "Leinwand 30x30", "5 each", 1, "17,50", TOTAL),
        ("2er-Set Leinwand 30x30 17,50 €", "Leinwand 30x30", "2 each", 1, "17,50", TOTAL),
        ("Leinwand 30x30 5er-VE 17,50 €", "Leinwand 30x30", "5 each", 1, "17,50", TOTAL),
        ("Handschuhe 100er-Box 8,95 €", "Handschuhe", "100 each", 1, "8,95", TOTAL),
        ("Pinsel-Set 5-teilig 9,90 €", "Pinsel-Set", "5 each", 1, "9,90", TOTAL),
        ("Pack of 5 canvas 30x30 £15.50", "canvas 30x30", "5 each", 1, "15.50", TOTAL),
        ("Canvas 30x30 pk of 5 £15.50", "Canvas 30x30", "5 each", 1, "15.50", TOTAL),
        ("Canvas 30x30 5pk £15.50", "Canvas 30x30", "5 each", 1, "15.50", TOTAL),
        ("Canvas 30x30, pack of five £15.50", "Canvas 30x30", "5 each", 1, "15.50", TOTAL),
        ("Canvas 30x30 twin pack £6", "Canvas 30x30", "2 each", 1, "6", TOTAL),
        ("Dozen boards 20 cm £12", "boards 20 cm", "12 each", 1, "12", TOTAL),
        ("Becher 200 ml 50er 6,50 €", "Becher 200 ml", "50 each", 1, "6,50", TOTAL),
        ("Hafenrot ½ l 11 €", "Hafenrot", "½ l", 1, "11", TOTAL),
        ("Half a litre Harbour Red £11", "Harbour Red", "1/2 litre", 1, "11", TOTAL),
        ("Ein halber Liter Hafenrot 11 €", "Hafenrot", "1/2 Liter", 1, "11", TOTAL),
        ("Handschuhe 1 Karton 100 Stück 9,90 €", "Handschuhe", "100 each", 1, "9,90", TOTAL),
    ],
)
def test_a_line_is_read_without_doubt(
    text: str, name: str, amount: str, packs: int, price: str, price_is: PriceIs
) -> None:
    line = read_line(text)
    assert (line.name, line.amount, line.packs, line.price, line.price_is) == (
        name,
        amount,
        packs,
        price,
        price_is,
    )
    assert line.doubts == ()
    assert not line.is_extra


@pytest.mark.parametrize(
    ("text", "amount", "packs"),
    [
        ("Sail Loft White 3x250 ml £21", "250 ml", 3),
        ("Sail Loft White 250ml (pack of 3) £21", "250ml", 3),
        ("Sail Loft White 250 ml 3-pack £21", "250 ml", 3),
        ("3er-Set Sail Loft White à 250 ml 21 €", "250 ml", 3),
        ("Set of 3 Sail Loft White, 250 ml each £21", "250 ml", 3),
        ("Sail Loft White 2er Pack 2x750 ml 30 €", "750 ml", 2),
        ("Sail Loft White 2 packs of 6 x 20 ml £25", "20 ml", 12),
        ("Sail Loft White 2 x 1/2 l £22", "1/2 l", 2),
    ],
)
def test_a_set_of_bottles_is_so_many_of_that_size_and_asked_about(text: str, amount: str, packs: int) -> None:
    line = read_line(text)
    assert (line.name, line.amount, line.packs) == ("Sail Loft White", amount, packs)
    assert line.doubts == (Doubt.PACKS, Doubt.EACH_OR_TOTAL)


@pytest.mark.parametrize(
    ("text", "doubt"),
    [
        ("Sail Loft White 500 ml £7.20 x2", Doubt.EACH_OR_TOTAL),
        ("Net grey 60ml\t2\t4.50", Doubt.EACH_OR_TOTAL),
        ("6x250ml Slack Water Blue £24", Doubt.PACKS),
        ("Sail Loft White 8 oz £7", Doubt.OUNCES),
        ("White 500ml 7", Doubt.BARE_NUMBER),
        ("gold ochre", Doubt.NO_AMOUNT),
        ("gold ochre 60 ml", Doubt.NO_PRICE),
        ("500 ml £3", Doubt.NO_NAME),
        ("Signal red 500 ml £7.20 £15.00", Doubt.TWO_PRICES),
    ],
)
def test_what_can_be_meant_in_two_ways_or_is_missing_is_said(text: str, doubt: Doubt) -> None:
    assert doubt in read_line(text).doubts


def test_a_discount_in_brackets_is_no_part_of_the_name() -> None:
    line = read_line("Ebbe Carbon 250 ml £5.10 (10% off £5.67)")
    assert (line.name, line.price, line.doubts) == ("Ebbe Carbon", "5.10", (Doubt.TWO_PRICES,))


@pytest.mark.parametrize(
    "text", ["Postage 4.95", "VAT £3.20", "Total £84.20", "Discount -£2", "Versand 5,90 €"]
)
def test_what_is_no_material_is_set_apart(text: str) -> None:
    assert read_line(text).is_extra


@pytest.mark.parametrize(
    ("text", "carriage"),
    [
        ("Shipping £4.95", "4.95"),
        ("Versand 5,90 €", "5,90"),
        ("Postage £4.95 (2 parcels)", "4.95"),
        ("Total £84.20", ""),
    ],
)
def test_what_was_paid_for_the_way_is_told_from_other_extras(text: str, carriage: str) -> None:
    line = read_line(text)
    assert (line.price if line.is_carriage else "") == carriage


def test_blank_lines_are_no_lines() -> None:
    assert [line.name for line in read_lines("White 60 ml 2.00\n\n  \nRed 60 ml 2.00\n")] == ["White", "Red"]


@given(st.text(max_size=300))
def test_no_text_is_too_strange_to_be_read(text: str) -> None:
    for line in read_lines(text):
        assert 1 <= line.packs <= 1_000
        assert len(line.text) <= 200


@given(
    packs=st.integers(2, 20),
    pence=st.integers(1, 99_999),
    size=st.integers(1, 5_000),
    unit=st.sampled_from(["ml", "g", "l", "kg"]),
)
def test_what_is_written_plainly_is_read_back(packs: int, pence: int, size: int, unit: str) -> None:
    price = f"{pence // 100}.{pence % 100:02}"
    line = read_line(f"Slack Water Blue {size} {unit}, {packs} @ £{price}")
    assert (line.name, line.amount, line.packs, line.price, line.price_is) == (
        "Slack Water Blue",
        f"{size} {unit}",
        packs,
        price,
        EACH,
    )
