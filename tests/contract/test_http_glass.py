"""One's own glass over HTTP: the same objects as the commands, kept once, refused in a sentence."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from forerun.app.reproduce import reproduce
from journeys.command import forerun
from journeys.own_glass import NAME, SHEET, calibration_files, keep_two_states
from journeys.served import Server


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    folder = tmp_path_factory.mktemp("glass")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("FORERUN_DATA", str(folder))
        keep_two_states(folder)
        found = Server()
        yield found
        assert "Traceback" not in found.close()


def test_the_list_is_that_of_the_command(server: Server) -> None:
    found = server.get("/api/passports").json
    assert found == json.loads(forerun("passport", "--json").out)
    row = found["passports"][0]
    assert (row["passport"], row["runs"], row["column"]) == (NAME, 2, "Vigreux 30 cm")
    plates = row["known"]["plates"]
    assert plates["low"] < plates["value"] < plates["high"]
    assert "made_by" in found


def test_one_is_that_of_the_command_with_its_drawing(server: Server) -> None:
    found = server.post("/api/passports/open", {"passport": NAME}).json
    told = json.loads(forerun("passport", NAME, "--json").out)
    assert {key: found[key] for key in told} == told
    assert len(found["states"]) == len(found["kept_utc_s"]) == 2
    assert found["shown"]["drawing"].startswith("<svg")
    assert [row[0] for row in found["shown"]["rows"]] == ["run 1", "run 2"]
    assert {len(row) for row in found["shown"]["rows"]} == {len(found["shown"]["head"])}


BAD: list[tuple[str, dict[str, Any], str]] = [
    ("passports/open", {}, "passport"),
    ("passports/open", {"passport": "nobody's"}, "passport"),
    ("passports/open", {"passport": NAME, "all": True}, "all"),
    ("calibrate", {"sheet": {**SHEET, "rig": {"column": "none"}}}, "rig.column"),
    ("calibrate", {"sheet": SHEET, "members": 3}, "members"),
    ("review/keep", {"sheet": SHEET}, "readings"),
    ("review/keep", {"sheet": SHEET, "readings": "time_min,head_C\n0,20\n", "keep": 1}, "keep"),
]


@pytest.mark.parametrize(("path", "body", "field"), BAD, ids=[f"{p} {f}" for p, _, f in BAD])
def test_what_cannot_be_done_is_said(
    server: Server, path: str, body: dict[str, Any], field: str
) -> None:
    found = server.post(f"/api/{path}", body)
    assert found.status == 422, found.json
    assert found.json["error"]["field"] == field


def test_a_calibration_is_that_of_the_command_and_comes_out_again(
    server: Server, tmp_path: Path
) -> None:
    found = server.post("/api/calibrate", {"sheet": SHEET}).json
    (tmp_path / "sheet.toml").write_text(found["asked"]["sheet"], "utf-8")
    told = json.loads(forerun("calibrate", str(tmp_path / "sheet.toml"), "--json").out)
    assert {key: found[key] for key in told} == told
    assert found["passport"] == NAME
    sheet = found["shown"]["sheet"]
    assert sheet["programme"]["reflux_ratio"] == "total"
    assert sheet["programme"]["keep"].keys() == {"above_pot"}
    (tmp_path / "saved.json").write_text(json.dumps(found), "utf-8")
    again = reproduce(tmp_path / "saved.json")
    assert again.same


def test_a_calibration_tells_how_far_it_is(server: Server) -> None:
    told = server.post("/api/calibrate", {"sheet": SHEET}, Accept="text/event-stream").body
    kinds = [line for line in told.decode().split("\n") if line.startswith("event: ")]
    assert kinds.count("event: progress") == 3
    assert kinds[-1] == "event: result"


def test_a_run_that_is_kept_teaches_its_column_once(server: Server) -> None:
    guide = server.post("/api/calibrate", {"sheet": SHEET}).json
    log, samples = calibration_files(guide)
    body = {"sheet": guide["sheet"], "readings": log, "assays": samples, "fit": False}
    before = server.get("/api/passports").json["passports"][0]
    assert server.post("/api/review", body).status == 200
    assert server.get("/api/passports").json["passports"][0] == before, "a look keeps nothing"
    found = server.post("/api/review/keep", body).json
    assert found["standing"].startswith("Kept as run ")
    after = server.get("/api/passports").json["passports"][0]
    assert after == found["shown"]["passport"]
    assert after["runs"] == before["runs"] + 1
    assert after["known"]["plates"] != before["known"]["plates"]
    again = server.post("/api/review/keep", body)
    assert again.status == 422
    assert "count twice" in again.json["error"]["message"]
    assert server.get("/api/passports").json["passports"][0] == after


def test_the_description_names_every_path(server: Server) -> None:
    paths = server.get("/api/openapi.json").json["paths"]
    wanted = {"/api/passports", "/api/passports/open", "/api/calibrate", "/api/review/keep"}
    assert wanted <= set(paths)
    answer = paths["/api/calibrate"]["post"]["responses"]["200"]["content"]
    assert "text/event-stream" in answer
