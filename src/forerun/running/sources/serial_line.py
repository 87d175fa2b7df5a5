"""A thermometer or balance on a serial line that sends lines of text."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from forerun.core.errors import BadInput
from forerun.running.sources.interface import Row, SourceLost
from forerun.running.sources.line_format import LineFormat, line_format_from, plain_format

__all__ = ["SerialLine", "serial_line"]

_BAUD = (300, 1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200)
_LONGEST = 4096  # bytes without an end of line, beyond which they are noise
_OPTIONS = "baud, format (a file) or channel (such as head_C), ask (text sent for each reading)"


def serial_line(address: str, options: Mapping[str, str]) -> SerialLine:
    """Return the source for a serial line.

    Args:
        address: of the port.
        options: ``baud``, and ``format`` (a file of `line_format`) or ``channel`` (a heading).

    Raises:
        BadInput: other options.
    """
    given = dict(options)
    baud = given.pop("baud", "9600")
    if baud not in map(str, _BAUD):
        raise BadInput("baud", baud, ", ".join(map(str, _BAUD)))
    file, channel, ask = (given.pop(key, "") for key in ("format", "channel", "ask"))
    if given or (file and channel) or not address:
        raise BadInput("--from", f"serial:{address}", f"a port, then of {_OPTIONS}")
    form = line_format_from(Path(file)) if file else plain_format(channel or "head_C")
    return SerialLine(address, int(baud), form, ask)


class SerialLine:
    """A serial port that is opened again when it comes back.

    Args:
        port: its name.
        baud: rate [1/s].
        form: of its lines.
        ask: sent before each reading, for an instrument that only answers.
    """

    by_hand = False

    def __init__(self, port: str, baud: int, form: LineFormat, ask: str = "") -> None:
        self.name = f"serial {Path(port).name}"
        self._port, self._baud, self._form, self._ask = port, baud, form, ask
        self._line: Any = None
        self._rest = b""

    def open(self) -> None:
        """Open the port.

        Raises:
            SourceLost: it is not there, or taken.
            BadInput: the package for serial lines is not installed.
        """
        self.close()
        try:
            import serial  # noqa: PLC0415 -- an extra
        except ImportError as problem:
            accepted = 'the extra "serial": pip install "forerun[serial]"'
            raise BadInput("--from", f"serial:{self._port}", accepted) from problem
        try:
            self._line = serial.Serial(self._port, self._baud, timeout=0.0, write_timeout=1.0)
        except (OSError, ValueError) as problem:
            raise SourceLost(str(problem)) from problem
        self._rest = b""

    def read(self) -> Sequence[Row]:
        """Return the readings of all whole lines that came.

        Raises:
            SourceLost: the port is gone.
        """
        if self._line is None:
            raise SourceLost("not open")
        try:
            if self._ask:
                self._line.write(self._ask.encode("ascii", "replace") + b"\r\n")
            came = self._line.read(1 << 16)
        except (OSError, TypeError) as problem:  # pyserial says TypeError of a port that vanished
            self.close()
            raise SourceLost(str(problem)) from problem
        *lines, self._rest = (self._rest + came).replace(b"\r", b"\n").split(b"\n")
        if len(self._rest) > _LONGEST:
            lines, self._rest = [*lines, self._rest], b""
        rows = [self._form.row(line.decode("ascii", "replace")) for line in lines]
        return [row for row in rows if row]

    def close(self) -> None:
        """Close the port."""
        line, self._line = self._line, None
        if line is not None:
            line.close()
