"""A controller or logger on the network that holds its values in Modbus registers."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from forerun.core.errors import BadInput
from forerun.records.readings import HEADINGS
from forerun.running.sources.interface import Row, SourceLost

__all__ = ["ModbusDevice", "modbus_device"]

_KINDS = {"int16": 1, "uint16": 1, "int32": 2, "uint32": 2, "float32": 2}
_HIGHEST = 65535
_PATIENCE = 0.4  # s for an answer
_USUAL_PORT = 502
_OPTIONS = (
    "registers such as head_C=0, then scale, type (int16, uint16, int32, uint32, float32), "
    "table (holding, input), unit, every (s)"
)


@dataclass(frozen=True, slots=True)
class _Layout:
    registers: Mapping[str, int]
    kind: str
    scale: float
    table: str
    unit: int
    every_s: float


def modbus_device(address: str, options: Mapping[str, str]) -> ModbusDevice:
    """Return the source for a device.

    Args:
        address: host, or host and port.
        options: a register for each heading; ``scale``, ``type``, ``table``, ``unit``, ``every``.

    Raises:
        BadInput: other options, or values that they cannot have.
    """
    host, _, port = address.partition(":")
    given = dict(options)
    registers = {name: _whole(name, given.pop(name)) for name in HEADINGS if name in given}
    kind, table = given.pop("type", "int16"), given.pop("table", "holding")
    if not host or not registers or kind not in _KINDS or table not in {"holding", "input"}:
        raise BadInput("--from", f"modbus:{address}", f"a host, then {_OPTIONS}")
    layout = _Layout(
        registers,
        kind,
        _positive("scale", given.pop("scale", "1")),
        table,
        _whole("unit", given.pop("unit", "1")),
        _positive("every", given.pop("every", "2")),
    )
    if given:
        raise BadInput("--from", f"modbus:{address}?{next(iter(given))}", _OPTIONS)
    return ModbusDevice(host, _whole("port", port) if port else _USUAL_PORT, layout)


def _whole(name: str, text: str) -> int:
    if not text.isascii() or not text.isdigit() or int(text) > _HIGHEST:
        raise BadInput(name, text, f"a whole number from 0 to {_HIGHEST}")
    return int(text)


def _positive(name: str, text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = -1.0
    if not 0.0 < value < 1e6:
        raise BadInput(name, text, "a number above 0")
    return value


class ModbusDevice:
    """Registers that are read every so often.

    Args:
        host: of the device.
        port: on it.
        layout: which register is which reading.
    """

    by_hand = False

    def __init__(self, host: str, port: int, layout: _Layout) -> None:
        self.name = f"modbus {host}"
        self._host, self._port, self._layout = host, port, layout
        self._client: Any = None
        self._read_at = -1e9

    def open(self) -> None:
        """Connect to the device.

        Raises:
            SourceLost: it is not there.
            BadInput: the package for Modbus is not installed.
        """
        self.close()
        try:
            from pymodbus.client import ModbusTcpClient  # noqa: PLC0415 -- an extra
        except ImportError as problem:
            accepted = 'the extra "modbus": pip install "forerun[modbus]"'
            raise BadInput("--from", f"modbus:{self._host}", accepted) from problem
        client: Any = ModbusTcpClient(self._host, port=self._port, timeout=_PATIENCE, retries=0)
        if not client.connect():
            client.close()
            raise SourceLost(f"no connection to {self._host}:{self._port}")
        self._client = client

    def read(self) -> Sequence[Row]:
        """Return one reading of all registers where it is time for one.

        Raises:
            SourceLost: the device does not answer.
        """
        if self._client is None:
            raise SourceLost("not open")
        if time.monotonic() - self._read_at < self._layout.every_s:
            return []
        self._read_at = time.monotonic()
        row: dict[str, Any] = {}
        for name, register in self._layout.registers.items():
            value = self._value(register)
            if isinstance(value, str):
                row["remark"] = f"{name} not understood: {value}"
            else:
                row[name] = value * self._layout.scale
        return [row]

    def close(self) -> None:
        """Let go of the connection."""
        client, self._client = self._client, None
        if client is not None:
            client.close()

    def _value(self, register: int) -> float | str:
        """Return the value of a register, or what the device said instead."""
        from pymodbus.exceptions import ModbusException  # noqa: PLC0415 -- an extra

        layout, client = self._layout, self._client
        ask = getattr(client, f"read_{layout.table}_registers")
        try:
            answer = ask(register, count=_KINDS[layout.kind], device_id=layout.unit)
        except (ModbusException, OSError) as problem:
            self.close()
            raise SourceLost(str(problem)) from problem
        if answer.isError():
            return str(answer)[:200]
        kind = client.DATATYPE[layout.kind.upper()]
        return float(client.convert_from_registers(answer.registers, kind))
