"""Hidden runs over HTTP: the same marks as the command gives, and nothing that gives away."""

from __future__ import annotations

import base64
import io
import json
import re
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from contract.lab import Lab, open_lab
from forerun.app.class_kept import KeptClasses
from forerun.app.cli import main
from forerun.app.web.hidden import HIDDEN
from forerun.app.web.rights import RIGHTS
from forerun.sheets.examples import example

_SECRET = "chalk and cheese"
_FAULTS = ["none", "heater_fault", "heater_cycling"]
_UNKNOWNS = ["toluene", "ethylbenzene"]
_SHEET = example("class-pair")


def _made(folder: Path, monkeypatch: pytest.MonkeyPatch, **more: Any) -> dict[str, Any]:
    monkeypatch.setenv("FORERUN_DATA", str(folder))
    body = {"sheet": _SHEET, "students": "3", "faults": _FAULTS, "secret": _SECRET, **more}
    return _ask("make", **body)


def _ask(act: str, **body: Any) -> dict[str, Any]:
    return HIDDEN[f"hidden/{act}"].ask(body, None)


@pytest.fixture
def made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """A class of three."""
    return _made(tmp_path, monkeypatch)


def _tickets(made: dict[str, Any]) -> list[str]:
    return [one["ticket"] for one in made["students"]]


def _unpacked(made: dict[str, Any], where: Path) -> Path:
    packed = _ask("folder", **{"class": made["class"]})
    with zipfile.ZipFile(io.BytesIO(base64.b64decode(packed["base64"]))) as archive:
        archive.extractall(where)
    return where / made["class"]


