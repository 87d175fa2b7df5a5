"""The interface over HTTP: the same objects as the command line, the same refusals, no way in."""

from __future__ import annotations

import base64
import json
import socket
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from forerun.app.web.asking import QUESTIONS
from journeys.command import forerun
from journeys.served import Server

SHEET = {
    "title": "two liquids on two plates",
    "charge": [
        {"substance": "acetone", "amount": "40 ± 1 mL"},
        {"substance": "toluene", "amount": "40 mL"},
    ],
    "rig": {"plates": 2, "holdup": "1 mL"},
    "programme": {
        "bath": [["0 min", "25 °C"], ["20 min", "130 °C"]],
        "stop": {"time": "2 h", "residue": "10 mL"},
    },
    "switch": [{"head": "70 °C"}],
}


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    found = Server()
    yield found
    said = found.close()
    assert "Traceback" not in said, said


def _as_toml(sheet: dict[str, Any]) -> str:
    charge = "".join(
        f'[[charge]]\nsubstance = "{row["substance"]}"\namount = "{row["amount"]}"\n'
        for row in sheet["charge"]
    )
    bath = json.dumps(sheet["programme"]["bath"], ensure_ascii=False)
    return (
        f'title = "{sheet["title"]}"\n{charge}[rig]\nplates = 2\nholdup = "1 mL"\n'
        f'[programme]\nbath = {bath}\nstop = {{ time = "2 h", residue = "10 mL" }}\n'
        '[[switch]]\nhead = "70 °C"\n'
    )


def test_health(server: Server) -> None:
    assert server.get("/api/health").json["status"] == "ok"


def test_look_is_that_of_the_command(server: Server) -> None:
    told = json.loads(forerun("look", "toluene", "--pressure", "100 mmHg", "--json").out)
    found = server.post("/api/look", {"substance": "toluene", "pressure": "100 mmHg"}).json
    assert {key: found[key] for key in told} == told


def test_mix_is_that_of_the_command(server: Server) -> None:
    told = json.loads(forerun("mix", "ethanol", "water", "--at", "0.3,0.7", "--json").out)
    found = server.post("/api/mix", {"substances": ["ethanol", "water"], "at": [0.3, 0.7]}).json
    assert {key: found[key] for key in told} == told


def test_foresee_is_that_of_the_command(server: Server) -> None:
    toml = _as_toml(SHEET)
    told = json.loads(forerun("foresee", "-", "--members", "3", "--json", given=toml.encode()).out)
    for sheet in (SHEET, toml):
        found = server.post("/api/foresee", {"sheet": sheet, "members": 3}).json
        assert {key: found[key] for key in told} == told


def test_advise_is_that_of_the_command(server: Server) -> None:
    toml = _as_toml(SHEET)
    told = json.loads(forerun("advise", "-", "--members", "4", "--json", given=toml.encode()).out)
    found = server.post("/api/advise", {"sheet": SHEET, "members": 4}).json
    assert {key: found[key] for key in told} == told


def test_review_is_that_of_the_command(server: Server, tmp_path: Path) -> None:
    log = "time_min,head_C,distillate_mL\n0,20,0\n30,99,1\n40,103,20\n60,108,40\n"
    (tmp_path / "log.csv").write_text(log, "utf-8")
    words = ("review", "-", "--readings", str(tmp_path / "log.csv"), "--quick", "--json")
    told = json.loads(forerun(*words, given=_as_toml(SHEET).encode()).out)
    found = server.post("/api/review", {"sheet": SHEET, "readings": log, "fit": False}).json
    assert {key: found[key] for key in told} == told
    assert found["shown"]["drawing"].startswith("<svg")
    assert found["shown"]["tables"]["account"].startswith("place,mass_kg")


def test_papers_of_a_run_are_files(server: Server) -> None:
    log = "time_min,head_C,distillate_mL\n0,20,0\n30,99,1\n40,103,20\n60,108,40\n"
    asked = {"sheet": SHEET, "readings": log, "fit": False, "notes": {"owner": "Group 3"}}
    for name, begins in (("record", b"%PDF"), ("labels", b"%PDF"), ("archive", b"PK")):
        made = server.post("/api/record", {**asked, "file": name}).json
        assert base64.b64decode(made["base64"]).startswith(begins)
    assert made["media_type"] == "application/zip"
    plan = server.post("/api/record", {"sheet": SHEET}).json
    assert base64.b64decode(plan["base64"]).startswith(b"%PDF")
    for wrong in ({"file": "letter"}, {"notes": {"colour": "red"}}, {"stock": "a3"}, {"fit": 1}):
        refused = server.post("/api/record", {**asked, "file": "labels", **wrong})
        assert refused.status == 422, wrong


