"""``asflown serve``: the sheets as pages in a browser."""

from __future__ import annotations

from typing import Annotated

from cyclopts import Parameter

from asflown.faces.cli.options import NO_OPTIONS, Common


def serve(
    *,
    port: int | None = None,
    host: str = "127.0.0.1",
    no_browser: Annotated[bool, Parameter(negative=())] = False,
    common: Common = NO_OPTIONS,
) -> int:
    """Show everything as pages on this machine, until Ctrl-C.

    Only this machine can reach them. Everything the commands do the pages do, with the same store.

    Example: asflown serve

    Parameters
    ----------
    port
        Port to listen on (default: 8047, or the next free one).
    host
        Name or address to listen on. Anything but this machine's own loopback lets others in: there is
        no password, so only in a network you trust.
    no_browser
        Do not open a browser.
    """
    from asflown.faces.cli.session import one_thread_each

    one_thread_each()
    from asflown.faces.cli.console import say
    from asflown.faces.cli.session import DONE, work_in
    from asflown.faces.web.server import is_loopback, open_socket, server_of
    from asflown.faces.wiring import workplace

    work_in(common)  # a store that cannot be opened is told before anything is served
    opened = open_socket(host, port)
    say(f"asflown is at {opened.address}", plain=common.plain)
    if not is_loopback(host):
        say("Others in this network can reach it: there is no password.", plain=common.plain)
    say("Stop it with Ctrl-C.", plain=common.plain)
    if not no_browser:
        _open_browser(opened.address)
    server = server_of(lambda who: workplace(common.store, who or common.who), opened)
    try:
        server.run(sockets=[opened.listening])
    except KeyboardInterrupt:
        pass
    finally:
        opened.listening.close()
    say("Stopped; everything is kept.", plain=common.plain)
    return DONE


def _open_browser(address: str) -> None:
    """Open it where there is one; the address was said already."""
    import contextlib
    import threading
    import webbrowser

    def later() -> None:
        with contextlib.suppress(webbrowser.Error, OSError):
            webbrowser.open(address)

    timer = threading.Timer(0.5, later)
    timer.daemon = True
    timer.start()
