"""`forerun demo --live`: a simulated bench that sends through the real path."""

from __future__ import annotations

import os
import socket
import sys
import tempfile
import threading
import time
import webbrowser
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from forerun.app.example import DEMO
from forerun.core.errors import BadInput, ForerunError

if TYPE_CHECKING:
    from forerun.records.readings import Reading
    from forerun.running.simulated import SimulatedLog
    from forerun.running.sources.pushing import HttpPush

__all__ = ["demo_live"]

_FASTEST = 60.0
_EVERY_S = 10.0  # of the run
_LEAST_APART = 0.4  # s of the room: faster than five a second counts as a flood
_CHANNELS = {"head_C": "head_K", "pot_C": "pot_K", "bath_C": "bath_K"}
_LINE = (
    r"head=(?P<head_C>[-\d.]+) pot=(?P<pot_C>[-\d.]+) bath=(?P<bath_C>[-\d.]+) "
    r"p=(?P<pressure_mbar>[\d.]+) v=(?P<distillate_mL>[\d.]+)"
)
_ZERO_K = 273.15


@dataclass(frozen=True, slots=True)
class _Show:
    """What is shown, and how fast."""

    log: SimulatedLog
    sheet: str
    speed: float
    fault: str | None


def demo_live(
    *,
    fault: str | None = None,
    speed: float = 20.0,
    seed: int = 1,
    port: int | None = None,
    browser: bool = True,
) -> None:
    """Serve the page with a simulated bench that drips, until stopped.

    Nothing of it is kept: runs stand in a folder that goes when the demo ends.

    Args:
        fault: name of what goes wrong; None for nothing.
        speed: seconds of the run in a second of the room, 1 to 60.
        seed: the same seed gives the same run.
        port: as in `forerun serve`.
        browser: whether to open the hood, where there is a screen.

    Raises:
        BadInput: a fault or a speed that cannot be, or a port that is taken.
    """
    if not 1.0 <= speed <= _FASTEST:
        raise BadInput("--speed", speed, f"a number from 1 to {_FASTEST:g}")
    from forerun.app.ready import kernels_ready
    from forerun.app.web.serving import serve
    from forerun.core.places import FOLDER_VARIABLE
    from forerun.running.simulated import simulated_log
    from forerun.sheets.examples import example
    from forerun.sheets.resolving import load

    kernels_ready()
    show = _Show(
        simulated_log(load(DEMO), seed, fault, max(_EVERY_S, _LEAST_APART * speed)),
        example(DEMO),
        speed,
        fault,
    )
    listening = port or _free_port()
    stop = threading.Event()
    with tempfile.TemporaryDirectory(prefix="forerun-demo-") as folder:
        os.environ[FOLDER_VARIABLE] = folder
        bench = threading.Thread(
            target=_bench, args=(show, listening, Path(folder), browser, stop), daemon=True
        )
        bench.start()
        try:
            serve(listening, browser=False)
        finally:
            stop.set()
            bench.join()


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _bench(show: _Show, port: int, folder: Path, browser: bool, stop: threading.Event) -> None:
    """Begin the run and send what the instruments show, as it would come."""
    from forerun.running.sources.pushing import HttpPush

    address = f"http://127.0.0.1:{port}"
    try:
        asking = HttpPush(address, 0, "demo", stop)
        title = "Simulated bench (invented data)"
        body = {"sheet": show.sheet, "title": title, "pace": show.speed}
        begun = asking.post("/api/runs", body)
        hood = f"{address}/#/hood/{begun['code']}"
        wrong = "nothing goes wrong" if show.fault is None else f"what goes wrong: {show.fault}"
        _say(f"a simulated bench at {show.speed:g} times its speed, {wrong}")
        _say(f"at the hood: {hood}   all benches: {address}/#/wall")
        if browser and sys.stdout.isatty():
            webbrowser.open(hood)
        push = HttpPush(address, int(begun["id"]), "simulated bench", stop)
        hand = HttpPush(address, int(begun["id"]), "written down", stop)
        if not _over_a_line(show, push, hand, folder, stop):
            _over_http(show, push, stop)
        if not stop.is_set():
            asking.post(f"/api/runs/{begun['id']}/end", {})
            _say("the simulated run has ended; the page stays until Ctrl-C")
    except ForerunError as problem:
        if not stop.is_set():
            _say(f"the simulated bench stopped: {problem}")


def _say(line: str) -> None:
    print(line, flush=True)


def _over_http(show: _Show, push: HttpPush, stop: threading.Event) -> None:
    for reading in _as_it_comes(show, stop):
        push.deliver([_row(reading)])


def _over_a_line(
    show: _Show, push: HttpPush, hand: HttpPush, folder: Path, stop: threading.Event
) -> bool:
    """Send through a serial line where this machine has one to pretend with."""
    try:
        import pty
        import tty

        import serial  # noqa: F401 -- an extra
    except ImportError:
        return False
    from forerun.running.sources.line_format import line_format_from
    from forerun.running.sources.pump import Pump
    from forerun.running.sources.serial_line import SerialLine

    described = folder / "line.toml"
    described.write_text(f"[[line]]\npattern = '''{_LINE}'''\n", encoding="utf-8")
    instrument, line = pty.openpty()
    tty.setraw(line)
    source = SerialLine(os.ttyname(line), 9600, line_format_from(described))
    pump = Pump(source, push.deliver, _say, poll_s=0.05)
    try:
        for reading in _as_it_comes(show, stop):
            os.write(instrument, _written(reading).encode("ascii"))
            if reading.remark:
                hand.deliver([{"remark": reading.remark}])
        stop.wait(1.0)  # what is on the line still arrives
    finally:
        pump.close()
        os.close(line)
        os.close(instrument)
    return True


def _as_it_comes(show: _Show, stop: threading.Event) -> Iterator[Reading]:
    begun = time.monotonic()
    for reading in show.log.readings.rows:
        wait = begun + reading.time_s / show.speed - time.monotonic()
        if stop.wait(max(wait, 0.0)):
            return
        yield reading


def _row(reading: Reading) -> dict[str, Any]:
    row: dict[str, Any] = {
        heading: round(getattr(reading, name) - _ZERO_K, 2) for heading, name in _CHANNELS.items()
    }
    row["pressure_mbar"] = round(reading.pressure_Pa / 100.0, 2)
    row["distillate_mL"] = round(reading.distillate_m3 * 1e6, 2)
    if reading.remark:
        row["remark"] = reading.remark
    return row


def _written(reading: Reading) -> str:
    row = _row(reading)
    return (
        f"head={row['head_C']} pot={row['pot_C']} bath={row['bath_C']} "
        f"p={row['pressure_mbar']} v={row['distillate_mL']}\r\n"
    )
