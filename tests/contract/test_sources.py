"""What every source of readings keeps to, each against its simulator."""

from __future__ import annotations

import os
import pty
import socket
import textwrap
import time
import tty
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from importlib.metadata import EntryPoint
from pathlib import Path

import pytest

from contract.source_rows import heads, rows
from forerun.core.errors import BadInput
from forerun.running.clock import Moment
from forerun.running.incoming import Intake
from forerun.running.sources import Row, Source, SourceLost, registry, source_of
from forerun.running.sources.line_format import line_format_from
from forerun.running.sources.pump import Pump


@dataclass
class Bench:
    """A source and what stands at its other end."""

    source: Source
    send: Callable[[str], None]
    """sends one head temperature, as the instrument writes it"""
    garble: Callable[[], None]
    half: Callable[[str], None]
    """sends the beginning of a line only"""
    unplug: Callable[[], None]
    plug: Callable[[], None]


def _csv(folder: Path) -> Iterator[Bench]:
    path = folder / "log.csv"
    path.write_text("time_s,head_C\n")
    clock = iter(range(0, 100_000, 10))
    text = [path.read_text()]

    def add(line: str) -> None:
        text[0] += line
        with path.open("a") as file:
            file.write(line)

    yield Bench(
        source_of(str(path)),
        lambda value: add(f"{next(clock)},{value}\n"),
        lambda: add("a,b,c,d,e,f\n"),
        lambda value: add(f"{next(clock)},{value[:-1]}"),
        path.unlink,
        lambda: path.write_text("time_s,head_C\n") and None,
    )


class Wire:
    """A pseudo-terminal that is found under a name of our own, as a plug is."""

    def __init__(self, name: Path) -> None:
        self.name = name
        self.plug()

    def plug(self) -> None:
        self._end, self._other = pty.openpty()
        tty.setraw(self._other)
        self.name.symlink_to(os.ttyname(self._other))

    def unplug(self) -> None:
        self.name.unlink()
        os.close(self._other)
        os.close(self._end)

    def write(self, text: str) -> None:
        os.write(self._end, text.encode())


def _serial(folder: Path) -> Iterator[Bench]:
    pytest.importorskip("serial")
    wire = Wire(folder / "port")
    yield Bench(
        source_of(f"serial:{wire.name}?baud=9600&channel=head_C"),
        lambda value: wire.write(f"{value}\r\n"),
        lambda: wire.write("?!\x07 ERR\r\n"),
        lambda value: wire.write(value[:-1]),
        wire.unplug,
        wire.plug,
    )


BENCHES = {"csv": _csv, "serial": _serial}


@pytest.fixture(params=list(BENCHES))
def bench(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Bench]:
    made = BENCHES[request.param](tmp_path)
    found = next(made)
    found.source.open()
    yield found
    found.source.close()


def test_good_values_come_in_order_and_once(bench: Bench) -> None:
    for value in ("78.1", "78.2", "78.3"):
        bench.send(value)
    assert heads(rows(bench.source, 3)) == ["78.1", "78.2", "78.3"]
    assert list(bench.source.read()) == []


def test_reading_does_not_wait(bench: Bench) -> None:
    begun = time.monotonic()
    bench.source.read()
    assert time.monotonic() - begun < 0.5


def test_half_a_line_waits_for_its_other_half(bench: Bench) -> None:
    bench.send("78.1")
    bench.half("78.2")
    assert heads(rows(bench.source, 1)) == ["78.1"]
    assert list(bench.source.read()) == []


def test_what_is_not_understood_is_kept_as_a_remark(bench: Bench) -> None:
    bench.garble()
    bench.send("78.1")
    found = rows(bench.source, 2)
    assert "not understood" in str(found[0]["remark"])
    assert heads(found) == ["78.1"]


@pytest.mark.parametrize("odd", ["nan", "inf", "1e9", "-999", "850.0"])
def test_impossible_values_reach_the_run_and_are_flagged_there(bench: Bench, odd: str) -> None:
    bench.send(odd)
    [found] = rows(bench.source, 1)
    [reading] = Intake().read([dict(found)], bench.source.name, Moment(5.0, 1e9))
    assert reading.flags or reading.remark
    assert str(odd).strip("-") in reading.raw


def test_a_flood_of_ten_a_second_is_taken_whole(bench: Bench) -> None:
    for k in range(100):
        bench.send(f"{78 + k / 1000:.3f}")
    assert len(heads(rows(bench.source, 100))) == 100


def test_what_was_lost_is_said_and_comes_back(bench: Bench) -> None:
    bench.send("78.1")
    assert heads(rows(bench.source, 1)) == ["78.1"]
    bench.unplug()
    with pytest.raises(SourceLost):  # noqa: PT012 -- a line may notice a little late
        for _ in range(100):
            bench.source.read()
            time.sleep(0.01)
    with pytest.raises(SourceLost):
        bench.source.open()
    bench.plug()
    bench.source.open()
    bench.send("78.2")
    assert heads(rows(bench.source, 1)) == ["78.2"]


