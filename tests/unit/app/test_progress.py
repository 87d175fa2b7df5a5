"""Progress keeps quiet for a moment, then speaks on stderr only."""

from __future__ import annotations

import pytest

from forerun.app import progress as module
from forerun.app.progress import Progress


def test_short_work_says_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    with Progress("boiling") as told:
        for done in range(5):
            told(done, 5)
    seen = capsys.readouterr()
    assert (seen.out, seen.err) == ("", "")


def test_long_work_in_a_log_is_announced_once(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "_PATIENCE", 0.0)
    with Progress("boiling") as told:
        for done in range(5):
            told(done, 5)
    seen = capsys.readouterr()
    assert seen.out == ""
    assert seen.err == "boiling: 5 parts\n"


def test_long_work_on_a_terminal_shows_a_bar(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "_PATIENCE", 0.0)
    monkeypatch.setattr("sys.stderr.isatty", lambda: True)
    with Progress("boiling") as told:
        told(2, 5)
        bar = told._bar
        assert bar is not None
        assert (bar.tasks[0].completed, bar.tasks[0].total) == (2, 5)
    assert not bar.live.is_started