def test_a_sheet_by_itself_is_taken(server: Server) -> None:
    alone = server.post("/api/foresee", SHEET).json
    assert alone["cuts"] == server.post("/api/foresee", {"sheet": SHEET}).json["cuts"]


def test_a_thinned_trace_is_the_same_run(server: Server) -> None:
    whole = server.post("/api/foresee", {"sheet": SHEET}).json
    thin = server.post("/api/foresee", {"sheet": SHEET, "points": 60}).json
    assert thin["cuts"] == whole["cuts"]
    times = thin["trace"]["time_s"]
    assert 30 <= len(times) <= 70 < len(whole["trace"]["time_s"])
    assert set(times) <= set(whole["trace"]["time_s"])
    assert times[-1] == whole["trace"]["time_s"][-1]


BAD = [
    ("look", {"substance": "unobtainium"}, "substance"),
    ("look", {}, "substance"),
    ("look", {"substance": "toluene", "pressure": "wet"}, "pressure"),
    ("look", {"substance": "toluene", "shape": "round"}, "shape"),
    ("mix", {"substances": "ethanol"}, "substances"),
    ("fit", {"substances": ["ethanol", "water"], "points": "/etc/passwd"}, "--points, heading"),
    ("fit", {"substances": ["ethanol", "water"], "points": "x1\n1", "keep": 1}, "keep"),
    ("review", {"sheet": SHEET, "readings": "/etc/passwd"}, "--readings"),
    ("review", {"sheet": SHEET}, "readings"),
    ("mix", {"substances": ["ethanol", "water"], "at": ["a"]}, "at"),
    ("mix", {"substances": ["ethanol", "water"], "curve": True}, "curve"),
    ("foresee", {"sheet": "/etc/passwd"}, "sheet"),
    ("foresee", {"sheet": 5}, "sheet"),
    ("foresee", {"sheet": {**SHEET, "members": 3}}, "members"),
    ("foresee", {"sheet": {"charge": []}}, "charge"),
    ("foresee", {"sheet": SHEET, "points": 1}, "points"),
    ("foresee", {"sheet": SHEET, "members": 10**9}, "--members"),
    (
        "foresee",
        {"sheet": {"charge": [{"substance": "water", "amount": "5"}]}},
        "charge[1].amount",
    ),
]


@pytest.mark.parametrize(("question", "body", "field"), BAD, ids=[f"{q} {f}" for q, _, f in BAD])
def test_bad_input_is_422_with_the_four_parts(
    server: Server, question: str, body: dict[str, Any], field: str
) -> None:
    found = server.post(f"/api/{question}", body)
    assert found.status == 422
    error = found.json["error"]
    assert set(error) == {"field", "value", "accepted", "message"}
    assert error["field"] == field
    assert error["accepted"] in error["message"]


RAW = [b"", b"{", b"[1]", b'{"a": NaN}', b"\xff\xfe", b"[" * 5000, b'{"substance": ' + b"[" * 90]


@pytest.mark.parametrize("raw", RAW, ids=[str(k) for k in range(len(RAW))])
def test_what_is_no_object_is_refused(server: Server, raw: bytes) -> None:
    found = server.post("/api/look", raw)
    assert found.status == 422
    assert found.json["error"]["field"] == "body"


def test_a_sheet_that_is_text_is_read_without_touching_files(server: Server) -> None:
    found = server.post("/api/sheet", {"toml": _as_toml(SHEET)}).json
    assert found["complaint"] is None
    assert found["sheet"]["charge"] == SHEET["charge"]
    assert server.post("/api/sheet", {"toml": "workshop-blend"}).status == 422
    half = server.post("/api/sheet", {"toml": '[[charge]]\nsubstance = "water"\n'}).json
    assert "charge[1].amount" in half["complaint"]


FOREIGN = [
    {"Host": "evil.example"},
    {"Host": "127.0.0.1.evil.example"},
    {"Origin": "http://evil.example"},
    {"Origin": "http://127.0.0.1:1"},
    {"Origin": "null"},
    {"Sec_Fetch_Site": "cross-site"},
]


@pytest.mark.parametrize("headers", FOREIGN, ids=str)
def test_foreign_askers_are_refused(server: Server, headers: dict[str, str]) -> None:
    found = server.post("/api/look", {"substance": "water"}, **headers)
    assert found.status == 403
    assert "substance" not in found.json


def test_our_own_origin_is_served(server: Server) -> None:
    found = server.post("/api/look", {"substance": "water"}, Origin=server.address)
    assert found.status == 200


