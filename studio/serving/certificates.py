"""A root certificate of the studio's own, and the certificate that it is served with. Imports no Django.

The root may vouch for this machine's own name and addresses and for nothing else (RFC 5280, 4.2.1.10), so a phone that
trusts it gives nobody a way to stand in for other sites. Every start makes a new certificate below it.
"""

import ipaddress
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from studio.serving.private_files import write_private

ROOT_LASTS = timedelta(days=3652)
# Apple takes at most 825 days from a root of one's own (from memory), and 398 from public ones; this is under both.
LEAF_LASTS = timedelta(days=397)
CLOCKS_DIFFER_BY = timedelta(days=1)

Key = ec.EllipticCurvePrivateKey


@dataclass(frozen=True, slots=True)
class Certificates:
    """The files of a place: the root for phones, and what the server shows and keeps to itself."""

    root: Path
    root_key: Path
    certificate: Path
    key: Path

    @classmethod
    def of(cls, folder: Path) -> "Certificates":
        return cls(*(folder / name for name in ("root.pem", "root.key", "server.pem", "server.key")))

    def read_root(self) -> x509.Certificate:
        return x509.load_pem_x509_certificate(self.root.read_bytes())


def renew(folder: Path, *, hosts: list[str], now: datetime) -> Certificates:
    """The certificates of a place: its root, made the first time, and a new certificate below it.

    A root that would not outlast the new certificate, is not for these hosts or cannot be read is made anew.
    """
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    folder.chmod(0o700)
    files = Certificates.of(folder)
    root, root_key = _kept_root(files, hosts, now) or _new_root(files, hosts, now)
    key = ec.generate_private_key(ec.SECP256R1())
    leaf = (
        _described(root.subject, x509.Name([_common_name(hosts[0])]), key, now, LEAF_LASTS)
        .add_extension(x509.SubjectAlternativeName(_general_names(hosts)), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(digital_signature=True), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(root_key.public_key()), critical=False
        )
        .sign(root_key, hashes.SHA256())
    )
    write_private(files.certificate, leaf.public_bytes(serialization.Encoding.PEM))
    write_private(files.key, _private(key))
    return files


def fingerprint(root: x509.Certificate) -> str:
    """The SHA-256 of a certificate, as phones show it."""
    return root.fingerprint(hashes.SHA256()).hex(":").upper()


def for_download(root: x509.Certificate) -> bytes:
    """A certificate as phones take it (DER)."""
    return root.public_bytes(serialization.Encoding.DER)


def _kept_root(files: Certificates, hosts: list[str], now: datetime) -> tuple[x509.Certificate, Key] | None:
    try:
        root = files.read_root()
        key = serialization.load_pem_private_key(files.root_key.read_bytes(), password=None)
        limits = root.extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees
    except (OSError, ValueError, x509.ExtensionNotFound):
        return None
    is_ours = isinstance(key, Key) and key.public_key() == root.public_key()
    outlasts = root.not_valid_after_utc >= now + LEAF_LASTS
    return (root, key) if is_ours and outlasts and limits == _subtrees(hosts) else None  # type: ignore[return-value]


def _new_root(files: Certificates, hosts: list[str], now: datetime) -> tuple[x509.Certificate, Key]:
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([_common_name(f"Meniscus at {hosts[0]}")])
    root = (
        _described(name, name, key, now, ROOT_LASTS)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(key_cert_sign=True, crl_sign=True), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(x509.NameConstraints(_subtrees(hosts), excluded_subtrees=None), critical=True)
        .sign(key, hashes.SHA256())
    )
    write_private(files.root_key, _private(key))
    write_private(files.root, root.public_bytes(serialization.Encoding.PEM))
    return root, key


def _described(
    issuer: x509.Name, subject: x509.Name, key: Key, now: datetime, lasts: timedelta
) -> x509.CertificateBuilder:
    begins = now - CLOCKS_DIFFER_BY
    return (
        x509.CertificateBuilder(issuer, subject, key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(begins)
        .not_valid_after(begins + lasts)
    )


def _general_names(hosts: list[str]) -> list[x509.GeneralName]:
    return [_address(host) or x509.DNSName(host) for host in hosts]


def _subtrees(hosts: list[str]) -> list[x509.GeneralName]:
    """What a root may vouch for: these names, and each address as a network of one."""
    return [
        x509.IPAddress(ipaddress.ip_network(address.value))
        if (address := _address(host))
        else x509.DNSName(host)
        for host in hosts
    ]


def _address(host: str) -> x509.IPAddress | None:
    try:
        return x509.IPAddress(ipaddress.ip_address(host))
    except ValueError:
        return None


def _common_name(text: str) -> x509.NameAttribute[str]:
    return x509.NameAttribute(NameOID.COMMON_NAME, text[:64])


def _usage(**used: bool) -> x509.KeyUsage:
    every = (
        "digital_signature",
        "content_commitment",
        "key_encipherment",
        "data_encipherment",
        "key_agreement",
        "key_cert_sign",
        "crl_sign",
        "encipher_only",
        "decipher_only",
    )
    return x509.KeyUsage(**{name: used.get(name, False) for name in every})


def _private(key: Key) -> bytes:
    return key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
