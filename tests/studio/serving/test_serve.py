"""`manage.py serve` as it is started at home: what a phone on the network reaches, and what it does not."""

import gzip
import re
import socket
import stat
from pathlib import Path

import pytest
from cryptography import x509

from studio.serving.certificates import Certificates, fingerprint
from tests.studio.serving.processes import HOME, Browser, free_ports, served

PHRASE = "nine-jars-of-low-tide"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("home")


def test_a_phone_gets_the_certificate_then_makes_the_owner_with_the_code_and_is_logged_in(
    folder: Path,
) -> None:
    port = free_ports()
    with served(folder, "--lan", HOME, "--port", str(port)) as said:
        root = folder / "certificates" / HOME / "root.pem"
        certificate_page(port, root, said)
        keys_are_private(folder)

        phone = Browser(port, root)
        status, page = phone.ask("/", Accept_Encoding="identity")
        assert (status, phone.seen["location"]) == (302, "/login/?next=/")
        assert (phone.ask("/login/")[0], phone.seen["location"]) == (302, "/start/")
        status, page = phone.ask("/start/", Accept_Encoding="identity")
        assert status == 200
        owner = {
            "csrfmiddlewaretoken": phone.token(page),
            "username": "wren",
            "password": PHRASE,
            "again": PHRASE,
        }
        assert phone.ask("/start/", {**owner, "code": "AAAA-AAAA"})[0] == 422
        code = re.search(r"one-time code: (\S+)", said)
        assert code is not None
        assert phone.ask("/start/", {**owner, "code": code[1].lower()})[0] == 302
        # Bound to this host and to TLS; no promise that locks her out for a year.
        assert {"__Host-session", "__Host-csrf"} <= set(phone.cookies)
        assert "strict-transport-security" not in phone.seen
        assert phone.ask("/language/")[0] == 200

        pages_are_compressed_and_files_are_kept(phone)
        wrong_addresses_are_told_what_to_do(phone)
        plain_http_is_led_to_https(port, phone)


def test_without_a_certificate_cookies_are_plain_and_the_terminal_says_what_is_missing(folder: Path) -> None:
    port = free_ports()
    with served(folder, "--lan", HOME, "--plain", "--port", str(port)) as said:
        assert f"http://{HOME}:{port}/" in said
        assert "working offline" in said
        phone = Browser(port)
        status, page = phone.ask("/login/", Accept_Encoding="identity")
        assert status == 200 if b"csrf" in page else phone.seen["location"] == "/start/"
        assert not any(name.startswith("__") for name in phone.cookies)
        assert "strict-transport-security" not in phone.seen
        with pytest.raises(OSError):
            socket.create_connection((HOME, port + 1), timeout=5)


def test_on_this_machine_alone_no_other_address_answers(folder: Path) -> None:
    port = free_ports()
    with served(folder, str(port)) as said:
        assert f"http://127.0.0.1:{port}/" in said
        assert "--lan" in said
        with pytest.raises(OSError):
            socket.create_connection((HOME, port), timeout=5)
        assert b"--lan" in local_answer(port, "192.168.7.7")


def certificate_page(port: int, root: Path, said: str) -> None:
    """Plain http on the next port: a page of steps and the root, byte for byte, and nothing else."""
    there = Browser(port + 1)
    status, page = there.ask("/", Accept_Language="en")
    shown = fingerprint(x509.load_pem_x509_certificate(root.read_bytes()))
    assert status == 200
    assert shown.encode() in page
    assert shown in said
    assert f"https://{HOME}:{port}/".encode() in page
    status, der = there.ask("/meniscus.crt")
    assert there.seen["content-type"] == "application/x-x509-ca-cert"
    assert fingerprint(x509.load_der_x509_certificate(der)) == shown
    assert there.ask("/login/")[0] == 302
    assert "set-cookie" not in there.seen


def keys_are_private(folder: Path) -> None:
    files = Certificates.of(folder / "certificates" / HOME)
    for path in (files.root_key, files.key, folder / "secret-key"):
        assert stat.S_IMODE(path.stat().st_mode) == 0o600, path
    assert stat.S_IMODE(files.key.parent.stat().st_mode) == 0o700


def pages_are_compressed_and_files_are_kept(phone: Browser) -> None:
    status, page = phone.ask("/language/", Accept_Encoding="gzip")
    assert (status, phone.seen["content-encoding"]) == (200, "gzip")
    sheet = re.search(r'href="(/static/studio/meniscus\.\w+\.css)"', gzip.decompress(page).decode())
    assert sheet is not None
    status, style = phone.ask(sheet[1], Accept_Encoding="gzip")
    assert (status, phone.seen["content-encoding"]) == (200, "gzip")
    assert "immutable" in phone.seen["cache-control"]
    assert b"{" in gzip.decompress(style)


def wrong_addresses_are_told_what_to_do(phone: Browser) -> None:
    status, page = phone.ask("/login/", Host="studio.example", Accept_Encoding="identity")
    assert status == 400
    assert f'href="https://{HOME}:{phone.port}/"'.encode() in page
    assert b"studio.example" not in page


def local_answer(port: int, host: str) -> bytes:
    with socket.create_connection(("127.0.0.1", port), timeout=60) as connection:
        connection.sendall(f"GET /login/ HTTP/1.0\r\nHost: {host}\r\n\r\n".encode())
        return b"".join(iter(lambda: connection.recv(65_536), b""))


def plain_http_is_led_to_https(port: int, phone: Browser) -> None:
    """Typed without https, with another byte of TLS than its first, and with nothing said: the service goes on."""
    plain = Browser(port)
    assert plain.ask("/stock/?page=2")[0] == 307
    assert plain.seen["location"] == f"https://{HOME}:{port}/stock/?page=2"
    with (
        socket.create_connection((HOME, port), timeout=5) as silent,
        socket.create_connection((HOME, port), timeout=5) as nonsense,
    ):
        nonsense.sendall(b"\x17\r\n\r\n")
        assert b"307" in nonsense.recv(100)
        assert phone.ask("/language/")[0] == 200
        silent.close()
    assert phone.ask("/language/")[0] == 200
