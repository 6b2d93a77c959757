"""Numbers are typed in the digits 0 to 9, in forms and in requests alike."""

import pytest
from django import forms
from rest_framework import serializers

from studio.api.serializers import RequestSerializer
from studio.pages.forms import PercentField, StudioForm
from studio.preferences.models import Studio

pytestmark = pytest.mark.django_db

OTHER_DIGITS = ["٣", "３", "²", "1٢", "२"]


class Numbers(StudioForm):
    days = forms.IntegerField(required=False)
    share = PercentField(required=False)


class NumbersRequest(RequestSerializer):
    days = serializers.IntegerField()


@pytest.mark.parametrize("typed", OTHER_DIGITS)
@pytest.mark.parametrize("field", ["days", "share"])
def test_a_form_refuses_other_digits(field: str, typed: str) -> None:
    form = Numbers({field: typed}, studio=Studio.current())
    assert list(form.errors) == [field]


@pytest.mark.parametrize("typed", ["2.²", "20.٥", "٢٠"])
def test_a_percentage_refuses_other_digits_after_the_point(typed: str) -> None:
    assert list(Numbers({"share": typed}, studio=Studio.current()).errors) == ["share"]


@pytest.mark.parametrize("typed", OTHER_DIGITS)
def test_a_request_refuses_other_digits(typed: str) -> None:
    request = NumbersRequest(data={"days": typed})
    assert not request.is_valid()
    assert list(request.errors) == ["days"]


def test_plain_digits_are_read() -> None:
    form = Numbers({"days": "12", "share": "2.5"}, studio=Studio.current())
    assert form.is_valid()
    assert form.cleaned_data == {"days": 12, "share": 25_000}
