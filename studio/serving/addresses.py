"""Where this machine can be reached on the home network: its private address, and its name there. Imports no Django."""

import ipaddress
import re
import socket
from dataclasses import dataclass
from urllib.parse import urlsplit

# A network for documentation (RFC 5737): asking the way there sends nothing, and tells which address would be used.
_SOMEWHERE = ("192.0.2.1", 9)
_LABEL = re.compile(r"[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?")


class NotPrivate(Exception):
    """Raised when an address is not one of a home network, or none can be found; the text says what to do."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where the service is reached on the home network."""

    address: str
    name: str
    port: int
    is_plain: bool = False

    @classmethod
    def at(cls, url: str) -> "Place":
        """The place that is served at this address."""
        parts = urlsplit(url)
        return cls(parts.hostname or "", local_name(), parts.port or 0, is_plain=parts.scheme == "http")

    @property
    def url(self) -> str:
        """What a phone opens. By address: not every phone finds a computer by its name."""
        return f"{'http' if self.is_plain else 'https'}://{self.address}:{self.port}/"

    @property
    def named_url(self) -> str:
        return f"{'http' if self.is_plain else 'https'}://{self.name}:{self.port}/"

    @property
    def certificate_url(self) -> str:
        """Where a phone gets the certificate: plain http on the next port, because it trusts nothing yet."""
        return "" if self.is_plain else f"http://{self.address}:{self.port + 1}/"

    @property
    def hosts(self) -> list[str]:
        return [self.address, self.name, "localhost", "127.0.0.1"]


def private_address(wanted: str = "") -> str:
    """The address asked for, or the one that this machine uses on its network. Raises NotPrivate."""
    try:
        address = ipaddress.IPv4Address(wanted or _address_in_use())
    except ValueError:
        raise NotPrivate(f"“{wanted}” is not an address such as 192.168.1.20.") from None
    if not address.is_private or address.is_unspecified:
        raise NotPrivate(
            f"{address} is not a private address (such as 192.168.1.20), so anybody on the internet might reach it. "
            "Serving to the internet needs a server of its own: see studio/operations/OPERATIONS.md."
        )
    return str(address)


def local_name() -> str:
    """This machine's name on the home network (RFC 6762: its own name under .local)."""
    label = socket.gethostname().split(".")[0].lower()
    return f"{label if _LABEL.fullmatch(label) else 'meniscus'}.local"


def _address_in_use() -> str:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(_SOMEWHERE)
            return str(probe.getsockname()[0])
        except OSError:
            raise NotPrivate(
                "This computer is not on a network. Connect it to the same Wi-Fi as the phone, or name its address: "
                "--lan 192.168.1.20"
            ) from None
