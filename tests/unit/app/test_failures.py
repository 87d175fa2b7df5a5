"""Whatever goes wrong becomes one sentence and an exit code."""

from __future__ import annotations

import json

import click
import pytest

from forerun.app.cli import main
from forerun.app.failures import reported
from forerun.core.errors import BadInput, CalculationFailed, NotCovered


@pytest.mark.parametrize(
    ("problem", "code", "words"),
    [
        (BadInput("rig.flask", "5", "a volume"), 2, 'rig.flask: "5"'),
        (NotCovered("polymers", "no constants", "Weigh them."), 2, "not covered"),
        (CalculationFailed("the run", "at 5 s", "Smoother."), 1, "did not finish"),
        (ZeroDivisionError("division by zero\nand more"), 1, "ZeroDivisionError"),
        (KeyboardInterrupt(), 130, "stopped"),
        (click.UsageError("No such thing."), 2, "no such thing"),
    ],
)
def test_one_sentence(
    problem: BaseException, code: int, words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert reported(problem, []) == code
    seen = capsys.readouterr()
    assert seen.out == ""
    assert words in seen.err
    assert seen.err.count("\n") == 1


def test_json_gets_an_object_too(capsys: pytest.CaptureFixture[str]) -> None:
    reported(BadInput("rig.flask", "5", "a volume"), ["foresee", "--json"])
    error = json.loads(capsys.readouterr().out)["error"]
    assert (error["field"], error["value"], error["accepted"]) == ("rig.flask", "5", "a volume")


def test_debugging_shows_where(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FORERUN_DEBUG", "1")
    with pytest.raises(BadInput):
        main(["look", "unobtainium"])


def test_help_is_done(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--help"]) == 0
    assert "foresee" in capsys.readouterr().out
