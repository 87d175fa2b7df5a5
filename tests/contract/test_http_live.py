"""Live runs over HTTP: stored before they are answered, joined by code, followed as events."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from journeys.listening import Listener
from journeys.served import Reply, Server

SHEET = {
    "title": "two liquids",
    "charge": [
        {"substance": "acetone", "amount": "40 mL"},
        {"substance": "toluene", "amount": "40 mL"},
    ],
    "rig": {"plates": 2, "bath": "silicone oil"},
    "switch": [{"head": "70 °C"}],
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("mine")


@pytest.fixture(scope="module")
def server(folder: Path) -> Iterator[Server]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("FORERUN_DATA", str(folder))
        found = Server()
        yield found
        said = found.close()
        assert "Traceback" not in said, said


@pytest.fixture
def run(server: Server) -> str:
    begun = server.post("/api/runs", {"sheet": SHEET, "title": "bench 1"})
    assert begun.status == 201
    return f"/api/runs/{begun.json['id']}"


def _send(server: Server, run: str, *rows: Any, **more: Any) -> Reply:
    return server.post(f"{run}/readings", {"readings": list(rows), **more})


def test_a_run_is_begun_listed_and_joined(server: Server, run: str) -> None:
    row = server.get("/api/runs").json["runs"][-1]
    assert f"/api/runs/{row['id']}" == run
    assert (row["title"], row["readings"], row["ended_utc_s"]) == ("bench 1", 0, None)
    assert re.fullmatch(r"[3479CDFHJKMNPQRTVWXY]{6}", row["code"])
    assert server.get(f"/api/join/{row['code'].lower()}").json == {"id": row["id"]}
    whole = server.get(run).json
    assert whole["sheet"]["charge"] == SHEET["charge"]
    assert (whole["readings"], whole["entries"], whole["estimate"]) == ([], [], None)


def test_a_sheet_as_text_begins_a_run(server: Server) -> None:
    text = 'title = "of text"\n[[charge]]\nsubstance = "water"\namount = "90 mL"\n'
    begun = server.post("/api/runs", {"sheet": text})
    assert (begun.status, begun.json["title"]) == (201, "of text")


def test_readings_come_back_in_si(server: Server, run: str) -> None:
    sent = {"time_s": 0, "head_C": 25.0, "pressure_mbar": "1013,25", "distillate_mL": 12}
    answer = _send(server, run, sent, {"bath_C": 80, "remark": "cloudy · trüb"}, origin="bench")
    assert answer.status == 200
    assert (answer.json["stored"], answer.json["number"], answer.json["flags"]) == (2, 2, {})
    first, second = server.get(run).json["readings"]
    assert (first["time_s"], first["head_K"], first["pressure_Pa"]) == (0.0, 298.15, 101325.0)
    assert first["distillate_m3"] == pytest.approx(12e-6)
    assert (second["head_K"], second["remark"], second["origin"]) == (
        None,
        "cloudy · trüb",
        "bench",
    )
    assert 0.0 <= second["time_s"] < 60.0
    assert [r["number"] for r in server.get(f"{run}?after=1").json["readings"]] == [2]


ODD = ["NaN", "inf", "-inf", 1e9, -1e9, "warm", True, [], "1e400"]


@pytest.mark.parametrize("value", ODD, ids=str)
def test_what_is_no_number_is_kept_raw_and_flagged(
    server: Server, folder: Path, run: str, value: Any
) -> None:
    answer = _send(server, run, {"head_C": value, "bath_C": 90})
    assert answer.status == 200
    assert "head_C" in answer.json["flags"]["1"][0]
    (reading,) = server.get(run).json["readings"]
    assert reading["head_K"] is None
    assert reading["bath_K"] == pytest.approx(363.15)
    with sqlite3.connect(folder / "runs.sqlite") as db:
        ask = "SELECT raw FROM reading WHERE run_id = ?"
        (raw,) = db.execute(ask, (int(run.rpartition("/")[2]),)).fetchone()
    db.close()
    assert '"head_C"' in raw


def test_bare_nan_and_infinity_are_taken(server: Server, run: str) -> None:
    body = b'{"readings": [{"head_C": NaN, "pot_C": -Infinity, "time_s": Infinity}]}'
    answer = server.post(f"{run}/readings", body)
    assert answer.status == 200
    assert len(answer.json["flags"]["1"]) == 3


def test_sending_again_stores_nothing_twice(server: Server, run: str) -> None:
    words = {"origin": "tablet-7", "sequence": 1}
    first = _send(server, run, {"head_C": 70}, {"head_C": "x"}, **words).json
    again = _send(server, run, {"head_C": 70}, {"head_C": "x"}, **words).json
    assert {k: v for k, v in again.items() if k != "now_s"} == {
        k: v for k, v in first.items() if k != "now_s"
    }
    assert len(server.get(run).json["readings"]) == 2
    other = _send(server, run, {"head_C": 71}, **words)
    assert (other.status, other.json["error"]["field"]) == (422, "sequence")
    said = {"kind": "note", "data": {"text": "hm"}, "origin": "tablet-7", "sequence": "n1"}
    numbers = [server.post(f"{run}/entries", said).json["number"] for _ in range(2)]
    assert numbers == [1, 1]


def test_entries_and_corrections(server: Server, run: str) -> None:
    for kind, data in (
        ("drops", {"count": 10, "over_s": 12.5}),
        ("switched", {"receiver": 1, "time_s": 0}),
        ("odd", {"text": "foam"}),
        ("answer", {"instruction": "hold-1", "answer": "not_now"}),
        ("test", {"finding": "leak", "test": "isolate", "answer": "yes"}),
        ("drops_per_mL", {"value": 42}),
    ):
        assert server.post(f"{run}/entries", {"kind": kind, "data": data}).status == 200
    again = {"kind": "drops", "data": {"count": 11, "over_s": 12.5}, "corrects": 1}
    assert server.post(f"{run}/entries", again).json["number"] == 7
    entries = server.get(f"{run}?entries=5").json["entries"]
    assert [(e["number"], e["kind"], e["corrects"]) for e in entries] == [
        (6, "drops_per_mL", None),
        (7, "drops", 1),
    ]
    _send(server, run, {"head_C": 70})
    assert _send(server, run, {"head_C": 72, "corrects": 1}).json["number"] == 2
    assert _send(server, run, {"head_C": 72, "corrects": 9}).status == 422


BAD: list[tuple[str, Any, str]] = [
    ("readings", {"readings": []}, "readings"),
    ("readings", {"readings": [78.2]}, "readings"),
    ("readings", {"readings": {"head_C": 1}}, "readings"),
    ("readings", {}, "readings"),
    ("readings", {"readings": [{"head_C": 1}], "origin": ""}, "origin"),
    ("readings", {"readings": [{"head_C": 1}], "sequence": 1.5}, "sequence"),
    ("readings", {"readings": [{"head_C": 1}], "all": 1}, "all"),
    ("readings", {"readings": [{"head_C": 1, "corrects": 2**70}]}, "corrects"),
    ("entries", {"kind": "dance", "data": {}}, "kind"),
    ("entries", {"kind": "drops", "data": {"count": 0, "over_s": 1}}, "data.count"),
    ("entries", {"kind": "drops", "data": {"count": 1}}, "data.over_s"),
    ("entries", {"kind": "note", "data": {"text": " "}}, "data.text"),
    ("entries", {"kind": "note", "data": {"text": "a", "x": 1}}, "data.x"),
    ("entries", {"kind": "note", "data": {"text": "a"}, "corrects": 77}, "corrects"),
    ("end", {"now": True}, "now"),
]


@pytest.mark.parametrize(("act", "body", "field"), BAD, ids=[f"{a} {f}" for a, _, f in BAD])
def test_what_cannot_be_understood_is_said(
    server: Server, run: str, act: str, body: Any, field: str
) -> None:
    found = server.post(f"{run}/{act}", body)
    assert (found.status, found.json["error"]["field"]) == (422, field)
    assert server.get(run).json["readings"] == []


@pytest.mark.parametrize("path", ["/api/runs/999", "/api/join/NOBODY", "/api/runs/999/live"])
def test_what_is_not_there_is_404(server: Server, path: str) -> None:
    found = server.get(path)
    assert found.status == 404
    assert found.json["error"]["message"]


def test_nothing_is_read_after_the_end(server: Server, run: str) -> None:
    _send(server, run, {"head_C": 70}, origin="late", sequence=1)
    ended = server.post(f"{run}/end", {}).json["ended_utc_s"]
    assert server.post(f"{run}/end", {}).json["ended_utc_s"] == ended
    refused = _send(server, run, {"head_C": 71})
    assert refused.status == 422
    assert "ended" in refused.json["error"]["message"]
    assert _send(server, run, {"head_C": 70}, origin="late", sequence=1).status == 200
    said = {"kind": "drops", "data": {"count": 1, "over_s": 1}}
    assert server.post(f"{run}/entries", said).status == 422
    assert server.post(f"{run}/entries", {"kind": "note", "data": {"text": "done"}}).status == 200


def test_whoever_follows_is_told_at_once_and_misses_nothing(server: Server, run: str) -> None:
    _send(server, run, {"head_C": 70}, {"head_C": 71})
    server.post(f"{run}/entries", {"kind": "note", "data": {"text": "one"}})
    here = Listener(server.port, f"{run}/live")
    assert [r["number"] for r in here.wait("reading", 2)] == [1, 2]
    assert [e["data"]["text"] for e in here.wait("entry")] == ["one"]
    _send(server, run, {"head_C": 72})
    assert here.wait("reading", 3)[-1]["head_K"] == pytest.approx(345.15)
    assert here.wait("beat", 2)[0]["now_s"] > 0.0
    here.close()
    _send(server, run, {"head_C": 73}, {"head_C": 74})
    server.post(f"{run}/entries", {"kind": "note", "data": {"text": "two"}})
    again = Listener(server.port, f"{run}/live", Last_Event_ID="3")
    assert [r["number"] for r in again.wait("reading", 2)] == [4, 5]
    assert [e["data"]["text"] for e in again.wait("entry")] == ["two"]
    server.post(f"{run}/end", {})
    assert again.wait("ended")
    again.close()


def test_a_hot_bath_is_told_within_two_seconds(server: Server, run: str) -> None:
    here = Listener(server.port, f"{run}/live")
    here.wait("beat")
    _send(server, run, {"bath_C": 260})
    (alarm,) = here.until("alarm", lambda told: told["alarms"], 2.0)["alarms"]
    assert (alarm["gate"], alarm["state"]) == ("bath", "stop")
    assert alarm["caution"]
    server.post(f"{run}/entries", {"kind": "alarm_heard", "data": {"alarm": alarm["id"]}})
    assert here.until("alarm", lambda told: any(a["heard"] for a in told["alarms"]))
    here.close()
    assert server.get(run).json["alarms"][0]["id"] == alarm["id"]


def test_findings_come_by_themselves(server: Server, run: str) -> None:
    here = Listener(server.port, f"{run}/live")
    rows = [{"head_C": 25.0 + k, "bath_C": 60.0 + k, "time_s": k / 10.0} for k in range(5)]
    _send(server, run, *rows)
    found = here.until("findings", lambda told: told["findings"], 60.0)["findings"]
    assert {"name", "probability", "causes", "test", "remedy", "since_s"} <= set(found[0])
    here.close()


def test_the_wall_has_a_line_for_each_bench(server: Server, run: str) -> None:
    here = Listener(server.port, "/api/wall/live")
    here.wait("summary")
    _send(server, run, {"head_C": 56.0, "bath_C": 90})
    number = int(run.rpartition("/")[2])
    here.until("summary", lambda row: row["id"] == number and row["head_K"])
    (line,) = [row for row in server.get("/api/wall").json["runs"] if row["id"] == number]
    assert (line["state"], line["alarm"]) == ("heating", None)
    assert line["head_K"] == pytest.approx(329.15)
    here.close()


def test_the_code_of_a_bench_can_be_photographed(server: Server, run: str) -> None:
    drawn = server.get(f"{run}/qr.svg")
    assert drawn.headers["content-type"] == "image/svg+xml"
    assert drawn.body.startswith(b"<?xml")


def test_the_openapi_description_names_every_path(server: Server) -> None:
    paths = server.get("/api/openapi.json").json["paths"]
    names = ("", "/readings", "/entries", "/end", "/live", "/qr.svg")
    live = {f"/api/runs/{{id}}{name}" for name in names}
    assert live | {"/api/runs", "/api/join/{code}", "/api/wall", "/api/wall/live"} <= set(paths)


def test_another_page_cannot_write(server: Server, run: str) -> None:
    refused = server.post(f"{run}/end", {}, Origin="http://evil.example")
    assert refused.status == 403
