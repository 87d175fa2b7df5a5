"""Real runs marked over HTTP: the same marks as the command gives, errors told by bench."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from forerun.app.cli import main
from forerun.running.simulated import simulated_log
from forerun.sheets.resolving import load
from journeys.served import Server
from unit.app.test_mark_runs import _assays, _bench

TOML = Path(str(load.__globals__["__file__"])).parent / "examples" / "class-pair.toml"


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    found = Server()
    yield found
    said = found.close()
    assert "Traceback" not in said, said


@pytest.fixture(scope="module")
def ran(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three benches: one whole, one without assays, one with an answer that is none."""
    place = tmp_path_factory.mktemp("ran")
    made = simulated_log(load("class-pair"), 31)
    assays = _assays(made)
    _bench(place / "B01", made.readings, assays)
    _bench(place / "B02", made.readings, assays)
    (place / "B02" / "assays.csv").unlink()
    _bench(place / "B03", made.readings, assays, 'purity = "90 wt%"')
    return place


def _sent(place: Path) -> list[dict[str, str]]:
    kinds = {"readings": "log.csv", "assays": "assays.csv", "answer": "answer.toml"}
    return [
        {"code": bench.name}
        | {
            kind: (bench / name).read_text("utf-8")
            for kind, name in kinds.items()
            if (bench / name).is_file()
        }
        for bench in sorted(place.iterdir())
    ]


def test_marks_are_those_of_the_command(
    server: Server, ran: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    capsys.readouterr()
    assert main(["mark-runs", "class-pair", str(ran), "--json"]) == 0
    told: dict[str, Any] = json.loads(capsys.readouterr().out)
    body = {"sheet": TOML.read_text("utf-8"), "benches": _sent(ran)}
    found = server.post("/api/mark-runs", body)
    assert found.status == 200, found.json
    assert found.json["marks"] == told["marks"]
    assert found.json["unmarked"] == told["unmarked"]
    assert set(found.json["unmarked"]) == {"B02", "B03"}
    assert "B02/assays.csv" in found.json["unmarked"]["B02"]
    assert found.json["shown"]["table"].startswith("student,total,data")
    assert "of 100" in found.json["shown"]["feedback"]["B01"]
    weighed = server.post("/api/mark-runs", {**body, "weights": {"purity": 1}}).json["marks"]
    assert weighed[0]["total"] == pytest.approx(100.0 * weighed[0]["parts"]["purity"])


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"weights": {"data": -1}}, "weights"),
        ({"weights": {"luck": 1}}, "weights"),
        ({"benches": []}, "benches"),
        ({"benches": [{"code": "Mary Miller", "readings": ""}]}, "benches[1].code"),
        ({"benches": [{"code": "B07"}]}, "benches[1].readings"),
        ({"benches": [{"code": "B07", "readings": "x"}] * 2}, "benches"),
    ],
)
def test_what_cannot_be_used_is_told_with_its_field(
    server: Server, changed: dict[str, Any], field: str
) -> None:
    body = {"sheet": TOML.read_text("utf-8"), "benches": [{"code": "B07", "readings": "x"}]}
    found = server.post("/api/mark-runs", {**body, **changed})
    assert found.status == 422
    assert found.json["error"]["field"].startswith(field)
