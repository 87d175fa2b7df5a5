"""What a lab server is set up with: units that keep it small, and words that forerun knows."""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
from configparser import ConfigParser
from pathlib import Path

import pytest

from forerun.app.cli import cli

_ROOT = Path(__file__).resolve().parents[2]
_DEPLOY = _ROOT / "deploy"
_PAGE = (_ROOT / "docs" / "how-to" / "lab-server.md").read_text("utf-8")
_CONTAINER = (_DEPLOY / "Containerfile").read_text("utf-8")
_UNITS = sorted(path.name for path in _DEPLOY.glob("*.service"))
_HARDENED = ("NoNewPrivileges", "PrivateTmp", "ProtectHome")


def _unit(name: str) -> ConfigParser:
    unit = ConfigParser(strict=False, interpolation=None)
    unit.optionxform = str  # type: ignore[assignment,method-assign]
    unit.read_string((_DEPLOY / name).read_text("utf-8"))
    return unit


def _commands(text: str) -> list[list[str]]:
    """Every `forerun COMMAND ...` of a text, as words."""
    joined = text.replace("\\\n", " ")
    found = re.findall(r"(?:^|[\s/])forerun +((?:[a-z]+)(?: [^\n`'|&]*)?)", joined, re.MULTILINE)
    return [words for line in found if (words := shlex.split(line))[0] in cli.commands]


def _unknown(words: list[str]) -> list[str]:
    command = cli.commands[words[0]]
    known = {name for p in command.params for name in (*p.opts, *p.secondary_opts)}
    return [word for word in words[1:] if word.startswith("--") and word not in known]


def _known_variables() -> set[str]:
    sources = (_ROOT / "src" / "forerun").rglob("*.py")
    return {name for path in sources for name in re.findall(r"FORERUN_[A-Z]+", path.read_text())}


def test_the_server_is_hardened_and_writes_where_it_may() -> None:
    service = _unit("forerun.service")["Service"]
    assert service["ProtectSystem"] == "strict"
    assert all(service[name] == "yes" for name in _HARDENED)
    assert service["CapabilityBoundingSet"] == ""
    places = dict(word.split("=") for word in service["Environment"].split())
    assert places["FORERUN_DATA"] == f"/var/lib/{service['StateDirectory']}"
    assert places["FORERUN_CACHE"] == f"/var/cache/{service['CacheDirectory']}"
    assert set(places) <= _known_variables()


def test_the_copies_reach_the_records_and_nothing_else() -> None:
    service = _unit("forerun-backup.service")["Service"]
    assert service["ProtectSystem"] == "strict"
    assert all(service[name] == "yes" for name in (*_HARDENED, "PrivateNetwork"))
    records = service["Environment"].removeprefix("FORERUN_DATA=")
    assert service["ReadWritePaths"].split() == [records, "/var/backups/forerun"]
    assert _unit("forerun-backup.timer")["Timer"]["OnCalendar"]


def test_secrets_of_the_server_are_in_no_file_of_ours() -> None:
    text = (_DEPLOY / "forerun.service").read_text("utf-8")
    loaded = re.findall(r"LoadCredential=(\w+):(\S+)", text)
    assert dict(loaded) == {
        "certificate": "/etc/forerun/certificate.pem",
        "key": "/etc/forerun/key.pem",
    }
    for name, path in loaded:
        assert f"--{name} %d/{name}" in text
        assert path in _PAGE


@pytest.mark.parametrize("name", [*_UNITS, "Containerfile"])
def test_every_word_for_forerun_is_one_that_it_knows(name: str) -> None:
    commands = _commands((_DEPLOY / name).read_text("utf-8"))
    assert commands, f"{name} starts no command of forerun"
    assert [(words, _unknown(words)) for words in commands if _unknown(words)] == []


def test_the_page_uses_words_that_forerun_knows_and_names_every_file() -> None:
    commands = _commands(_PAGE)
    assert {words[0] for words in commands} >= {"serve", "passphrase", "check", "restore"}
    assert [words for words in commands if _unknown(words)] == []
    assert [path.name for path in _DEPLOY.iterdir() if f"deploy/{path.name}" not in _PAGE] == []


def test_the_container_copies_what_exists_and_runs_as_nobody_important() -> None:
    for line in re.findall(r"^COPY (?!--from)(.+)$", _CONTAINER, re.MULTILINE):
        assert all((_ROOT / word).exists() for word in line.split()[:-1]), line
    assert re.search(r"^USER forerun$", _CONTAINER, re.MULTILINE)
    assert set(re.findall(r"FORERUN_[A-Z]+", _CONTAINER)) <= _known_variables()
    assert _CONTAINER.index("USER forerun") < _CONTAINER.index("--prepare")


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="no systemd-analyze here")
@pytest.mark.parametrize("name", [*_UNITS, "forerun-backup.timer"])
def test_systemd_reads_the_unit_without_a_complaint(name: str, tmp_path: Path) -> None:
    for path in _DEPLOY.glob("forerun*"):
        text = path.read_text("utf-8").replace("/opt/forerun/bin/forerun", "/bin/true")
        (tmp_path / path.name).write_text(text, "utf-8")
    said = subprocess.run(
        ["systemd-analyze", "verify", "--man=no", str(tmp_path / name)],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    ours = [line for line in said.stderr.splitlines() if "forerun" in line]
    assert ours == []


def test_on_the_page_whoever_touches_records_says_which() -> None:
    lines = re.findall(r"^.*bin/forerun (?:passphrase|restore|backup).*$", _PAGE, re.MULTILINE)
    assert len(lines) >= 4
    assert [line for line in lines if "FORERUN_DATA=/var/lib/forerun" not in line] == []
