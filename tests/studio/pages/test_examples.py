"""Examples of what to type can be typed as they stand: numbers stand in them as the studio writes them."""

import pytest
from django import forms

from studio.pages.forms import MoneyField, QuantityField, RatioField, StudioForm, TypedField
from studio.preferences.models import Studio
from studio.values.units import Measure


class Sample(StudioForm):
    """A field of each kind that has decimals."""

    price = MoneyField(example=12_500_000)
    step = QuantityField(measure=Measure.MASS, example=100)
    density = RatioField(unit="g/mL", example=1_120_000, help_text="Such as {example}.")
    share = TypedField(example="35%")


@pytest.mark.parametrize(
    ("locale", "examples"),
    [("en_GB", ["12.50", "0.1 g", "1.12 g/mL"]), ("de_DE", ["12,50", "0,1 g", "1,12 g/mL"])],
)
def test_an_example_is_written_as_the_studio_writes_numbers(locale: str, examples: list[str]) -> None:
    form = Sample(studio=Studio(locale=locale))
    shown = [form.fields[name].widget.attrs["placeholder"] for name in ("price", "step", "density")]
    assert shown == examples
    assert form.fields["density"].help_text == f"Such as {examples[-1]}."
    read = [form.fields[name].clean(example) for name, example in zip(form.fields, examples, strict=False)]
    assert read == [12_500_000, 100, 1_120_000]


def test_an_example_in_words_stays_as_it_is() -> None:
    share: forms.Field = Sample(studio=Studio(locale="de_DE")).fields["share"]
    assert share.widget.attrs["placeholder"] == "35%"
