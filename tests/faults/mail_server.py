"""A mail server small enough to be read, which does as it is told: takes mail, hangs, refuses, or hangs up."""

import socketserver
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from email import message_from_bytes, policy
from enum import Enum
from typing import NamedTuple

STEPS = ("EHLO", "MAIL", "RCPT", "DATA", "the text", "QUIT")


class Manner(Enum):
    TAKES = "takes mail"
    HANGS = "hangs"
    REFUSES_SENDER = "451 to the sender"
    REFUSES_RECIPIENT = "451 to the recipient"
    REFUSES_TEXT = "451 after the text"
    HANGS_UP_IN_TEXT = "hangs up in the text"
    HANGS_UP_AFTER_TEXT = "hangs up after the text"


class Mail(NamedTuple):
    """A mail whose whole text came in: whether its sender was told so, its name, and what it says."""

    taken: bool
    name: str
    text: str


@dataclass
class Post:
    """What came in, and how the server behaves; `at_step` is called before each step is answered."""

    manner: Manner = Manner.TAKES
    port: int = 0
    mails: list[Mail] = field(default_factory=list)
    at_step: Callable[[str], None] | None = None
    lock: threading.Lock = field(default_factory=threading.Lock)
    over: threading.Event = field(default_factory=threading.Event)

    def step(self, name: str) -> None:
        if self.at_step is not None:
            self.at_step(name)


@contextmanager
def mail_server() -> Iterator[Post]:
    """A mail server on a port of its own, gone afterwards."""
    post = Post()

    class Handler(_Conversation):
        server_side = post

    class Server(socketserver.ThreadingTCPServer):
        daemon_threads = True
        request_queue_size = 50

    with Server(("127.0.0.1", 0), Handler) as server:
        post.port = server.server_address[1]
        thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
        thread.start()
        try:
            yield post
        finally:
            post.over.set()
            server.shutdown()
            thread.join()


class _Conversation(socketserver.StreamRequestHandler):
    """One sender's mails (RFC 5321), with none of the extensions."""

    server_side: Post

    def handle(self) -> None:
        post = self.server_side
        if post.manner is Manner.HANGS:
            post.over.wait(30)
            return
        try:
            self._say("220 ready")
            while line := self.rfile.readline():
                if not self._answer(line.decode().strip()):
                    return
        except OSError:
            return  # the sender died

    def _answer(self, line: str) -> bool:
        """Answer one line; False ends the conversation."""
        post, word = self.server_side, line[:4].upper()
        post.step("EHLO" if word == "HELO" else word)
        if word == "DATA":
            self._say("354 go on")
            return self._text()
        refused = {"MAIL": Manner.REFUSES_SENDER, "RCPT": Manner.REFUSES_RECIPIENT}.get(word)
        self._say("451 not now" if post.manner is refused else "221 bye" if word == "QUIT" else "250 fine")
        return word != "QUIT"

    def _text(self) -> bool:
        post, lines = self.server_side, []
        if post.manner is Manner.HANGS_UP_IN_TEXT:
            self.rfile.readline()
            return False
        while (line := self.rfile.readline()) not in (b".\r\n", b""):
            lines.append(line)
        if not line:
            return False
        sent = message_from_bytes(b"".join(lines), policy=policy.default)
        if post.manner is Manner.REFUSES_TEXT:
            self._say("451 not now")
            return True
        taken = post.manner is Manner.TAKES
        plain = sent.get_body(("plain",))
        text = str(plain.get_content()) if plain else ""
        with post.lock:
            post.mails.append(Mail(taken, str(sent["Message-ID"]), text))
        post.step("the text")
        if taken:
            self._say("250 taken")
        return taken

    def _say(self, line: str) -> None:
        self.wfile.write(f"{line}\r\n".encode())
