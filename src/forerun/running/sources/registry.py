"""Which source a word such as ``serial:/dev/ttyUSB0`` means."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib.metadata import entry_points
from urllib.parse import parse_qsl

from forerun.core.errors import BadInput
from forerun.running.sources.csv_tail import csv_tail
from forerun.running.sources.interface import Source
from forerun.running.sources.modbus import modbus_device
from forerun.running.sources.mqtt import mqtt_topic
from forerun.running.sources.serial_line import serial_line

__all__ = ["GROUP", "source_of"]

GROUP = "forerun.sources"
"""Entry points of this group are functions like those here: address and options to a source."""

_Make = Callable[[str, Mapping[str, str]], Source]
_OWN: Mapping[str, _Make] = {
    "csv": csv_tail,
    "serial": serial_line,
    "modbus": modbus_device,
    "mqtt": mqtt_topic,
}


def source_of(words: str) -> Source:
    """Return the source that a person means.

    Args:
        words: a CSV file, or KIND:ADDRESS, both perhaps with ``?option=value&option=value``.

    Raises:
        BadInput: a kind that nobody has, or options that it does not take.
    """
    kind, colon, rest = words.partition(":")
    if not colon or len(kind) < 2 or "/" in kind or "\\" in kind:
        kind, rest = "csv", words
    address, _, query = rest.partition("?")
    added = {point.name: point for point in entry_points(group=GROUP)}
    make = _OWN.get(kind)
    if make is None and kind in added:
        make = added[kind].load()
    if make is None:
        known = ", ".join(sorted({*_OWN, *added}))
        raise BadInput(
            "--from", words, f"a CSV file, or one of {known} with a colon and an address"
        )
    return make(address, dict(parse_qsl(query)))
