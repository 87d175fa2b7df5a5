"""`forerun serve`: the page on this machine, or for others too where that is asked for."""

from __future__ import annotations

import os
import socket
import sys
import threading
import webbrowser
from typing import TYPE_CHECKING

from forerun.app.ready import kernels_ready
from forerun.core.errors import BadInput, ForerunError

if TYPE_CHECKING:
    from forerun.app.web.live_desk import LiveDesk
    from forerun.app.web.opening import Opening

__all__ = ["USUAL_PORT", "serve"]

USUAL_PORT = 8017
_HIGHEST_PORT = 65535
_CONNECTIONS = 2000  # at a time; more are told to come later
_TRIES = 20  # ports after the usual one, when nobody asked for a certain one
_PATIENCE = 0.3  # s until the server listens
_FAREWELL = 1  # s for which answers may be finished after Ctrl-C; streams never end by themselves
_TURN_S = 0.0005  # after which a busy thread lets one that answers go on; 5 ms, as usual, add up


def serve(port: int | None = None, *, browser: bool = True, opening: Opening | None = None) -> None:
    """Serve the page and its interface until stopped.

    Args:
        port: where to listen; 0 for any that is free, None for the usual one or the next free.
        browser: whether to open the page, where there is a screen.
        opening: to whom; to this machine alone when left out.

    Raises:
        BadInput: the port is taken, or no number that a port can have; or as `Opening.check`.
    """
    import uvicorn

    from forerun.app.web.application import application
    from forerun.app.web.live_desk import LiveDesk
    from forerun.app.web.opening import Opening

    opened = opening or Opening()
    opened.check()
    kernels_ready()
    listening = _listening(port, opened.listens_at)
    entry = opened.entry()
    address = opened.address(listening.getsockname()[1], entry)
    print(f"the page: {address}   (Ctrl-C stops it)", flush=True)
    if browser and _has_screen():
        threading.Timer(_PATIENCE, webbrowser.open, (address,)).start()
    sys.setswitchinterval(_TURN_S)
    desk = LiveDesk()
    threading.Thread(target=_warm, args=(desk,), daemon=True).start()
    config = uvicorn.Config(
        application(opened.hosts, desk, entry),
        log_level="warning",
        access_log=False,
        server_header=False,
        proxy_headers=False,  # whoever asks could write them
        lifespan="off",
        timeout_graceful_shutdown=_FAREWELL,
        limit_concurrency=_CONNECTIONS,
        **opened.encryption,
    )
    try:
        uvicorn.Server(config).run(sockets=[listening])
    finally:
        desk.close()


def _listening(port: int | None, address: str) -> socket.socket:
    if port is not None and not 0 <= port <= _HIGHEST_PORT:
        raise BadInput("--port", port, f"a whole number from 0 to {_HIGHEST_PORT}")
    asked = range(USUAL_PORT, USUAL_PORT + _TRIES) if port is None else [port]
    for candidate in asked:
        listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind((address, candidate))
            listening.listen()  # so that who reads the address may come at once
        except OSError:
            listening.close()
            continue
        return listening
    raise BadInput("--port", asked[0], "a port that nobody listens on and that you may use")


def _has_screen() -> bool:
    """Return whether a browser would be seen: never in a script or over a bare connection."""
    if not sys.stdout.isatty() or os.environ.get("CI"):
        return False
    if sys.platform in {"win32", "darwin"}:
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def _warm(desk: LiveDesk) -> None:
    """Take up live runs again, and compute the demo so that the first touch is a quick one."""
    from forerun.app.example import DEMO
    from forerun.app.foresee import foresee
    from forerun.app.mix import mix
    from forerun.app.web.offered import examples, offered
    from forerun.app.web.page import page_files

    _take_up(desk)
    page_files(), offered(), examples()
    foresee(DEMO, members=1)
    mix("acetone", "toluene")


def _take_up(desk: LiveDesk) -> None:
    try:
        going = desk.runs.going()
    except ForerunError as problem:
        print(f"live runs: {problem}", file=sys.stderr, flush=True)
        return
    for run in going:
        print(f"goes on: {run.title} ({run.code})", flush=True)
