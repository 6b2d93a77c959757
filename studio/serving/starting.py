"""What `manage.py serve` and `demo` share: where to serve, with which settings, and what the terminal says."""

import os
import secrets
import socket
import sys
from argparse import ArgumentParser
from collections.abc import Iterable
from pathlib import Path
from typing import Any, TextIO

from django.conf import settings
from django.contrib.staticfiles.finders import get_finders
from django.core.management import call_command
from django.core.management.base import CommandError
from django.utils import timezone

from studio.serving.addresses import NotPrivate, Place, local_name, private_address
from studio.serving.certificate_page import certificate_server
from studio.serving.certificates import Certificates, fingerprint, renew
from studio.serving.private_files import write_private

OWN_MACHINE = "127.0.0.1"
STAMP = ".collected"
UNUSED = ["redoc", "rest_framework", "django_otp", "otp_totp"]  # files of libraries that no page asks for


def add_arguments(parser: ArgumentParser) -> None:
    """Where to serve; on this machine alone until asked."""
    parser.add_argument("--port", type=int, default=8000, help="Port to serve on.")
    parser.add_argument(
        "--lan",
        nargs="?",
        const="",
        metavar="ADDRESS",
        help="Serve phones on the home network too, with https; at this machine's private address, or the one given.",
    )
    parser.add_argument(
        "--plain",
        action="store_true",
        help="With --lan: http without a certificate. Camera and working offline will not be available.",
    )


def place_of(options: dict[str, Any]) -> Place | None:
    """Where on the home network to serve; None on this machine alone."""
    lan, port = options["lan"], options["port"]
    if not 1 <= port <= 65_534:
        raise CommandError("A port is a number from 1 to 65534.")
    if lan is None:
        if options["plain"]:
            raise CommandError("--plain goes with --lan. On this machine alone no certificate is needed.")
        return None
    try:
        return Place(private_address(lan), local_name(), port, is_plain=options["plain"])
    except NotPrivate as problem:
        raise CommandError(str(problem)) from None


def restart_with_settings(place: Place | None, port: int, **more: str) -> None:
    """Begin again in the same process with the settings that go with the place; returns once they hold.

    `more` are variables of the environment to set besides.
    """
    url = place.url if place else f"http://{OWN_MACHINE}:{port}/"
    if url == settings.SERVED_AT:
        return
    _make_key()
    hosts = os.environ.get("MENISCUS_HOSTS", "").split(",")
    wanted = {
        "MENISCUS_SERVE": url,
        "MENISCUS_PRODUCTION": "1" if place else "",
        "MENISCUS_HOSTS": ",".join(
            filter(None, [*hosts, *(place.hosts if place else ["localhost", OWN_MACHINE])])
        ),
        "MENISCUS_PROXIES": "0",
    }
    sys.stdout.flush()
    os.execve(sys.executable, [sys.executable, *sys.orig_argv[1:]], {**os.environ, **wanted, **more})  # noqa: S606


def serve(place: Place | None, port: int, *, lines: Iterable[str], out: TextIO) -> None:
    """Serve at a place until told to end; says where, and these lines, once the port is open."""
    _refuse_taken_ports(place, port)
    collect_static()
    certificates = certificates_of(place)
    beside = certificate_server(place, certificates.read_root()) if place and certificates else None

    def ready() -> None:
        out.write("\n".join([*whereabouts(place, port), "", *lines, "Stop with Ctrl-C.", ""]))
        out.flush()

    binds = [f"{address}:{port}" for address in _addresses(place)]
    from studio.serving.server import Serving, run  # a server of its own, which only this command needs

    run(Serving(binds, ready, certificates, beside))


def certificates_of(place: Place | None) -> Certificates | None:
    """The certificates to serve a place with, renewed; a root for each address, so a laptop may come home again."""
    if place is None or place.is_plain:
        return None
    return renew(folder_of(place.address), hosts=place.hosts, now=timezone.now())


def folder_of(address: str) -> Path:
    return Path(settings.DATA_DIR) / "certificates" / address


def whereabouts(place: Place | None, port: int) -> list[str]:
    """Where the service is, for the terminal."""
    if place is None:
        return [
            f"Meniscus is open at http://{OWN_MACHINE}:{port}/ on this computer alone.",
            "For a phone on the same Wi-Fi, start it with --lan.",
        ]
    lines = [f"Meniscus is open at {place.url} or {place.named_url}"]
    if place.is_plain:
        return [
            *lines,
            "Without a certificate, everybody on this network can read along. Camera, working offline and",
            "keeping the screen on do not work. Scan this with the phone:",
            _qr(place.url),
        ]
    root = Certificates.of(folder_of(place.address)).read_root()
    return [
        *lines,
        f"A new phone or computer first opens {place.certificate_url} and follows the steps there. Scan:",
        _qr(place.certificate_url),
        "The certificate's fingerprint (SHA-256), to compare with the one on the phone:",
        f"  {fingerprint(root)}",
    ]


def collect_static() -> None:
    """Put the files of pages where they are served from, once after each change: compressing them takes seconds."""
    found = [
        (name, stat.st_size, stat.st_mtime_ns)
        for finder in get_finders()
        for name, storage in finder.list(UNUSED)
        for stat in [Path(storage.path(name)).stat()]
    ]
    stamp, state = Path(settings.STATIC_ROOT) / STAMP, repr(sorted(found))
    if not stamp.exists() or stamp.read_text(encoding="utf-8") != state:
        call_command("collectstatic", interactive=False, verbosity=0, ignore_patterns=UNUSED)
        stamp.write_text(state, encoding="utf-8")


def _addresses(place: Place | None) -> list[str]:
    return [OWN_MACHINE] if place is None else list(dict.fromkeys([place.address, OWN_MACHINE]))


def _refuse_taken_ports(place: Place | None, port: int) -> None:
    """Say so now, and not after the certificates and files were made."""
    wanted = [(address, port) for address in _addresses(place)]
    if place and not place.is_plain:
        wanted.append((place.address, port + 1))
    for each in wanted:
        with socket.socket() as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind(each)
            except OSError as problem:
                raise CommandError(
                    f"Cannot serve at {each[0]}:{each[1]}: {problem.strerror}. Is Meniscus running already? "
                    "Choose another port with --port."
                ) from None


def _make_key() -> None:
    """Give a studio without a secret key its own."""
    if "MENISCUS_SECRET_KEY" in os.environ or settings.KEY_FILE.exists():
        return
    write_private(settings.KEY_FILE, secrets.token_urlsafe(60).encode())


def _qr(text: str) -> str:
    """A QR code as characters."""
    import io

    import segno  # here: it is needed once

    drawn = io.StringIO()
    segno.make(text, error="m", micro=False).terminal(out=drawn, compact=True)
    return drawn.getvalue().rstrip("\n")