def test_marks_are_those_of_the_command_on_the_same_files(
    made: dict[str, Any], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first, second, _ = _tickets(made)
    said = {"start": "0 mL", "end": "90 °C", "fault": "none", "share": "50 mol%", "why": 'a "b" ü'}
    _ask("hand-in", ticket=first, answer=said)
    planned = _SHEET.replace("reflux_ratio = 3", "reflux_ratio = 1")
    assert planned != _SHEET
    driven = _ask("run", ticket=second, sheet=planned)["readings"]
    assert driven != _ask("open", ticket=second)["readings"]
    _ask("hand-in", ticket=second, answer={"start": "1 mL", "end": "20 mL"}, sheet=planned)
    assert _ask("open", ticket=second)["readings"] == driven
    found = _ask("marks", **{"class": made["class"], "weights": {"data": 1, "purity": 2.5}})
    assert [one["parts"]["data"] for one in found["marks"]] == [1.0, 1.0]
    assert set(found["unmarked"]) == {"S03"}
    place = _unpacked(made, tmp_path / "unpacked")
    capsys.readouterr()
    assert main(["mark", str(place / "key.toml"), str(place / "handed-in"), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["marks"] == found["marks"]
    assert told["weights"] == found["weights"]
    assert told["marks"][0]["why"] == 'a "b" ü'


def test_the_same_words_deal_the_same_runs_as_the_command(
    made: dict[str, Any], tmp_path: Path
) -> None:
    out = tmp_path / "by-command"
    words = ["hide", "class-pair", "--out", str(out), "--students", "3", "--secret", _SECRET]
    assert main([*words, "--faults", ",".join(_FAULTS)]) == 0
    for number, ticket in enumerate(_tickets(made), 1):
        log = (out / "students" / f"S{number:02d}" / "log.csv").read_bytes().decode()
        assert _ask("open", ticket=ticket)["readings"] == log
        # driven by the sheet as it was handed out, the same run once more
        sheet = _ask("open", ticket=ticket)["sheet"]
        assert _ask("run", ticket=ticket, sheet=sheet)["readings"] == log
    assert (out / "key.toml").read_bytes() == (
        _unpacked(made, tmp_path / "unpacked") / "key.toml"
    ).read_bytes()


def _seen(ticket: str) -> dict[str, Any]:
    """Return what a student is sent, without the log and their own code."""
    opened = _ask("open", ticket=ticket)
    handed = _ask("hand-in", ticket=ticket, answer={"start": "0 mL", "end": "9 mL"})
    again = _ask("open", ticket=ticket)
    code = opened["code"]
    for one in (opened, again):
        assert one.pop("readings").startswith("time_s,")
        one.pop("handed_in_utc_s")
    text = json.dumps([opened, handed, again])
    return json.loads(text.replace(code, "S"))


def test_students_are_sent_the_same_but_for_the_log_whatever_is_hidden(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = _made(tmp_path, monkeypatch, students="6", unknowns=_UNKNOWNS)
    hidden = {one["hidden"].partition(" ")[2] for one in made["students"]}
    assert len(hidden) > 1  # so that there is something to tell apart
    seen = [json.dumps(_seen(ticket), sort_keys=True) for ticket in _tickets(made)]
    assert len(set(seen)) == 1
    assert _SECRET not in seen[0]
    for mark in ("hidden", "secret", "best", "mole_fraction", "told"):
        assert f'"{mark}"' not in seen[0]


@pytest.mark.parametrize(
    "programme",
    [
        {"bath": "30 °C", "stop": {"time": "20 min"}},
        {"bath": "400 °C"},
        {"pressure": "2 mbar"},
        {"bath": [["0 min", "25 °C"], ["1 min", "-90 °C"]]},
    ],
)
def test_a_plan_that_cannot_be_driven_gives_nothing_away(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, programme: dict[str, Any]
) -> None:
    from forerun.core.errors import BadInput, NotCovered  # noqa: PLC0415 -- beside its use

    made = _made(tmp_path, monkeypatch, unknowns=["p-xylene", "ethylbenzene"])
    said = set()
    for one in made["students"]:
        sheet = _ask("open", ticket=one["ticket"])["sheet"]
        sheet["programme"] = programme
        try:
            found = _ask("run", ticket=one["ticket"], sheet=sheet)
            assert set(found) == {"readings"}
            assert "xylene" not in found["readings"]
        except (BadInput, NotCovered) as problem:
            said.add(str(problem))
    assert len(said) < 2
    assert not any(name in text for text in said for name in ("xylene", "ethylbenzene"))


def test_what_goes_wrong_within_a_hidden_run_is_told_in_the_same_words(
    made: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    from forerun.core.errors import BadInput, CalculationFailed, NotCovered  # noqa: PLC0415

    told = set()
    for problem in (
        BadInput("charge", "ethylbenzene", "anything else"),
        NotCovered("ethylbenzene", "68 mol% of it", "another"),
        CalculationFailed("the run", "ethylbenzene boils over", "another"),
    ):

        def failing(*_words: object, _problem: Exception = problem) -> None:
            raise _problem

        monkeypatch.setattr("forerun.app.hide.dealt_of", failing)
        with pytest.raises(BadInput) as caught:
            _ask("run", ticket=_tickets(made)[0], sheet=_SHEET)
        assert caught.value.__cause__ is None
        told.add(str(caught.value))
    assert len(told) == 1
    assert "ethylbenzene" not in told.pop()


def test_marks_are_seen_once_given_and_end_the_handing_in(made: dict[str, Any]) -> None:
    first, second, third = _tickets(made)
    name = made["class"]
    answer = {"start": "0 mL", "end": "20 mL"}
    with pytest.raises(Exception, match="somebody has handed something in"):
        _ask("give", **{"class": name, "given": True})
    for ticket in (first, second):
        _ask("hand-in", ticket=ticket, answer=answer)
    found = _ask("marks", **{"class": name})
    assert _ask("open", ticket=first)["marks"] is None  # marked is not yet given
    _ask("give", **{"class": name, "given": True})
    mine = _ask("open", ticket=first)
    assert mine["given"] is True
    assert mine["marks"]["total"] == found["marks"][0]["total"]
    assert "Hidden was" in mine["marks"]["reasons"]["reasoning"]
    assert "S02" not in json.dumps(mine)
    assert "total" not in (_ask("open", ticket=third)["marks"] or {})
    with pytest.raises(Exception, match="marks are not given yet"):
        _ask("hand-in", ticket=first, answer=answer)
    _ask("give", **{"class": name, "given": False})
    assert _ask("open", ticket=first)["marks"] is None
    with pytest.raises(Exception, match="were not seen before"):  # who knows, hands nothing in
        _ask("hand-in", ticket=first, answer=answer)
    _ask("hand-in", ticket=second, answer=answer)  # has not looked


def test_a_class_that_cannot_be_read_is_said(made: dict[str, Any], tmp_path: Path) -> None:
    (tmp_path / "classes" / made["class"] / "class.json").write_text("{", "utf-8")
    with pytest.raises(Exception, match="mend its folder or move it away"):
        _ask("open", ticket=_tickets(made)[0])


def test_a_class_is_listed_and_erased_for_good(made: dict[str, Any], tmp_path: Path) -> None:
    (one,) = KeptClasses().listed()
    assert (one.name, len(one.tickets)) == (made["class"], 3)
    assert one.folder.stat().st_mode & 0o077 == 0
    with pytest.raises(Exception, match="nothing brings the class back"):
        _ask("erase", **{"class": one.name, "sure": False})
    ticket = _tickets(made)[0]
    assert _ask("open", ticket=ticket.lower().replace("-", " "))["code"] == "S01"
    _ask("erase", **{"class": one.name, "sure": True})
    assert list((tmp_path / "classes").iterdir()) == []
    with pytest.raises(Exception, match="slip"):
        _ask("open", ticket=ticket)


def test_tickets_tell_nothing_of_the_words(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    one, two = (_made(tmp_path, monkeypatch, students="2") for _ in range(2))
    assert not set(_tickets(one)) & set(_tickets(two))
    packed = base64.b64decode(_ask("slips", **{"class": one["class"]})["base64"])
    assert packed.startswith(b"%PDF")
    assert _SECRET.encode() not in packed


@pytest.mark.parametrize(
    ("act", "changed", "field"),
    [
        ("make", {"students": "many"}, "students"),
        ("make", {"students": "0"}, "students"),
        ("make", {"share": "a-b"}, "share"),
        ("make", {"share": "70-30"}, "share"),
        ("make", {"faults": ["flood"]}, "faults"),
        ("make", {"faults": []}, "faults"),
        ("make", {"faults": "none"}, "faults"),
        ("make", {"unknowns": ["cyclohexane"]}, "unknowns"),
        ("make", {"unknowns": ["no such thing"]}, "unknowns"),
        ("make", {"secret": "chalk"}, "secret"),
        ("make", {"weights": {"data": -1}}, "weights"),
        ("make", {"luck": 1}, "luck"),
        ("class", {"class": "../.."}, "class"),
        ("class", {"class": "BCDFGH"}, "class"),
        ("marks", {"weights": {"luck": 1}}, "weights.luck"),
        ("open", {"ticket": "S01"}, "ticket"),
        ("open", {"ticket": "S99-BCD-FGH-JKL"}, "ticket"),
        ("run", {"sheet": {"charge": []}}, "charge"),
        ("hand-in", {"answer": None}, "answer"),
        ("hand-in", {"answer": {"start": "2 mL", "end": "lots"}}, "answer: end"),
        ("hand-in", {"answer": {"start": "-2 mL", "end": "9 mL"}}, "answer: start"),
        ("hand-in", {"answer": {"start": "2 mL", "end": "9 mL", "share": "9 g"}}, "answer: share"),
        ("hand-in", {"answer": {"start": "2 mL", "end": "9 mL", "fault": "luck"}}, "answer: fault"),
        ("hand-in", {"answer": {"start": "2 mL", "end": "9 mL", "why": 3}}, "answer: why"),
        ("hand-in", {"answer": {"start": "2 mL", "end": "9 mL", "mark": "9"}}, "answer: mark"),
        ("hand-in", {"readings": "no log"}, "readings"),
        ("hand-in", {"readings": 7}, "readings"),
    ],
)
def test_what_cannot_be_used_is_told_with_its_field(
    made: dict[str, Any], act: str, changed: dict[str, Any], field: str
) -> None:
    from forerun.app.web.failures import error_object, status_of  # noqa: PLC0415

    usual: dict[str, dict[str, Any]] = {
        "make": {"sheet": _SHEET, "students": "2", "faults": ["none"]},
        "class": {},
        "marks": {"class": made["class"]},
        "open": {},
        "run": {"ticket": _tickets(made)[0]},
        "hand-in": {"ticket": _tickets(made)[0], "answer": {"start": "0 mL", "end": "9 mL"}},
    }
    before = len(KeptClasses().listed())
    with pytest.raises(Exception, match="cannot be used") as caught:
        _ask(act, **{**usual[act], **changed})
    assert status_of(caught.value) == 422
    assert error_object(caught.value)["error"]["field"] == field
    assert len(KeptClasses().listed()) == before  # nothing half made stays behind


@pytest.fixture
def lab(tmp_path: Path, made: dict[str, Any]) -> Iterator[Lab]:
    assert made
    with open_lab(tmp_path / "lab", reckons=False) as found:
        yield found


def _posted(lab: Lab, role: str, path: str, body: dict[str, Any]) -> tuple[int, Any]:
    cookie = lab.cookie(role)
    raw = json.dumps(body).encode()
    found = lab.ask("POST", path, raw, Cookie=cookie, Origin=lab.origin)
    return found.status, json.loads(found.body)


def test_a_bench_gets_in_by_its_ticket_and_to_nothing_of_the_instructor(
    lab: Lab, made: dict[str, Any]
) -> None:
    ticket, of = _tickets(made)[0], {"class": made["class"]}
    status, found = _posted(lab, "bench", "/api/hidden/open", {"ticket": ticket})
    assert (status, found["code"]) == (200, "S01")
    assert _posted(lab, "reader", "/api/hidden/open", {"ticket": ticket})[0] == 403
    theirs = [path for path in RIGHTS if "/api/hidden" in path]
    mine = {f"POST /api/hidden/{act}" for act in ("open", "run", "hand-in")}
    assert len(theirs) > len(mine)
    for path in set(theirs) - mine:
        method, _, address = path.partition(" ")
        found = lab.ask(
            method, address, json.dumps(of).encode() if method == "POST" else b"",
            Cookie=lab.cookie("bench"), Origin=lab.origin,
        )  # fmt: skip
        assert found.status == 403, path
        assert _SECRET not in found.body
    assert _posted(lab, "instructor", "/api/hidden/class", of)[0] == 200


def test_no_address_that_a_bench_may_read_holds_anything_of_a_class(
    lab: Lab, made: dict[str, Any]
) -> None:
    cookie = lab.cookie("bench")
    told = [_SECRET, made["class"], *_tickets(made)]
    addresses = [path.removeprefix("GET ") for path in RIGHTS if path.startswith("GET ")]
    filled = [re.sub(r"\{[^}]*\}", "1", one) for one in addresses]
    files = [f"/classes/{made['class']}/{name}" for name in ("key.toml", "class.json")]
    files += [f"/parts/../../classes/{made['class']}/key.toml", "/classes"]
    for address in [*filled, *files]:
        if address.endswith("/live"):
            continue  # a stream, of live runs alone
        found = lab.ask("GET", address, Cookie=cookie)
        assert not any(word in found.body for word in told if word not in address), address


def test_every_path_is_described(lab: Lab) -> None:
    found = lab.ask("GET", "/api/openapi.json", Cookie=lab.cookie("reader"))
    paths = json.loads(found.body)["paths"]
    for question in HIDDEN.values():
        post = paths[f"/api/{question.name}"]["post"]
        schema = post["requestBody"]["content"]["application/json"]["schema"]
        assert set(schema["properties"]) == set(question.takes)
        assert "forerun hidden" not in post["responses"]["200"]["description"]
    assert "get" in paths["/api/hidden"]
