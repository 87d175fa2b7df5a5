"""`forerun check` says what is there, and what is missing with the way to put it right."""

from __future__ import annotations

import json
import os
import shutil
import webbrowser
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from forerun.app import check
from forerun.app.cli import main
from forerun.core.provenance import data_files, data_sha256, made_by
from forerun.numerics.cache import mark_complete
from forerun.numerics.loading import machine_digest


def _asked(capsys: pytest.CaptureFixture[str]) -> tuple[int, dict[str, dict[str, str]]]:
    code = main(["check", "--json"])
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    assert found["ready"] is (code == 0)
    return code, {row["name"]: row for row in found["checks"]}


def test_a_whole_installation_is_ready(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("FORERUN_DATA", str(tmp_path / "mine"))
    code, rows = _asked(capsys)
    assert code == 0
    assert {"Python", "data", "page", "kernels", "records", "disk", "browser"} <= set(rows)
    assert data_sha256()[:16] in rows["data"]["found"]


def test_a_folder_that_cannot_be_made_is_missing(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "file").write_text("no folder", "utf-8")
    monkeypatch.setenv("FORERUN_DATA", str(tmp_path / "file" / "mine"))
    code, rows = _asked(capsys)
    assert code == 2
    assert rows["records"]["state"] == "missing"
    assert "FORERUN_DATA" in rows["records"]["advice"]


def test_kernels_that_are_not_there_come_later(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("FORERUN_CACHE", str(tmp_path))
    code, rows = _asked(capsys)
    assert (code, rows["kernels"]["state"]) == (0, "later")


@pytest.mark.parametrize(("whole", "state"), [(True, "ok"), (False, "missing")])
def test_whole_kernels_may_be_closed_to_writing(
    whole: bool,
    state: str,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
) -> None:
    monkeypatch.setenv("FORERUN_CACHE", str(tmp_path))
    if whole:
        mark_complete(machine_digest())
    # as a container has it that is started read-only; root may write anywhere, so it is said
    monkeypatch.setattr(check, "why_not_kept", lambda: "Read-only file system")
    code, rows = _asked(capsys)
    assert (code, rows["kernels"]["state"]) == (0 if whole else 2, state)


def test_a_broken_store_is_named(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("FORERUN_DATA", str(tmp_path))
    (tmp_path / "runs.sqlite").write_bytes(bytes(range(256)) * 20)
    code, rows = _asked(capsys)
    assert code == 2
    assert rows["runs.sqlite"]["state"] == "missing"


def test_the_data_have_a_checksum_that_does_not_depend_on_the_machine() -> None:
    assert len(data_files()) > 20
    assert len(data_sha256()) == 64
    assert {"forerun", "python", "numpy", "machine", "data_sha256"} <= set(made_by())


def test_a_full_disk_is_missing_room(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    for free, state in ((199_000_000, "missing"), (201_000_000, "ok")):
        monkeypatch.setattr(
            shutil, "disk_usage", lambda _path, free=free: SimpleNamespace(free=free)
        )
        code, rows = _asked(capsys)
        assert rows["disk"]["state"] == state
        assert (code == 0) == (state == "ok")
    monkeypatch.setattr(shutil, "disk_usage", lambda _path: SimpleNamespace(free=1_000))
    assert "at least 0.2 GB" in _asked(capsys)[1]["disk"]["advice"]


def test_without_a_browser_the_rest_goes_on(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def none() -> None:
        raise webbrowser.Error("could not locate runnable browser")

    monkeypatch.setattr(webbrowser, "get", none)
    code, rows = _asked(capsys)
    assert (code, rows["browser"]["state"]) == (0, "later")
    assert "only the page needs one" in rows["browser"]["advice"]
    monkeypatch.setattr(webbrowser, "get", lambda: SimpleNamespace(name="/usr/bin/a-browser"))
    assert _asked(capsys)[1]["browser"] == {
        "name": "browser",
        "state": "ok",
        "found": "a-browser",
        "advice": "",
    }


def test_a_port_that_is_not_ours_to_open_names_its_group(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    port = tmp_path / "ttyUSB0"
    port.write_text("", "utf-8")
    monkeypatch.setattr(check, "_SERIAL", ("ttyUSB*",))
    monkeypatch.setattr(check, "_DEVICES", tmp_path)
    assert _asked(capsys)[1]["instruments"]["state"] == "ok"
    monkeypatch.setattr(os, "access", lambda path, _mode: path != port)
    code, rows = _asked(capsys)
    assert (code, rows["instruments"]["state"]) == (0, "later")
    assert str(port) in rows["instruments"]["advice"]
    assert "dialout" in rows["instruments"]["advice"]
    port.unlink()
    assert _asked(capsys)[1]["instruments"]["found"] == "no serial port in sight"
