"""Where the service may be reached: private addresses only (RFC 1918, RFC 3927), and on no network until asked."""

import io

import pytest
from django.core.management import CommandError, call_command

from studio.serving.addresses import NotPrivate, Place, local_name, private_address


@pytest.mark.parametrize("address", ["192.168.1.20", "10.0.0.5", "172.16.4.4", "169.254.3.3"])
def test_private_addresses_are_served(address: str) -> None:
    assert private_address(address) == address


@pytest.mark.parametrize(
    "address", ["0.0.0.0", "8.8.8.8", "172.32.0.1", "fe80::1", "everywhere", "192.168.1"]
)
def test_other_addresses_are_refused_with_what_to_do(address: str) -> None:
    with pytest.raises(NotPrivate, match=r"192\.168\.1\.20"):
        private_address(address)


def test_a_place_says_where_it_is_and_can_be_read_back() -> None:
    place = Place("192.168.1.20", local_name(), 8000)
    assert place.url == "https://192.168.1.20:8000/"
    assert place.certificate_url == "http://192.168.1.20:8001/"
    assert place.name.endswith(".local")
    assert Place.at(place.url) == place
    plain = Place("192.168.1.20", local_name(), 8000, is_plain=True)
    assert Place.at(plain.url) == plain
    assert plain.certificate_url == ""


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--plain"], "--plain goes with --lan"),
        (["--lan", "8.8.8.8"], "not a private address"),
        (["--port", "70000"], "port"),
    ],
)
@pytest.mark.parametrize("command", ["serve", "demo"])
def test_a_start_that_makes_no_sense_is_refused(command: str, words: list[str], message: str) -> None:
    with pytest.raises(CommandError, match=message):
        call_command(command, *words, stdout=io.StringIO())
