"""Certificates of the studio's own: what a browser accepts under them (OpenSSL, RFC 5280), and what it refuses."""

import ipaddress
import ssl
import stat
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID
from gunicorn.config import Config  # type: ignore[import-untyped]
from gunicorn.sock import ssl_context  # type: ignore[import-untyped]

from studio.serving.certificates import LEAF_LASTS, Certificates, renew

HOSTS = ["192.168.1.20", "netloft.local", "localhost", "127.0.0.1"]
NOW = datetime.now(UTC)


def shake_hands(files: Certificates, host: str) -> None:
    """A TLS connection in memory: a client that trusts the root alone asks for this host. Raises SSLError."""
    server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    server.load_cert_chain(files.certificate, files.key)
    up, down = ssl.MemoryBIO(), ssl.MemoryBIO()
    theirs = server.wrap_bio(up, down, server_side=True)
    ours = ssl.create_default_context(cafile=str(files.root)).wrap_bio(down, up, server_hostname=host)
    for _ in range(4):
        for side in (ours, theirs):
            try:
                side.do_handshake()
            except ssl.SSLWantReadError:
                continue
    assert ours.version() == "TLSv1.3"


@pytest.mark.parametrize("host", HOSTS)
def test_a_browser_that_trusts_the_root_opens_every_own_name_and_address(host: str, tmp_path: Path) -> None:
    shake_hands(renew(tmp_path, hosts=HOSTS, now=NOW), host)


def test_at_home_no_old_tls_and_no_weak_cipher_is_spoken(tmp_path: Path) -> None:
    """OWASP ASVS 5.0, 12.1.1 and 12.1.2: gunicorn's own context, from which each connection is made."""
    files = renew(tmp_path, hosts=HOSTS, now=NOW)
    config = Config()
    config.set("certfile", str(files.certificate))
    config.set("keyfile", str(files.key))
    spoken = ssl_context(config)
    assert spoken.minimum_version >= ssl.TLSVersion.TLSv1_2
    assert min(cipher["strength_bits"] for cipher in spoken.get_ciphers()) >= 128


def test_another_name_or_address_is_refused(tmp_path: Path) -> None:
    files = renew(tmp_path, hosts=HOSTS, now=NOW)
    for host in ("192.168.1.21", "other.local"):
        with pytest.raises(ssl.SSLCertVerificationError):
            shake_hands(files, host)


@pytest.mark.parametrize("host", ["bank.example", "192.168.1.21", "93.184.215.14"])
def test_the_root_vouches_for_no_other_site_even_if_its_key_is_stolen(host: str, tmp_path: Path) -> None:
    files = renew(tmp_path, hosts=HOSTS, now=NOW)
    forge(files, host)
    with pytest.raises(ssl.SSLCertVerificationError, match="permitted subtree violation"):
        shake_hands(files, host)


def test_every_start_makes_a_new_certificate_under_the_same_root(tmp_path: Path) -> None:
    first = read(renew(tmp_path, hosts=HOSTS, now=NOW))
    again = read(renew(tmp_path, hosts=HOSTS, now=NOW + timedelta(days=300)))
    assert first[0] == again[0]
    assert first[1].serial_number != again[1].serial_number
    lasts = again[1].not_valid_after_utc - again[1].not_valid_before_utc
    assert lasts == LEAF_LASTS == timedelta(days=397)


def test_a_root_that_ends_too_soon_or_is_for_another_address_or_is_broken_is_made_anew(
    tmp_path: Path,
) -> None:
    first, _leaf = read(renew(tmp_path, hosts=HOSTS, now=NOW - timedelta(days=3600)))
    second, _leaf = read(renew(tmp_path, hosts=HOSTS, now=NOW))
    third, _leaf = read(renew(tmp_path, hosts=["10.0.0.5", *HOSTS[1:]], now=NOW))
    Certificates.of(tmp_path).root_key.write_bytes(b"half a key")
    fourth, _leaf = read(renew(tmp_path, hosts=["10.0.0.5", *HOSTS[1:]], now=NOW))
    assert len({each.serial_number for each in (first, second, third, fourth)}) == 4


def test_keys_are_for_their_owner_alone_and_say_so_in_the_certificates(tmp_path: Path) -> None:
    files = renew(tmp_path / "new", hosts=HOSTS, now=NOW)
    for key in (files.root_key, files.key):
        assert stat.S_IMODE(key.stat().st_mode) == 0o600
    root, leaf = read(files)
    assert root.extensions.get_extension_for_class(x509.NameConstraints).critical
    limits = root.extensions.get_extension_for_class(x509.BasicConstraints).value
    assert (limits.ca, limits.path_length) == (True, 0)
    assert not leaf.extensions.get_extension_for_class(x509.BasicConstraints).value.ca


def read(files: Certificates) -> tuple[x509.Certificate, x509.Certificate]:
    return files.read_root(), x509.load_pem_x509_certificate(files.certificate.read_bytes())


def forge(files: Certificates, host: str) -> None:
    """A certificate for another site, signed with the root's own key."""
    root, key = files.read_root(), ec.generate_private_key(ec.SECP256R1())
    root_key = serialization.load_pem_private_key(files.root_key.read_bytes(), password=None)
    assert isinstance(root_key, ec.EllipticCurvePrivateKey)
    try:
        name: x509.GeneralName = x509.IPAddress(ipaddress.ip_address(host))
    except ValueError:
        name = x509.DNSName(host)
    forged = (
        x509.CertificateBuilder(root.subject, x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, host)]))
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(NOW - timedelta(days=1))
        .not_valid_after(NOW + timedelta(days=30))
        .add_extension(x509.SubjectAlternativeName([name]), critical=False)
        .sign(root_key, hashes.SHA256())
    )
    files.certificate.write_bytes(forged.public_bytes(serialization.Encoding.PEM))
    files.key.write_bytes(
        key.private_bytes(
            serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
        )
    )
