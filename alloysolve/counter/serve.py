"""The server of the counter: on this machine only, until Ctrl-C."""

from __future__ import annotations

import secrets
import socket
import webbrowser
from collections.abc import Callable
from threading import Thread

from waitress.server import create_server

from ..errors import InputError
from .app import counter_app
from .desk import Desk
from .guard import HOSTS, MOST_BYTES

PORT = 4779  # silver is element 47, gold 79; the same one each time, so that a page left open finds the next run
THREADS = 4  # one works on an answer, the others serve what needs none


def serve(settings: str | None, port: int | None, browser: bool, say: Callable[[str], None]) -> None:
    """Serves the page until Ctrl-C. `say` is told its address; without a `port`, another is taken if ours is in use."""
    desk = Desk(settings)
    desk.shop()  # settings that cannot be read are an error now, not in the browser
    listening = _listening(port)
    own, token, start = listening.getsockname()[1], secrets.token_urlsafe(24), secrets.token_urlsafe(24)
    server = create_server(
        counter_app(desk, token, own, start),
        sockets=[listening],
        threads=THREADS,
        ident=None,
        max_request_body_size=MOST_BYTES,
        max_request_header_size=16_000,
    )
    Thread(target=desk.warm, daemon=True).start()
    say(f"http://{HOSTS[0]}:{own}/{token}/")
    if browser:
        Thread(target=webbrowser.open, args=(f"http://{HOSTS[0]}:{own}/start/{start}",), daemon=True).start()
    server.run()  # until Ctrl-C
    server.close()


def _listening(port: int | None) -> socket.socket:
    try:
        return socket.create_server((HOSTS[0], PORT if port is None else port))
    except OSError as e:
        if port is None:
            return socket.create_server((HOSTS[0], 0))
        raise InputError("--port", port, "a port that no other program uses", "choose another, or leave it out") from e
