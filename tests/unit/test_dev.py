"""The set-up script: what it installs with, when it does nothing, how it refuses."""

from __future__ import annotations

import importlib.util
import json
import sys
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def dev(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    spec = importlib.util.spec_from_file_location("dev_script", ROOT / "dev.py")
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    venv = tmp_path / ".venv"
    venv.mkdir()
    monkeypatch.setattr(module, "VENV", venv)
    monkeypatch.setattr(module, "PYTHON", Path(sys.executable))
    monkeypatch.setattr(module, "STAMP", venv / "forerun-setup.json")
    return module


def test_only_the_standard_library_is_imported(dev: ModuleType) -> None:
    imported = {name for name, value in vars(dev).items() if isinstance(value, ModuleType)}
    assert imported
    assert imported <= set(sys.stdlib_module_names)


def test_without_uv_and_pip_one_sentence_says_what_to_do(
    dev: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(dev, "installers", list)
    assert dev.main(["setup"]) == 1
    said = capsys.readouterr().out.strip()
    assert said.startswith("dev.py: Neither uv nor pip")
    assert "apt install python3-pip" in said
    assert len(said.splitlines()) == 1


def test_an_old_pip_is_passed_over(dev: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(dev.shutil, "which", lambda name: None)
    monkeypatch.setattr(dev, "pip_version", lambda pip: (20, 3))
    assert dev.installers() == []
    monkeypatch.setattr(dev, "pip_version", lambda pip: (23, 0))
    assert [name for name, _ in dev.installers()] == ["pip"]


def test_uv_comes_first_and_pip_stands_by(
    dev: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(dev.shutil, "which", lambda name: f"/bin/{name}")
    monkeypatch.setattr(dev, "pip_version", lambda pip: (23, 0))
    calls: list[list[str]] = []

    def call(command: list[str], quiet: bool = False) -> int:
        calls.append(command)
        return 1 if command[0] == "/bin/uv" else 0

    monkeypatch.setattr(dev, "call", call)
    dev.install(dev.RUN_SET)
    assert "uv did not succeed" in capsys.readouterr().out
    used = [command[0] for command in calls if "install" in command]
    assert used == ["/bin/uv", sys.executable, sys.executable]


def test_set_up_is_repeated_only_when_a_lock_changed(
    dev: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    installed: list[tuple[str, ...]] = []
    monkeypatch.setattr(dev, "install", installed.append)
    monkeypatch.setattr(dev, "must", lambda command: None)
    dev.set_up(dev.RUN_SET)
    dev.set_up(dev.RUN_SET)
    assert installed == [dev.RUN_SET]
    dev.set_up(dev.DEV_SET)
    dev.set_up(dev.RUN_SET)
    assert installed == [dev.RUN_SET, dev.DEV_SET]
    noted = json.loads(dev.STAMP.read_text(encoding="utf-8"))
    dev.STAMP.write_text(json.dumps({**noted, "run.txt": "another"}), encoding="utf-8")
    dev.set_up(dev.RUN_SET)
    assert len(installed) == 3


def test_an_unknown_command_shows_the_list(
    dev: ModuleType, capsys: pytest.CaptureFixture[str]
) -> None:
    assert dev.main(["nonsense"]) == 2
    assert "python3 dev.py test" in capsys.readouterr().out


def test_a_failing_check_fails_the_whole(dev: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(dev, "set_up", lambda files: None)
    monkeypatch.setattr(dev, "call", lambda command, quiet=False: int("ruff" in command))
    assert dev.lint([]) == 1
    assert dev.test([]) == 1
    monkeypatch.setattr(dev, "call", lambda command, quiet=False: int("pytest" in command))
    assert dev.lint([]) == 0
    assert dev.test([]) == 1