def test_a_pump_is_back_within_five_seconds_and_says_the_gap(bench: Bench) -> None:
    came: list[Row] = []
    told: list[str] = []

    def heard(value: str, patience: float = 5.0) -> float:
        """Send a value again and again, as an instrument does, until it is heard."""
        begun = time.monotonic()
        while value not in heads(came):
            assert time.monotonic() - begun < patience, f"{value} was not heard"
            bench.send(value)
            time.sleep(0.1)
        return time.monotonic() - begun

    pump = Pump(bench.source, came.extend, told.append, poll_s=0.02)
    try:
        heard("78.1")
        bench.unplug()
        until = time.monotonic() + 5.0
        while not told and time.monotonic() < until:
            time.sleep(0.02)
        bench.plug()
        assert heard("78.2") < 5.0
    finally:
        pump.close()
    assert "is not there" in told[0]
    assert "is back after" in told[1]


def test_lines_are_described_in_a_file(tmp_path: Path) -> None:
    described = tmp_path / "line.toml"
    described.write_text(
        textwrap.dedent(r"""
        [[line]]
        pattern = 'T1=(?P<head_F>[-+.\d]+) T2=(?P<bath_C>[-+.\d]+)'
        [[line]]
        pattern = 'N\s+(?P<distillate_mg>[\d.]+) mg'
        """)
    )
    form = line_format_from(described)
    assert form.row("T1=212.0 T2=140.5\x00") == {"head_C": pytest.approx(100.0), "bath_C": "140.5"}
    assert form.row("N    1500.0 mg") == {"distillate_g": 1.5}
    assert form.row("  ") == {}
    assert "not understood" in str(form.row("hello")["remark"])


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[[line]]\npattern = 5",
        "[[line]]\npattern = '(a'",
        "[[line]]\npattern = 'no groups'",
        "[[line]]\npattern = '(?P<colour>.)'",
        "[[line]]\npattern = '(?P<head_C>(a+)+)'",
        "nonsense",
    ],
)
def test_a_format_that_cannot_be_used_is_refused_in_a_sentence(tmp_path: Path, text: str) -> None:
    path = tmp_path / "line.toml"
    path.write_text(text)
    with pytest.raises(BadInput):
        line_format_from(path)


@pytest.mark.parametrize(
    "words",
    ["pigeon:here", "serial:", "serial:/dev/x?baud=7", "serial:/dev/x?colour=red", "a.csv?x=1"],
)
def test_a_source_that_nobody_has_is_refused(words: str) -> None:
    with pytest.raises(BadInput):
        source_of(words)


def test_a_file_with_minutes_and_commas(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text("\ufefftime_min;head_C;remark\n1,5;78,2;\n2;;foams\n")
    source = source_of(f"csv:{path}")
    source.open()
    first, second = source.read()
    assert (first["time_s"], first["head_C"]) == (90.0, "78,2")
    assert (second["time_s"], second["remark"]) == (120.0, "foams")


class _Counter:
    """A device of somebody else's, for the test of entry points."""

    name, by_hand = "counter", False

    def open(self) -> None: ...

    def read(self) -> Sequence[Row]:
        return [{"head_C": 20.0}]

    def close(self) -> None: ...


def made_elsewhere(address: str, options: dict[str, str]) -> Source:
    assert (address, options) == ("here", {"port": "3"})
    return _Counter()


def test_a_device_is_added_by_an_entry_point(monkeypatch: pytest.MonkeyPatch) -> None:
    point = EntryPoint("counter", f"{__name__}:made_elsewhere", registry.GROUP)
    monkeypatch.setattr(registry, "entry_points", lambda group: [point])
    monkeypatch.setattr(EntryPoint, "load", lambda self: made_elsewhere)
    assert list(source_of("counter:here?port=3").read()) == [{"head_C": 20.0}]


def test_the_device_in_the_guide_works() -> None:
    """The 30 lines that the guide shows, against a server of one line."""
    guide = Path(__file__).resolve().parents[2] / "docs" / "how-to" / "device.md"
    code = guide.read_text(encoding="utf-8").partition("```python\n")[2].partition("```")[0]
    assert len(code.strip().splitlines()) <= 42
    space: dict[str, object] = {}
    exec(compile(code, "thermo.py", "exec"), space)  # it is our own guide
    make = space["make"]
    assert callable(make)
    with socket.create_server(("127.0.0.1", 0)) as server:
        source = make(f"127.0.0.1:{server.getsockname()[1]}", {})
        source.open()
        other, _ = server.accept()
        other.sendall(b"78.1\n78.2\n")
        assert heads(rows(source, 2)) == ["78.1", "78.2"]
        other.close()
        with pytest.raises(SourceLost):
            rows(source, 1)
        source.close()
    with pytest.raises(SourceLost):
        source.open()
