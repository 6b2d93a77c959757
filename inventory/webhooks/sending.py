"""One POST to an address that a person typed, which must not lead into the studio's own network.

The name is resolved once, every address that it has must be public, and the connection goes to the address that was
checked, so that a name that resolves to another one a moment later (DNS rebinding) gains nothing. Redirects are not
followed, proxies of the environment are not used, and of the answer only the status is read.
"""

import http.client
import ipaddress
import socket
import ssl
import threading
from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlsplit

TIMEOUT_SECONDS = 10  # to connect, and between two pieces of the answer
LONGEST_SECONDS = 20  # in all, however slowly the answer arrives
PROTOCOLS = ipaddress.ip_network("192.0.0.0/24")  # RFC 6890; Python 3.11 calls most of it public
NAT64 = ipaddress.ip_network("64:ff9b::/96")  # RFC 6052: an IPv4 address in the last 32 bits


@dataclass(frozen=True, slots=True)
class Outcome:
    """The result of one delivery attempt: the HTTP status, or why there was none."""

    status: int | None = None
    problem: str = ""

    @property
    def is_accepted(self) -> bool:
        return self.status is not None and 200 <= self.status < 300


def is_public(text: str) -> bool:
    """Whether an IP address is globally routable, IPv4 embedded in IPv6 included."""
    address = ipaddress.ip_address(text.partition("%")[0])
    if isinstance(address, ipaddress.IPv6Address):
        if address.ipv4_mapped is not None:
            return is_public(str(address.ipv4_mapped))
        if address.sixtofour is not None or address.teredo is not None or address in NAT64:
            return False
    return address.is_global and not address.is_multicast and address not in PROTOCOLS


def resolve(host: str, port: int, *, may_be_local: bool) -> str:
    """The address to connect to. Raises OSError where there is none, PermissionError for one that is not public."""
    addresses = [str(info[4][0]) for info in socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)]
    if not may_be_local and not all(map(is_public, addresses)):
        raise PermissionError("address is not public")
    return addresses[0]


class _Pinned(http.client.HTTPConnection):
    """A connection to one address, whatever the name resolves to by now; `tls` checks the name's certificate."""

    def __init__(self, host: str, port: int, address: str, tls: ssl.SSLContext | None) -> None:
        super().__init__(host, port, timeout=TIMEOUT_SECONDS)
        self.address, self.tls = address, tls

    def connect(self) -> None:
        sock = socket.create_connection((self.address, self.port), TIMEOUT_SECONDS)
        try:
            self.sock = self.tls.wrap_socket(sock, server_hostname=self.host) if self.tls else sock
        except BaseException:
            sock.close()
            raise

    def abort(self) -> None:
        """Close it from another thread."""
        if self.sock is not None:
            self.sock.shutdown(socket.SHUT_RDWR)


def post(address: str, body: bytes, headers: Mapping[str, str], *, may_be_local: bool = False) -> Outcome:
    """Send a message. Never raises: an error becomes the outcome."""
    parts = urlsplit(address)
    is_secure = parts.scheme == "https"
    if not is_secure and not may_be_local:
        return Outcome(problem="The address does not begin with https.")
    try:
        port = parts.port or (443 if is_secure else 80)
        ip = resolve(parts.hostname or "", port, may_be_local=may_be_local)
    except PermissionError:
        return Outcome(problem="The name leads to an address that is not public.")
    except (OSError, ValueError):
        return Outcome(problem="The name could not be resolved.")
    tls = ssl.create_default_context() if is_secure else None
    connection = _Pinned(parts.hostname or "", port, ip, tls)
    return _sent(connection, parts.path + (f"?{parts.query}" if parts.query else ""), body, headers)


def _sent(connection: _Pinned, path: str, body: bytes, headers: Mapping[str, str]) -> Outcome:
    deadline = threading.Timer(LONGEST_SECONDS, connection.abort)
    deadline.daemon = True
    try:
        deadline.start()
        connection.request("POST", path or "/", body, dict(headers))
        status = connection.getresponse().status
    except ssl.SSLError:
        return Outcome(problem="There is no secure connection: the certificate is not valid for this name.")
    except TimeoutError:
        return Outcome(problem="No answer in time.")
    except (OSError, http.client.HTTPException, UnicodeError):
        return Outcome(problem="The connection failed, or the answer was not HTTP.")
    finally:
        deadline.cancel()
        connection.close()
    if 300 <= status < 400:
        return Outcome(status, "Redirects are not followed.")
    return Outcome(status, "" if 200 <= status < 300 else f"Answered {status}.")
