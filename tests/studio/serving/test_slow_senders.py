"""Who sends slowly, or stops halfway, keeps nobody else waiting."""

import socket
import ssl
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from time import monotonic, sleep

import pytest

from studio.serving.server import HEAD_SECONDS, THREADS
from tests.studio.serving.processes import HOME, Browser, free_ports, served

HEAD = b"POST /login/ HTTP/1.1\r\nHost: studio\r\nContent-Length: 9\r\n"
LONGEST = HEAD_SECONDS + 10.0  # of which ten are for a busy machine


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[int, Path]]:
    folder, port = tmp_path_factory.mktemp("slow"), free_ports()
    with served(folder, "--lan", HOME, "--port", str(port)):
        yield port, folder / "certificates" / HOME / "root.pem"


def test_connections_that_say_nothing_take_nobodys_turn(home: tuple[int, Path]) -> None:
    port, root = home
    answer_after(port, root)
    with ExitStack() as silent:
        for _ in range(5 * THREADS):
            silent.enter_context(socket.create_connection((HOME, port)))
        assert answer_after(port, root) < HEAD_SECONDS / 2


@pytest.mark.parametrize("is_said_in_full", [False, True], ids=["in the handshake", "in the head"])
def test_senders_that_stop_halfway_are_cut_off(home: tuple[int, Path], is_said_in_full: bool) -> None:
    port, root = home
    with ExitStack() as stopped:
        for _ in range(THREADS):
            sender = stopped.enter_context(socket.create_connection((HOME, port)))
            if is_said_in_full:
                context = ssl.create_default_context(cafile=str(root))
                sender = stopped.enter_context(context.wrap_socket(sender, server_hostname=HOME))
                sender.sendall(HEAD)
            else:
                sender.sendall(b"\x16\x03\x01")
        sleep(1.0)  # so that they have the threads
        assert answer_after(port, root) < LONGEST


def test_who_does_not_close_an_answered_connection_holds_up_nobody(home: tuple[int, Path]) -> None:
    port, root = home
    context = ssl.create_default_context(cafile=str(root))
    with ExitStack() as left_open:
        for _ in range(3 * THREADS):
            asking = left_open.enter_context(socket.create_connection((HOME, port)))
            asking = left_open.enter_context(context.wrap_socket(asking, server_hostname=HOME))
            asking.sendall(f"GET /login/ HTTP/1.0\r\nHost: {HOME}:{port}\r\n\r\n".encode())
        assert (
            answer_after(port, root) < 2.0 * THREADS
        )  # gunicorn alone: two seconds for each, one after the other


def answer_after(port: int, root: Path) -> float:
    """How many seconds a browser waits that asks now."""
    start = monotonic()
    assert Browser(port, root).ask("/login/")[0] == 302
    return monotonic() - start
