"""Devices on loopback that speak just enough of Modbus and MQTT to be read in tests."""

from __future__ import annotations

import contextlib
import socket
import struct
import threading
from collections.abc import Callable

__all__ = ["Broker", "Listening", "Registers"]


class Listening:
    """A TCP server that can be pulled out and put in again on the same port."""

    def __init__(self, port: int = 0) -> None:
        self.port = port
        self._lines: list[socket.socket] = []
        self.plug()

    def plug(self) -> None:
        self._server = socket.create_server(("127.0.0.1", self.port), reuse_port=False)
        self.port = self._server.getsockname()[1]
        threading.Thread(target=self._accept, args=(self._server,), daemon=True).start()

    def unplug(self) -> None:
        with contextlib.suppress(OSError):
            self._server.shutdown(socket.SHUT_RDWR)
        self._server.close()
        for line in self._lines:
            with contextlib.suppress(OSError):
                line.shutdown(socket.SHUT_RDWR)
            line.close()
        self._lines.clear()

    def _accept(self, server: socket.socket) -> None:
        while True:
            try:
                line, _ = server.accept()
            except OSError:
                return
            self._lines.append(line)
            threading.Thread(target=self._safely, args=(line,), daemon=True).start()

    def _safely(self, line: socket.socket) -> None:
        with contextlib.suppress(OSError, EOFError):
            self.serve(line)

    def serve(self, line: socket.socket) -> None:
        raise NotImplementedError


def _exactly(line: socket.socket, count: int) -> bytes:
    found = b""
    while len(found) < count:
        came = line.recv(count - len(found))
        if not came:
            raise EOFError
        found += came
    return found


class Registers(Listening):
    """Modbus TCP: functions 3 and 4 on a table of registers; others are an exception."""

    def __init__(self) -> None:
        self.values: dict[int, int] = {}
        super().__init__()

    def serve(self, line: socket.socket) -> None:
        while True:
            number, _, _, unit, function = struct.unpack(">HHHBB", _exactly(line, 8))
            first, count = struct.unpack(">HH", _exactly(line, 4))
            asked = range(first, first + count)
            if function in {3, 4} and all(register in self.values for register in asked):
                body = struct.pack(">BBB", unit, function, 2 * count)
                body += b"".join(struct.pack(">H", self.values[r] & 0xFFFF) for r in asked)
            else:
                body = struct.pack(">BBB", unit, function | 0x80, 2)  # no such address
            line.sendall(struct.pack(">HHH", number, 0, len(body)) + body)


class Broker(Listening):
    """MQTT 3.1.1: takes connections and subscriptions, passes on what the test publishes."""

    def __init__(self) -> None:
        self._subscribed: list[Callable[[bytes], None]] = []
        self.ready = threading.Event()
        super().__init__()

    def unplug(self) -> None:
        self._subscribed.clear()
        self.ready.clear()
        super().unplug()

    def publish(self, topic: str, message: bytes) -> None:
        assert self.ready.wait(5.0), "nobody has subscribed"
        body = struct.pack(">H", len(topic)) + topic.encode() + message
        for send in self._subscribed:
            send(b"\x30" + _length(len(body)) + body)

    def serve(self, line: socket.socket) -> None:
        while True:
            kind = _exactly(line, 1)[0] >> 4
            body = _exactly(line, _read_length(line))
            if kind == 1:
                line.sendall(b"\x20\x02\x00\x00")
            elif kind == 8:
                line.sendall(b"\x90\x03" + body[:2] + b"\x00")
                self._subscribed.append(line.sendall)
                self.ready.set()
            elif kind == 12:
                line.sendall(b"\xd0\x00")
            elif kind == 14:
                return


def _length(count: int) -> bytes:
    found = b""
    while True:
        count, part = divmod(count, 128)
        found += bytes([part | (0x80 if count else 0)])
        if not count:
            return found


def _read_length(line: socket.socket) -> int:
    found, shift = 0, 0
    while True:
        part = _exactly(line, 1)[0]
        found |= (part & 0x7F) << shift
        shift += 7
        if not part & 0x80:
            return found
