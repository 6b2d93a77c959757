"""A small server beside the service: what a phone that trusts nothing yet needs, over plain http, and nothing else.

It shows one page and hands out the root certificate. Neither is secret, and it reads nothing that is sent to it.
"""

from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

from cryptography import x509
from django.conf import settings
from django.template.loader import render_to_string
from django.utils import translation

from studio.serving.addresses import Place
from studio.serving.certificates import fingerprint, for_download

FILE = "/meniscus.crt"
PATIENCE = 10  # seconds in which a phone must have asked
HEADERS = {
    "Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "no-store",
}


def certificate_server(place: Place, root: x509.Certificate) -> ThreadingHTTPServer:
    """A server on the port after the service's own, bound but not yet answering."""
    pages = {code: _page(place, root, code) for code, _name in settings.LANGUAGES}
    certificate = for_download(root)

    class Handler(BaseHTTPRequestHandler):
        timeout = PATIENCE
        server_version, sys_version = "Meniscus", ""

        def do_GET(self) -> None:
            path = self.path.split("?")[0]
            if path == FILE:
                self._answer(certificate, "application/x-x509-ca-cert")
            elif path == "/":
                self._answer(pages[self._language()], "text/html; charset=utf-8")
            else:
                self.send_response(HTTPStatus.FOUND)
                self.send_header("Location", "/")
                self.send_header("Content-Length", "0")
                self.end_headers()

        do_HEAD = do_GET  # noqa: N815

        def _language(self) -> str:
            wanted = self.headers.get("Accept-Language", "").lower()
            return next((code for code in pages if wanted.startswith(code[:2])), settings.LANGUAGE_CODE)

        def _answer(self, body: bytes, kind: str) -> None:
            self.send_response(HTTPStatus.OK)
            for name, value in {"Content-Type": kind, "Content-Length": str(len(body)), **HEADERS}.items():
                self.send_header(name, value)
            self.end_headers()
            if self.command == "GET":
                self.wfile.write(body)

        def log_message(self, *args: Any) -> None:
            """Nothing that needs to be kept."""

    return ThreadingHTTPServer((place.address, place.port + 1), Handler)


def _page(place: Place, root: x509.Certificate, language: str) -> bytes:
    context = {"place": place, "file": FILE, "fingerprint": fingerprint(root), "language": language}
    with translation.override(language):
        return render_to_string("serving/certificate.html", context).encode()
