"""The sheets that a user keeps, over HTTP; a search of the drawer tells how far it is."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest

from journeys.served import Server, served_in


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    with served_in(tmp_path_factory.mktemp("mine")) as found:
        yield found


SHEET = {"title": "<img src=x onerror=alert(1)>", "charge": [{"substance": "", "amount": "60"}]}


def test_a_sheet_is_saved_copied_deleted_and_had_back(server: Server) -> None:
    number = server.post("/api/kept/save", {"name": "one", "sheet": SHEET}).json["number"]
    assert server.post("/api/kept/open", {"number": number}).json["sheet"] == SHEET
    copy = server.post("/api/kept/duplicate", {"number": number}).json["number"]
    server.post("/api/kept/delete", {"number": number})
    listed = server.get("/api/kept").json["sheets"]
    assert [(row["number"], row["name"]) for row in listed] == [(copy, "one (copy)")]
    assert server.post("/api/kept/open", {"number": number}).status == 422
    assert server.post("/api/kept/restore", {"number": number}).status == 200
    assert len(server.get("/api/kept").json["sheets"]) == 2


BAD: list[tuple[str, dict[str, Any], str]] = [
    ("save", {"name": "", "sheet": SHEET}, "name"),
    ("save", {"name": "one", "sheet": "text"}, "sheet"),
    ("save", {"name": "one", "sheet": SHEET, "number": 99}, "number"),
    ("open", {}, "number"),
    ("open", {"number": True}, "number"),
    ("open", {"number": 2**70}, "number"),
    ("delete", {"number": 77}, "number"),
    ("restore", {"number": 77, "all": True}, "all"),
]


@pytest.mark.parametrize(("act", "body", "field"), BAD, ids=[f"{a} {f}" for a, _, f in BAD])
def test_what_cannot_be_done_is_said(
    server: Server, act: str, body: dict[str, Any], field: str
) -> None:
    found = server.post(f"/api/kept/{act}", body)
    assert found.status == 422
    assert found.json["error"]["field"] == field


def test_another_page_cannot_reach_them(server: Server) -> None:
    headers = {"Origin": "http://evil.example"}
    assert server.post("/api/kept/delete", {"number": 1}, **headers).status == 403


def test_the_openapi_description_names_every_act(server: Server) -> None:
    paths = server.get("/api/openapi.json").json["paths"]
    acts = {"save", "open", "duplicate", "delete", "restore"}
    assert {f"/api/kept/{act}" for act in acts} <= set(paths)


def test_a_search_of_the_drawer_tells_how_far_it_is(server: Server) -> None:
    sheet = {
        "charge": [
            {"substance": "acetone", "amount": "30 mL"},
            {"substance": "toluene", "amount": "30 mL"},
        ],
        "aim": {"substance": "acetone", "purity": "90 mol%", "recovery": "50 %"},
    }
    body = {"sheet": sheet, "members": 2}
    told = server.post("/api/advise", body, Accept="text/event-stream").body.decode()
    events = [block.split("\n") for block in told.strip().split("\n\n")]
    assert events[-1][0] == "event: result"
    steps = [json.loads(lines[1][6:]) for lines in events if lines[0] == "event: progress"]
    assert len(steps) >= 2
    assert all(0 <= step["done"] < step["total"] for step in steps)
    assert [step["done"] for step in steps] == sorted(step["done"] for step in steps)
