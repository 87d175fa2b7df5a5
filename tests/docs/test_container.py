"""The container file, line by line: nobody builds it here, so each line is held to the code."""

from __future__ import annotations

import re
import shlex
import tomllib
from pathlib import Path

import pytest

from forerun.core.places import FOLDER_VARIABLE

_ROOT = Path(__file__).resolve().parents[2]
_FILE = (_ROOT / "deploy" / "Containerfile").read_text("utf-8")
_PAGE = (_ROOT / "docs" / "how-to" / "lab-server.md").read_text("utf-8")
_UNIT = (_ROOT / "deploy" / "forerun.service").read_text("utf-8")
_PROJECT = tomllib.loads((_ROOT / "pyproject.toml").read_text("utf-8"))
_KNOWN = {"FROM", "WORKDIR", "COPY", "RUN", "ENV", "USER", "VOLUME", "EXPOSE", "ENTRYPOINT", "CMD"}
Lines = list[tuple[str, str]]


def _stages() -> list[Lines]:
    """Return what each stage is told, word and rest, lines that go on joined."""
    found: list[Lines] = []
    for line in _FILE.replace("\\\n", " ").splitlines():
        if not line.strip() or line.startswith("#"):
            continue
        word, rest = line.split(maxsplit=1)
        if word == "FROM":
            found.append([])
        found[-1].append((word, rest))
    return found


BUILT, KEPT = _stages()


def _all(stage: Lines, word: str) -> list[str]:
    return [rest for first, rest in stage if first == word]


def _at(stage: Lines, text: str) -> int:
    return next(n for n, (_, rest) in enumerate(stage) if text in rest)


def _plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def test_every_line_is_one_that_these_tests_know() -> None:
    assert {word for stage in (BUILT, KEPT) for word, _ in stage} <= _KNOWN


def test_both_stages_stand_on_the_same_python_and_one_that_the_project_runs_on() -> None:
    (first,), (second,) = _all(BUILT, "FROM"), _all(KEPT, "FROM")
    assert first == f"{second} AS built"
    match = re.fullmatch(r"python:3\.(\d+)-slim", second)
    assert match, second
    low = re.fullmatch(r">=3\.(\d+)", _PROJECT["project"]["requires-python"])
    high = re.search(r"\(Python 3\.11 to 3\.(\d+)\)", (_ROOT / "requirements/run.txt").read_text())
    assert low
    assert high
    assert int(low[1]) <= int(match[1]) <= int(high[1])


def test_what_a_line_installs_was_copied_before_and_exists() -> None:
    copied: set[str] = set()
    for word, rest in BUILT:
        if word == "COPY":
            *sources, target = rest.split()
            assert all((_ROOT / one).exists() for one in sources), rest
            # a file into a folder keeps its name; a folder becomes the target
            copied |= {one for one in sources if (_ROOT / one).is_file()} | {target}
            assert target in {"./", "requirements/", "src"}
            if target == "./":
                assert all("/" not in one for one in sources), rest
        for wanted in re.findall(r"-r (\S+)", rest if word == "RUN" else ""):
            assert wanted in copied, wanted
        if word == "RUN" and "--no-deps" in rest:
            project = _PROJECT["project"]
            needed = {"pyproject.toml", project["readme"], *project["license-files"], "src"}
            assert needed <= copied
            assert rest.endswith(" .")
    (packages,) = _PROJECT["tool"]["hatch"]["build"]["targets"]["wheel"]["packages"]
    assert packages.split("/")[0] in copied


