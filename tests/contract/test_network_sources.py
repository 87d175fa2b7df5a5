"""Modbus devices and MQTT brokers as sources, each against its simulator on loopback."""

from __future__ import annotations

import struct
from collections.abc import Iterator

import pytest

from contract.network_devices import Broker, Registers
from contract.source_rows import heads, rows
from forerun.core.errors import BadInput
from forerun.running.sources import SourceLost, source_of


@pytest.fixture
def registers() -> Iterator[Registers]:
    pytest.importorskip("pymodbus")
    found = Registers()
    yield found
    found.unplug()


@pytest.fixture
def broker() -> Iterator[Broker]:
    pytest.importorskip("paho.mqtt")
    found = Broker()
    yield found
    found.unplug()


def test_registers_become_readings(registers: Registers) -> None:
    registers.values = {0: 782, 1: -35, 10: 0, 11: 0}
    source = source_of(f"modbus:127.0.0.1:{registers.port}?head_C=0&bath_C=1&scale=0.1&every=0.05")
    source.open()
    [first] = rows(source, 1)
    assert first == {"head_C": pytest.approx(78.2), "bath_C": pytest.approx(-3.5)}
    registers.values[0] = 790
    assert rows(source, 1)[0]["head_C"] == pytest.approx(79.0)
    source.close()


def test_two_registers_hold_one_number(registers: Registers) -> None:
    high, low = struct.unpack(">HH", struct.pack(">f", 1013.25))
    registers.values = {4: high, 5: low}
    source = source_of(
        f"modbus:127.0.0.1:{registers.port}?pressure_mbar=4&type=float32&table=input"
    )
    source.open()
    assert rows(source, 1)[0]["pressure_mbar"] == pytest.approx(1013.25)
    source.close()


def test_a_register_that_is_not_there_is_a_remark(registers: Registers) -> None:
    registers.values = {0: 782}
    source = source_of(f"modbus:127.0.0.1:{registers.port}?head_C=0&bath_C=9&scale=0.1")
    source.open()
    [found] = rows(source, 1)
    assert found["head_C"] == pytest.approx(78.2)
    assert "bath_C not understood" in str(found["remark"])
    source.close()


def test_a_device_that_goes_comes_back(registers: Registers) -> None:
    registers.values = {0: 782}
    source = source_of(f"modbus:127.0.0.1:{registers.port}?head_C=0&every=0.02")
    source.open()
    assert rows(source, 1)
    registers.unplug()
    with pytest.raises(SourceLost):
        rows(source, 1000)
    with pytest.raises(SourceLost):
        source.open()
    registers.plug()
    source.open()
    assert rows(source, 1)
    source.close()


def test_messages_become_readings_in_order(broker: Broker) -> None:
    source = source_of(f"mqtt:127.0.0.1:{broker.port}?topic=bench/3")
    source.open()
    for message in (b"78.1", b'{"head_C": 78.2, "bath_C": 120}', b"hello", b"{broken"):
        broker.publish("bench/3", message)
    found = rows(source, 4)
    assert heads(found) == ["78.1", "78.2"]
    assert found[1]["bath_C"] == 120
    assert all("not understood" in str(row["remark"]) for row in found[2:])
    source.close()


def test_a_flood_of_messages_is_taken_whole(broker: Broker) -> None:
    source = source_of(f"mqtt:127.0.0.1:{broker.port}?topic=bench/3")
    source.open()
    for k in range(300):
        broker.publish("bench/3", f"{78 + k / 1000:.3f}".encode())
    assert len(heads(rows(source, 300))) == 300
    source.close()


def test_a_broker_that_goes_comes_back(broker: Broker) -> None:
    source = source_of(f"mqtt:127.0.0.1:{broker.port}?topic=bench/3&channel=bath_C")
    source.open()
    broker.publish("bench/3", b"120")
    assert [row["bath_C"] for row in rows(source, 1)] == ["120"]
    broker.unplug()
    with pytest.raises(SourceLost):
        rows(source, 1)
    with pytest.raises(SourceLost):
        source.open()
    broker.plug()
    source.open()
    broker.publish("bench/3", b"121")
    assert [row["bath_C"] for row in rows(source, 1)] == ["121"]
    source.close()


@pytest.mark.parametrize(
    "words",
    [
        "modbus:127.0.0.1",
        "modbus:127.0.0.1?head_C=x",
        "modbus:127.0.0.1?head_C=0&type=text",
        "modbus:127.0.0.1?head_C=0&scale=-1",
        "modbus:127.0.0.1?head_C=0&colour=red",
        "mqtt:127.0.0.1",
        "mqtt:127.0.0.1?topic=a&colour=red",
        "mqtt:127.0.0.1:port?topic=a",
        "mqtt:127.0.0.1?topic=a&channel=colour",
    ],
)
def test_what_cannot_be_asked_for_is_refused(words: str) -> None:
    with pytest.raises(BadInput):
        source_of(words)
