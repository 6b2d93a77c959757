"""Webhooks to tell, and a real server on this machine that hears them."""

import ssl
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, HTTPServer
from typing import Any

from inventory.webhooks.events import ALERT_RAISED, SESSION_LOGGED
from inventory.webhooks.models import Webhook, WebhookMessage
from tests.days import AT

EVERYTHING = f"{ALERT_RAISED},{SESSION_LOGGED},piece.sold"


@dataclass
class Receiver:
    """What was heard, and what is answered."""

    port: int = 0
    status: int = 204
    heard: list[tuple[str, dict[str, str], bytes]] = field(default_factory=list)

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}/hook?of=studio"


@contextmanager
def receiver(tls: ssl.SSLContext | None = None) -> Iterator[Receiver]:
    """A server that hears messages until the end of the block."""
    told = Receiver()

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"]))
            told.heard.append(
                (self.path, {name.lower(): value for name, value in self.headers.items()}, body)
            )
            self.send_response(told.status)
            if 300 <= told.status < 400:
                self.send_header("Location", "http://127.0.0.1:1/elsewhere")
            self.end_headers()

        def log_message(self, *args: Any) -> None:
            return

    class Server(HTTPServer):
        def handle_error(self, *args: Any) -> None:
            return  # a refused handshake is what its test waits for

    with Server(("127.0.0.1", 0), Handler) as server:
        if tls:
            server.socket = tls.wrap_socket(server.socket, server_side=True)
        told.port = server.server_port
        thread = threading.Thread(target=server.serve_forever, daemon=True)
        thread.start()
        try:
            yield told
        finally:
            server.shutdown()
            thread.join()


def make_webhook(**facts: Any) -> Webhook:
    known = {"address": "https://ebb.example/hook", "events": EVERYTHING, "seed": "low water"}
    return Webhook.objects.create(**known | facts)


def make_message(hook: Webhook | None = None, **facts: Any) -> WebhookMessage:
    hook = hook or make_webhook()
    known: dict[str, Any] = {"event": ALERT_RAISED, "subject": 1, "body": '{"type": "alert.raised"}'}
    known |= {"written_at": AT, "due_at": AT, "message_id": f"msg_{hook.pk}_{hook.messages.count()}"}
    return WebhookMessage.objects.create(webhook=hook, **known | facts)


def some_webhook() -> Webhook:
    return Webhook.objects.first() or make_webhook()


def some_message() -> WebhookMessage:
    return WebhookMessage.objects.first() or make_message(some_webhook())


def bodies_of_webhooks() -> dict[str, dict[str, Any]]:
    """What programs send about webhooks."""
    hook = f"webhooks/{some_webhook().pk}"
    return {
        "webhooks/": {"address": "https://ebb.example/", "events": [ALERT_RAISED], "with_money": False},
        f"{hook}/change/": {"address": "https://flood.example/", "events": [SESSION_LOGGED]},
        f"webhooks/{make_webhook().pk}/delete/": {},
        f"{hook}/secret/": {},
        f"{hook}/switch/": {"is_on": True},
        f"webhook-messages/{some_message().pk}/retry/": {},
    }