def test_nothing_is_fetched_but_what_is_locked() -> None:
    installs = [one for one in _all(BUILT, "RUN") if "pip install" in one]
    assert len(installs) == 2
    locked, ours = installs
    assert "--only-binary :all:" in locked
    assert {"--no-deps", "--no-build-isolation"} <= set(ours.split())
    # without isolation, what builds it has to be there already
    held = {
        _plain(line.split("==")[0])
        for name in re.findall(r"-r (\S+)", locked)
        for line in (_ROOT / name).read_text("utf-8").splitlines()
        if "==" in line
    }
    system = _PROJECT["build-system"]
    needed = [re.split(r"[<>=!~ ]", one)[0] for one in system["requires"]]
    needed += [re.split(r"[<>=!~ ]", one)[0] for one in _PROJECT["project"]["dependencies"]]
    assert {_plain(one) for one in needed} <= held
    assert not any(word in one for one in _all(KEPT, "RUN") for word in ("pip ", "apt", "curl"))


def test_the_program_goes_where_it_is_called_from() -> None:
    (copied,) = [one for one in _all(KEPT, "COPY")]
    place = copied.removeprefix("--from=built ").split()
    assert place[0] == place[1]  # an environment cannot be moved
    assert f"python -m venv {place[0]}" in _all(BUILT, "RUN")[0]
    assert f"PATH={place[0]}/bin:$PATH" in _all(KEPT, "ENV")[0].split()
    assert shlex.split(_all(KEPT, "ENTRYPOINT")[0].strip("[]")) == ["forerun"]
    assert "forerun" in _PROJECT["project"]["scripts"]


def test_it_runs_as_a_user_of_its_own_that_owns_what_it_writes() -> None:
    (user,) = _all(KEPT, "USER")
    assert user == "forerun"
    made = _all(KEPT, "RUN")[0]
    uid = re.search(r"useradd --system --uid (\d+) .*--shell /usr/sbin/nologin forerun\b", made)
    assert uid
    assert int(uid[1]) >= 1000
    assert f"User {uid[1]} of the container" in _PAGE
    owned = re.search(r"install -d -o forerun -g forerun -m 0700 (.+)$", made)
    assert owned
    folders = owned[1].split()
    places = dict(word.split("=", 1) for word in _all(KEPT, "ENV")[0].split())
    assert {places[FOLDER_VARIABLE], places["FORERUN_CACHE"]} == set(folders)
    assert _all(KEPT, "VOLUME") == [places[FOLDER_VARIABLE]]
    # what is written after the volume is named would be thrown away
    assert _at(KEPT, "useradd") < _at(KEPT, "forerun check --prepare")
    words = [word for word, _ in KEPT]
    assert words.index("USER") < _at(KEPT, "forerun check --prepare") < words.index("VOLUME")
    unit = re.search(r"^Environment=(.+)$", _UNIT, re.MULTILINE)
    assert unit
    assert dict(word.split("=", 1) for word in unit[1].split()).items() <= places.items()


def test_the_port_is_the_one_that_page_and_unit_name() -> None:
    (port,) = _all(KEPT, "EXPOSE")
    assert f"-p {port}:{port}" in _PAGE
    assert f"--port {port}" in _PAGE
    assert f":{port}/`" in _PAGE
    assert re.findall(r"--port (\d+)", _UNIT) == [port]


@pytest.mark.parametrize("word", ["--open", "--certificate", "--key", "--no-browser", "--port"])
def test_the_container_is_started_with_the_words_of_the_unit(word: str) -> None:
    started = re.search(r"podman run -d .*?```", _PAGE.replace("\\\n", " "), re.DOTALL)
    assert started
    assert word in started[0].split()
    assert word in _UNIT.split()


def test_started_read_only_it_writes_where_something_is_mounted() -> None:
    started = re.search(r"podman run -d .*?```", _PAGE.replace("\\\n", " "), re.DOTALL)
    assert started
    assert "--read-only" in started[0]
    mounted = set(re.findall(r"-v [\w/-]+:(/[\w/]+)", started[0]))
    mounted |= set(re.findall(r"--tmpfs (\S+)", started[0]))
    assert {_all(KEPT, "VOLUME")[0], "/tmp"} <= mounted
    for file in re.findall(r"--(?:certificate|key) (\S+)", started[0]):
        assert any(file.startswith(f"{place}/") for place in mounted), file
