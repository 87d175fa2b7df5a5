"""Class material over HTTP: the page of the folder, under a policy that lets nothing else run."""

from __future__ import annotations

import io
import re
import time
import urllib.request
import zipfile
from collections.abc import Iterator

import pytest

from forerun.app.lesson import FILES, lesson
from forerun.app.web.lessons import LessonDesk
from forerun.app.web.streams import StoppedByReader
from forerun.core.errors import BadInput
from forerun.sheets.topics import topics
from journeys.served import Server

NAME = "close-together"
SHEET = {
    "title": "two of our own",
    "charge": [
        {"substance": "pentane", "amount": "20 mL"},
        {"substance": "octane", "amount": "20 mL"},
    ],
}


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    found = Server()
    yield found
    said = found.close()
    assert "Traceback" not in said, said


def test_every_ready_topic_is_listed_with_what_it_corrects(server: Server) -> None:
    rows = server.get("/api/lessons").json["lessons"]
    assert [row["name"] for row in rows] == list(topics())
    assert all(row["title"] and row["aim"] and row["misconception"] for row in rows)


def test_the_page_is_that_of_the_folder(server: Server) -> None:
    found = server.get(f"/lesson/{NAME}")
    assert found.status == 200
    assert found.body.decode() == lesson(NAME).page()
    policy = found.headers["content-security-policy"]
    meta = re.search(r'Content-Security-Policy" content="([^"]+)"', found.body.decode())
    assert meta is not None
    assert policy == f"{meta[1]}; frame-ancestors 'none'"
    assert "unsafe" not in policy


def test_a_sheet_of_ones_own_is_reckoned_and_its_papers_can_be_had(server: Server) -> None:
    told = server.post("/api/lesson", {"sheet": SHEET}).json
    assert told["finding"]
    assert told["made_by"]
    assert SHEET["title"] in server.get(told["page"]).body.decode()
    for paper in ("handout", "key"):
        assert server.get(told[paper]).body.startswith(b"%PDF")
    with zipfile.ZipFile(io.BytesIO(server.get(told["folder"]).body)) as packed:
        assert packed.namelist() == [f"{told['name']}/{file}" for file in FILES]
        assert packed.read(f"{told['name']}/page.html") == server.get(told["page"]).body


def test_it_tells_how_far_it_is(server: Server) -> None:
    request = urllib.request.Request(
        f"{server.address}/api/lesson",
        b'{"topic": "altitude"}',
        {"Content-Type": "application/json", "Accept": "text/event-stream"},
    )
    with urllib.request.urlopen(request, timeout=120) as reply:
        told = reply.read().decode()
    assert told.count("event: progress") >= 5
    assert '"/lesson/altitude"' in told.rpartition("event: result")[2]


@pytest.mark.parametrize("name", list(topics()))
def test_every_ready_lesson_is_made_with_all_its_papers(server: Server, name: str) -> None:
    told = server.post("/api/lesson", {"topic": name}).json
    assert told["finding"]
    for file, begin in (("page", b"<!doctype html>"), ("handout", b"%PDF"), ("key", b"%PDF")):
        found = server.get(told[file])
        assert found.status == 200
        assert found.body.lower().startswith(begin.lower())


def test_papers_are_for_the_benches_and_the_time_of_the_class(server: Server) -> None:
    plain = server.get(f"/lesson/{NAME}/key.pdf").body
    many = server.get(f"/lesson/{NAME}/key.pdf?benches=24&length=45%20min")
    assert many.status == 200
    assert many.body != plain
    begun = time.perf_counter()
    assert server.get(f"/lesson/{NAME}/key.pdf?benches=24&length=45%20min").body == many.body
    assert time.perf_counter() - begun < 0.5  # set once, then kept
    for asked in ("benches=0", "benches=x", "benches=201", "benches=12345", "length=3%20mL"):
        _refused(server, f"/lesson/{NAME}/key.pdf?{asked}", 422, asked.partition("=")[0])
    _refused(server, f"/lesson/{NAME}/folder.zip?length=0%20min", 422, "length")
    _refused(server, "/lesson/no-such-lesson/key.pdf?benches=12", 404, "lesson")


def _refused(server: Server, path: str, status: int, field: str) -> None:
    found = server.get(path)
    assert found.status == status
    assert found.json["error"]["field"] == field
    assert "cannot be used; accepted: " in found.json["error"]["message"]


def test_whoever_has_gone_ends_the_work() -> None:
    desk, seen = LessonDesk(), []

    def gone(done: int, total: int) -> None:
        seen.append((done, total))
        raise StoppedByReader

    with pytest.raises(StoppedByReader):
        desk.reckon({"topic": NAME}, gone)
    assert len(seen) == 1
    assert not any(row["reckoned"] for row in desk.listed()["lessons"])


@pytest.mark.parametrize("body", [{"topic": "rocks"}, {"topic": NAME, "paper": "a4"}, {"sheet": 5}])
def test_what_is_no_lesson_is_422(server: Server, body: dict[str, object]) -> None:
    found = server.post("/api/lesson", body)
    assert found.status == 422
    assert set(found.json["error"]) == {"field", "value", "accepted", "message"}


def test_an_address_of_no_lesson_is_404(server: Server) -> None:
    found = server.get("/lesson/sheet-0123456789abcdef")
    assert found.status == 404
    assert found.json["error"]["field"] == "lesson"


def test_what_was_not_asked_for_longest_goes_first(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("forerun.app.web.lessons._KEPT", 1)
    desk = LessonDesk()
    first = desk.reckon({"sheet": {**SHEET, "title": "first"}})["name"]
    desk.reckon({"sheet": {**SHEET, "title": "second"}})
    with pytest.raises(BadInput):
        desk.page(first)
