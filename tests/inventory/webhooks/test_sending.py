"""Signatures against a published vector and OpenSSL; addresses against the registries; a real server hears messages."""

import base64
import shutil
import socket
import ssl
import subprocess
from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone

from inventory.webhooks import sending, signing
from studio.serving.certificates import renew
from tests.inventory.webhooks.hooks import receiver

# The example of the Standard Webhooks reference libraries (from memory; OpenSSL below computes the same).
SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
MESSAGE, TIMESTAMP, BODY = "msg_p5jXN8AQM9LWM0D4loKWxJek", 1614265330, '{"test": 2432232314}'
SIGNATURE = "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="
KEY = base64.b64decode(SECRET.removeprefix("whsec_"))


def test_a_message_is_signed_as_the_specification_says() -> None:
    found = signing.headers(KEY, message=MESSAGE, timestamp=TIMESTAMP, body=BODY)
    assert found == {"webhook-id": MESSAGE, "webhook-timestamp": "1614265330", "webhook-signature": SIGNATURE}
    assert signing.secret_in_words(KEY) == SECRET


@pytest.mark.skipif(shutil.which("openssl") is None, reason="needs OpenSSL's command")
def test_openssl_computes_the_same_signature() -> None:
    signed = f"{MESSAGE}.{TIMESTAMP}.{BODY}".encode()
    command = ["openssl", "dgst", "-sha256", "-mac", "HMAC", "-macopt", f"hexkey:{KEY.hex()}", "-binary"]
    digest = subprocess.run(command, input=signed, capture_output=True, check=True).stdout
    assert f"v1,{base64.b64encode(digest).decode()}" == SIGNATURE


@pytest.mark.parametrize("address", ["8.8.8.8", "1.1.1.1", "2606:4700:4700::1111"])
def test_public_addresses_may_be_told(address: str) -> None:
    assert sending.is_public(address)


@pytest.mark.parametrize(
    "address",
    [
        # IANA special-purpose address registries (RFC 6890 and its updates).
        "127.0.0.1", "10.0.0.1", "172.16.0.1", "192.168.1.1", "169.254.169.254", "100.64.0.1", "0.0.0.0",
        "224.0.0.1", "255.255.255.255", "192.0.2.1", "192.0.0.192", "::1", "fe80::1", "fe80::1%eth0", "fc00::1",
        "ff02::1", "::", "::ffff:127.0.0.1", "64:ff9b::7f00:1", "2002:7f00:1::1", "2001:db8::1",
    ],
)  # fmt: skip
def test_others_may_not(address: str) -> None:
    assert not sending.is_public(address)


def test_a_real_server_hears_the_message_as_it_is() -> None:
    with receiver() as told:
        outcome = sending.post(told.address, b"{}", {"webhook-id": "msg_1"}, may_be_local=True)
    [(path, headers, body)] = told.heard
    assert (outcome.status, outcome.is_accepted, path, body) == (204, True, "/hook?of=studio", b"{}")
    assert (headers["webhook-id"], headers["host"]) == ("msg_1", f"127.0.0.1:{told.port}")


@pytest.mark.parametrize("status", [301, 302, 307, 400, 410, 500])
def test_what_is_not_taken_is_no_success_and_no_redirect_is_followed(status: int) -> None:
    with receiver() as told:
        told.status = status
        outcome = sending.post(told.address, b"{}", {}, may_be_local=True)
    assert (outcome.status, outcome.is_accepted, len(told.heard)) == (status, False, 1)
    assert outcome.problem


def test_the_own_network_and_plain_http_are_refused_unless_allowed() -> None:
    with receiver() as told:
        assert not sending.post(told.address, b"{}", {}).is_accepted
        assert not sending.post(told.address.replace("http:", "https:"), b"{}", {}).is_accepted
        assert not sending.post(f"https://localhost:{told.port}/", b"{}", {}).is_accepted
    assert told.heard == []


def test_a_name_is_resolved_once_and_one_bad_address_among_them_is_enough(monkeypatch: Any) -> None:
    asked = []

    def answers(host: str, port: int, **kwargs: Any) -> Any:
        asked.append(host)
        return [(2, 1, 6, "", ("8.8.8.8", port)), (2, 1, 6, "", ("127.0.0.1", port))]

    monkeypatch.setattr(socket, "getaddrinfo", answers)
    outcome = sending.post("https://two.example/", b"{}", {})
    assert (outcome.status, asked) == (None, ["two.example"])
    assert "not public" in outcome.problem


def test_it_connects_to_the_very_address_that_was_looked_at(monkeypatch: Any) -> None:
    with receiver() as told:
        first = [(2, 1, 6, "", ("127.0.0.1", told.port))]
        monkeypatch.setattr(sending, "resolve", lambda host, port, may_be_local: first[0][4][0])
        monkeypatch.setattr(socket, "getaddrinfo", lambda *args, **kwargs: first)
        assert sending.post(f"http://far.example:{told.port}/", b"{}", {}, may_be_local=True).is_accepted
    assert told.heard[0][1]["host"] == f"far.example:{told.port}"


def test_nothing_is_told_to_a_server_whose_certificate_nobody_vouches_for(tmp_path: Path) -> None:
    """OWASP ASVS 5.0, 12.3.2."""
    files = renew(tmp_path, hosts=["localhost", "127.0.0.1"], now=timezone.now())
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(files.certificate, files.key)
    with receiver(context) as told:
        outcome = sending.post(told.address.replace("http:", "https:"), b"{}", {}, may_be_local=True)
    assert outcome.problem.startswith("There is no secure connection")
    assert told.heard == []


def test_a_server_that_says_nothing_is_left(monkeypatch: Any) -> None:
    monkeypatch.setattr(sending, "TIMEOUT_SECONDS", 0.2)
    with socket.create_server(("127.0.0.1", 0)) as silent:
        outcome = sending.post(f"http://127.0.0.1:{silent.getsockname()[1]}/", b"{}", {}, may_be_local=True)
    assert (outcome.status, outcome.is_accepted) == (None, False)
    assert outcome.problem


@pytest.mark.parametrize("address", ["https://nowhere.example.invalid/", "https:///", "http://127.0.0.1:1/"])
def test_what_cannot_be_reached_is_an_outcome_and_no_crash(address: str) -> None:
    assert sending.post(address, b"{}", {}, may_be_local=True).problem
