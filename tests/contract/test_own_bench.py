"""Who came in as a bench sees the runs that it began or joined by their code, and no other."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from contract.lab import Lab, Raw, open_lab
from unit.running.live_machine import TEXT

_WRONG = "333333"


@pytest.fixture
def lab(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Lab]:
    monkeypatch.setenv("FORERUN_DATA", str(tmp_path / "mine"))
    with open_lab(tmp_path, reckons=False) as found:
        yield found


class Student:
    """A browser that came in."""

    def __init__(self, lab: Lab, role: str = "bench") -> None:
        self._lab, self._cookie = lab, lab.cookie(role)

    def get(self, path: str) -> Raw:
        return self._lab.ask("GET", path, Cookie=self._cookie)

    def post(self, path: str, body: Any) -> Raw:
        raw = json.dumps(body).encode()
        return self._lab.ask("POST", path, raw, Cookie=self._cookie, Origin=self._lab.origin)

    def begin(self) -> dict[str, Any]:
        found = self.post("/api/runs", {"sheet": TEXT})
        assert found.status == 201, found.body
        return dict(json.loads(found.body))

    def runs(self, path: str = "/api/runs") -> list[int]:
        return [run["id"] for run in json.loads(self.get(path).body)["runs"]]


def test_two_benches_see_their_own_run_and_not_the_other(lab: Lab) -> None:
    one, other = Student(lab), Student(lab)
    run = one.begin()["id"]
    mine = other.begin()["id"]
    assert (one.runs(), other.runs()) == ([run], [mine])
    assert (one.runs("/api/wall"), other.runs("/api/wall")) == ([run], [mine])
    assert one.get(f"/api/runs/{run}").status == 200
    for path in ("", "/live", "/qr.svg"):
        found = other.get(f"/api/runs/{run}{path}")
        assert found.status == 403, path
        assert json.loads(found.body)["error"]["field"] == "run"
    tap = {"kind": "note", "data": {"text": "not mine"}}
    assert other.post(f"/api/runs/{run}/entries", tap).status == 403
    assert other.post(f"/api/runs/{run}/readings", {"readings": [{"head_C": 9}]}).status == 403
    assert other.post(f"/api/runs/{run}/end", {}).status == 403
    assert json.loads(one.get(f"/api/runs/{run}").body)["readings"] == []


def test_a_run_that_is_not_there_looks_like_that_of_another(lab: Lab) -> None:
    assert Student(lab).get("/api/runs/4711").status == 403
    assert Student(lab, "reader").get("/api/runs/4711").status == 404


def test_the_code_lets_another_device_in(lab: Lab) -> None:
    tablet, phone = Student(lab), Student(lab)
    run = tablet.begin()
    assert phone.get(f"/api/join/{run['code']}").status == 200
    sent = phone.post(f"/api/runs/{run['id']}/readings", {"readings": [{"head_C": 25.0}]})
    assert sent.status == 200
    assert phone.runs() == [run["id"]]


def test_reader_and_instructor_see_every_bench(lab: Lab) -> None:
    runs = [Student(lab).begin()["id"] for _ in range(2)]
    for role in ("reader", "instructor"):
        assert Student(lab, role).runs() == runs
        assert Student(lab, role).runs("/api/wall") == runs
        assert Student(lab, role).get("/api/pooled").status == 200
    assert Student(lab).get("/api/pooled").status == 403
    assert Student(lab).get("/api/pooled.csv").status == 403


def test_codes_cannot_be_guessed_by_trying(lab: Lab) -> None:
    guesser, honest = Student(lab), Student(lab)
    run = honest.begin()
    tried = [guesser.get(f"/api/join/{_WRONG}").status for _ in range(7)]
    assert tried == [404] * 5 + [429] * 2
    refused = guesser.get(f"/api/join/{run['code']}")
    assert refused.status == 429
    assert int(refused.headers["retry-after"]) >= 1
    assert guesser.runs() == []
    assert honest.get(f"/api/join/{run['code']}").status == 200
