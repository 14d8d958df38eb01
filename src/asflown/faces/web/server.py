"""Serve the pages on this machine: a free port, a browser, a clean end."""

from __future__ import annotations

import socket
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from asflown.app.workplace import Workplace
from asflown.errors import UsageError

if TYPE_CHECKING:
    import uvicorn

LOOPBACK = "127.0.0.1"
#: Where a free port is looked for first, so that addresses stay the same from day to day.
FIRST_PORT, PORTS_TRIED = 8047, 20


@dataclass(frozen=True)
class Opened:
    """A socket that listens, and the address of the pages on it."""

    listening: socket.socket
    address: str
    hosts: frozenset[str]


def open_socket(host: str = LOOPBACK, port: int | None = None) -> Opened:
    """Listen on a port: the one given, else the first free one.

    Raises
    ------
    UsageError
        When it is taken, or the host is none of this machine.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    wanted = range(FIRST_PORT, FIRST_PORT + PORTS_TRIED) if port is None else (port,)
    for number in (*wanted, *(() if port is not None else (0,))):
        made = socket.socket(family, socket.SOCK_STREAM)
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            made.bind((host, number))
            made.listen(64)
        except (OSError, OverflowError) as error:
            made.close()
            last = error
            continue
        got = made.getsockname()[1]
        return Opened(made, f"http://{_written(host)}:{got}/", names(host, got))
    said = f"port {port} of {host}" if port is not None else f"any port of {host}"
    raise UsageError(f"{said} cannot be had: {last}", next_step="choose another: --port NUMBER") from last


def names(host: str, port: int) -> frozenset[str]:
    """``name:port`` that a browser may call this server by."""
    own = {host, "127.0.0.1", "localhost", "::1"} if is_loopback(host) else {host}
    return frozenset(f"{_written(name)}:{port}".lower() for name in own)


def is_loopback(host: str) -> bool:
    """Whether only this machine can reach a host."""
    return host in ("localhost", "::1") or host.startswith("127.")


def _written(host: str) -> str:
    return f"[{host}]" if ":" in host else host


def server_of(open_work: Callable[[str | None], Workplace], opened: Opened) -> uvicorn.Server:
    """The server of the pages for a socket; ``run(sockets=[...])`` serves until it is stopped."""
    import uvicorn

    from asflown.faces.web.application import application

    config = uvicorn.Config(
        application(open_work, opened.hosts),
        log_level="warning",
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=3,
        limit_concurrency=200,
    )
    return uvicorn.Server(config)