def test_a_form_of_another_page_cannot_post(server: Server) -> None:
    found = server.post("/api/look", b'{"substance": "water"}', Content_Type="text/plain")
    assert found.status == 415


def test_too_much_is_refused(server: Server) -> None:
    with socket.create_connection(("127.0.0.1", server.port), timeout=10) as line:
        line.sendall(
            b"POST /api/look HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\n"
            b"Content-Length: 99999999\r\n\r\n"
        )
        assert b" 413 " in line.recv(4096)


@pytest.mark.parametrize("path", ["/api/nothing", "/../../etc/passwd", "/parts/..%2f..%2fpage.py"])
def test_no_other_path_answers(server: Server, path: str) -> None:
    found = server.get(path)
    assert found.status == 404
    assert found.json["error"]["field"] == "path"


@pytest.mark.parametrize("path", ["/", "/api/health", "/api/nothing"])
def test_every_answer_carries_the_policy(server: Server, path: str) -> None:
    headers = server.get(path).headers
    policy = headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "http:" not in policy
    assert headers["x-content-type-options"] == "nosniff"


def test_the_description_covers_every_question(server: Server) -> None:
    document = server.get("/api/openapi.json").json
    assert document["openapi"].startswith("3.1")
    for question in QUESTIONS.values():
        post = document["paths"][f"/api/{question.name}"]["post"]
        schema = post["requestBody"]["content"]["application/json"]["schema"]
        assert set(schema["properties"]) == set(question.takes)
    names = set(document["components"]["schemas"])
    text = json.dumps(document)
    assert all(f'"#/components/schemas/{n}"' in text or n == "SheetForm" for n in names)
    assert "#/$defs" not in text


@pytest.mark.parametrize("name", sorted(QUESTIONS))
def test_every_example_of_the_description_is_answered(server: Server, name: str) -> None:
    found = server.post(f"/api/{name}", dict(QUESTIONS[name].example))
    assert found.status == 200, found.json


def _events(reply: bytes) -> list[tuple[str, Any]]:
    found = []
    for block in reply.decode().strip().split("\n\n"):
        kind, data = block.split("\n", 1)
        found.append((kind.removeprefix("event: "), json.loads(data.removeprefix("data: "))))
    return found


def test_long_work_tells_how_far_it_is(server: Server) -> None:
    body = {"sheet": SHEET, "members": 4, "points": 50}
    events = _events(server.post("/api/foresee", body, Accept="text/event-stream").body)
    assert [data for kind, data in events if kind == "progress"][-1] == {"done": 4, "total": 4}
    assert events[-1][0] == "result"
    assert events[-1][1]["members"] == 4
    assert events[-1][1] == server.post("/api/foresee", body).json


def test_bad_input_of_long_work_is_an_event(server: Server) -> None:
    body = {"sheet": {"charge": []}, "members": 4}
    events = _events(server.post("/api/foresee", body, Accept="text/event-stream").body)
    assert events[-1][0] == "error"
    assert events[-1][1]["error"]["field"] == "charge"


def test_closing_stops_the_work(server: Server) -> None:
    body = json.dumps({"sheet": SHEET, "members": 4000}).encode()
    head = (
        f"POST /api/foresee HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\n"
        "Accept: text/event-stream\r\nContent-Type: application/json\r\n"
        f"Content-Length: {len(body)}\r\n\r\n"
    )
    for _ in range(3):  # one more than may run at a time
        with socket.create_connection(("127.0.0.1", server.port), timeout=60) as line:
            line.sendall(head.encode() + body)
            got = b""
            while b"event: progress" not in got:
                piece = line.recv(4096)
                assert piece, got
                got += piece
    start = time.monotonic()
    body_after = {"sheet": SHEET, "members": 2, "points": 10}
    events = _events(server.post("/api/foresee", body_after, Accept="text/event-stream").body)
    assert events[-1][0] == "result"
    assert time.monotonic() - start < 30


def test_many_ask_at_once(server: Server) -> None:
    codes: list[int] = []
    body = {"sheet": SHEET, "points": 40}
    askers = [
        threading.Thread(target=lambda: codes.append(server.post("/api/foresee", body).status))
        for _ in range(12)
    ]
    for asker in askers:
        asker.start()
    for asker in askers:
        asker.join()
    assert codes == [200] * 12


def test_the_picture_that_browsers_ask_for_is_there(server: Server) -> None:
    found = server.get("/favicon.ico")
    assert found.status == 200
    assert found.headers["content-type"].startswith("image/svg+xml")
    assert found.body == server.get("/drop.svg").body
