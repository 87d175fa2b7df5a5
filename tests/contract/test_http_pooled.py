"""All benches of a server together: codes alone, causes, one table; a bench can be taken out."""

from __future__ import annotations

import csv
import io
import json
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from contract.lab import Lab, Raw, open_lab
from forerun.app.pool import Bench
from forerun.app.web.live_desk import LiveDesk
from forerun.app.web.rights import may
from forerun.core.provenance import made_by
from forerun.reviewing.findings import Cause, Diagnosis, Finding
from forerun.reviewing.fitting_run import Estimate

_SHEET = {
    "title": "Anna's run",
    "charge": [
        {"substance": "acetone", "amount": "40 mL"},
        {"substance": "toluene", "amount": "40 mL"},
    ],
}
_ODD = 4  # whose thermometer reads 6 K low


def _looked_at(_sheet: object, readings: Any) -> Bench:
    """Stand in for fit and diagnosis, which take seconds."""
    low = float(readings.channel("head_K")[0]) < 273.15 + 55.0
    cause = Cause("thermometer_offset", "bulb too high", 0.8)
    found = Finding("thermometer_offset", 0.7, (cause,), "low", "", "test", "remedy", 0.0)
    return Bench(Estimate("plates", 2.0, 1.5, 2.5, 0.5), Diagnosis((found,) if low else (), (), ()))


@dataclass(frozen=True, slots=True)
class Client:
    """Asks as the page does."""

    lab: Lab

    def get(self, path: str) -> Raw:
        return self.lab.ask("GET", path)

    def post(self, path: str, body: Any) -> Raw:
        return self.lab.ask("POST", path, json.dumps(body).encode())


@pytest.fixture
def client(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Client]:
    monkeypatch.setenv("FORERUN_DATA", str(tmp_path))
    monkeypatch.setattr("forerun.app.web.live_pooled.bench_of", _looked_at)
    monkeypatch.setattr("forerun.app.web.live_pooled._FRESH", 0.0)
    desk = LiveDesk(make=None)
    monkeypatch.setattr("forerun.app.web.application.LiveDesk", lambda: desk)
    with open_lab(tmp_path, neighbour=True) as lab:
        yield Client(lab)
    desk.close()


def _json(raw: Raw) -> Any:
    return json.loads(raw.body)


def _bench(client: Client, number: int) -> str:
    begun = _json(client.post("/api/runs", {"sheet": _SHEET, "title": f"Anna {number}"}))
    off = -6.0 if number == _ODD else 0.1 * number
    rows = [
        {"time_s": 60 * k, "head_C": 60 + 0.02 * k * k + off, "distillate_mL": 1.5 * k}
        for k in range(1, 25)
    ]
    path = f"/api/runs/{begun['id']}"
    assert client.post(f"{path}/readings", {"readings": rows}).status == 200
    assert client.post(f"{path}/end", {}).status == 200
    return str(begun["code"])


def _until(true: Callable[[], bool]) -> None:
    begun = time.monotonic()
    while not true():
        assert time.monotonic() - begun < 30.0, "it did not come in time"
        time.sleep(0.05)


def _class(client: Client) -> Any:
    (one,) = _json(client.get("/api/pooled"))["classes"]
    return one


def test_all_benches_together_and_one_taken_out(client: Client) -> None:
    empty = _json(client.get("/api/pooled"))
    assert (set(empty), empty["classes"]) == ({"classes", "made_by"}, [])
    assert empty["made_by"] == made_by()
    codes = [_bench(client, number) for number in range(1, 6)]
    _until(lambda: not _class(client)["waiting"])
    whole = _class(client)
    assert whole["substances"] == ["acetone", "toluene"]
    assert [one["code"] for one in whole["benches"]] == codes
    assert "Anna" not in client.get("/api/pooled").body
    assert whole["benches"][0]["plates"] == {"value": 2.0, "band": [1.5, 2.5]}
    apart = {one["code"]: one["apart"] for one in whole["benches"] if one["apart"]}
    assert set(apart) == {codes[_ODD - 1]}
    assert apart[codes[_ODD - 1]]["cause"] == "bulb too high, 70 %"
    table = client.get("/api/pooled.csv?class=0")
    assert table.headers["content-type"].startswith("text/csv")
    assert {row["bench"] for row in csv.DictReader(io.StringIO(table.body))} == set(codes)
    out = {"code": codes[_ODD - 1]}
    assert _json(client.post("/api/pooled/take-out", out)) == {**out, "out": True}
    without = _class(client)
    assert without["out"] == [codes[_ODD - 1]]
    assert codes[_ODD - 1] not in {one["code"] for one in without["benches"]}
    client.post("/api/pooled/take-out", {**out, "out": False})
    assert len(_class(client)["benches"]) == 5


def test_a_bench_is_erased_for_good_once_it_has_ended(client: Client) -> None:
    code = _bench(client, 7)
    path = "/api/pooled/erase"
    assert client.post(path, {"code": code}).status == 422  # not sure
    number = _json(client.get(f"/api/join/{code}"))["id"]
    wrong = client.post(path, {"code": code, "sure": True, "reason": 5})
    assert _json(wrong)["error"]["field"] == "reason"
    body = {"code": code, "sure": True, "reason": "their wish"}
    assert _json(client.post(path, body))["erased"] > 1
    assert client.get(f"/api/join/{code}").status == 404
    assert client.get(f"/api/runs/{number}").status in {404, 422}
    assert client.post(path, {"code": code, "sure": True}).status == 422


def test_what_cannot_be_used_is_said(client: Client) -> None:
    for answer in (
        client.get("/api/pooled.csv?class=3"),
        client.post("/api/pooled/take-out", {"code": 5}),
        client.post("/api/pooled/take-out", {"code": "AAAAAA"}),
    ):
        assert answer.status == 422
        assert set(_json(answer)["error"]) >= {"field", "accepted", "message"}


def test_a_bench_of_which_nothing_came_over_waits(client: Client) -> None:
    begun = _json(client.post("/api/runs", {"sheet": _SHEET}))
    one = _class(client)
    assert one["benches"] == []
    assert one["unusable"] == {begun["code"]: "nothing has come over yet"}


def test_only_an_instructor_takes_a_bench_out() -> None:
    assert may("reader", "GET", "/api/pooled")
    assert may("reader", "GET", "/api/pooled.csv")
    assert not may("bench", "POST", "/api/pooled/take-out")
    assert may("instructor", "POST", "/api/pooled/take-out")
    assert not may("bench", "POST", "/api/pooled/erase")
    assert not may("reader", "POST", "/api/pooled/erase")
    assert may("instructor", "POST", "/api/pooled/erase")


def test_a_bench_that_cannot_be_looked_into_keeps_its_curve(
    client: Client, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def failing(*_words: object) -> None:
        raise RuntimeError("of no use")

    monkeypatch.setattr("forerun.app.web.live_pooled.bench_of", failing)
    code = _bench(client, 1)
    _until(lambda: not _class(client)["waiting"])
    (one,) = _class(client)["benches"]
    assert (one["code"], one["plates"]) == (code, None)
    assert "of no use" in capsys.readouterr().err
