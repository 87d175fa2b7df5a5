"""Compiling once, saying so, and staying silent afterwards."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from forerun.app import prepare, prepare_beside
from forerun.numerics import cache, compiled
from forerun.numerics.compiled import compiled_observers
from forerun.numerics.loading import machine_digest


@pytest.fixture
def empty_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("FORERUN_CACHE", str(tmp_path))
    return tmp_path


def test_every_file_with_a_kernel_is_found() -> None:
    names = {path.name for path in cache.kernel_files()}
    assert "kernels.py" in names
    assert "engine.py" in names
    assert not names & {"cache.py", "compiled.py", "compiling.py", "signatures.py"}


@pytest.mark.usefixtures("empty_cache")
def test_silent_when_all_is_there(capsys: pytest.CaptureFixture[str]) -> None:
    assert not cache.is_complete(machine_digest())
    cache.mark_complete(machine_digest())
    assert cache.is_complete(machine_digest())
    assert not cache.is_complete("another kind of machine")
    assert prepare.prepare_kernels() == 0
    assert capsys.readouterr() == ("", "")


@pytest.mark.usefixtures("empty_cache")
def test_says_what_takes_the_time(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    wanted: list[str] = []
    monkeypatch.setattr(prepare, "import_module", wanted.append)
    # what other tests have imported
    monkeypatch.setattr(compiled, "compile_all", lambda _module="": None)
    monkeypatch.setattr(prepare_beside, "_started", lambda _: None)
    prepare.prepare_kernels()
    assert "forerun.equilibrium.kernels" in wanted
    assert "compiling the numerical kernels, once (about" in capsys.readouterr().err
    assert cache.is_complete(machine_digest())
    assert compiled_observers == []


MODULES = ("forerun.equilibrium.kernels", "forerun.numerics.blocks", "forerun.still.engine")


def test_the_engine_is_compiled_here_and_the_rest_beside_where_there_are_two_processors(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(prepare_beside, "_processors", lambda: 2)
    assert prepare_beside.shared_out(MODULES) == ([MODULES[2]], [*MODULES[:2]])
    assert prepare_beside.shared_out(MODULES[:2]) == ([*MODULES[:2]], [])
    assert prepare_beside.shared_out(MODULES[2:]) == ([MODULES[2]], [])
    monkeypatch.setattr(prepare_beside, "_processors", lambda: 1)
    assert prepare_beside.shared_out(MODULES) == ([*MODULES], [])


@pytest.mark.usefixtures("empty_cache")
def test_the_process_beside_keeps_the_kernels_of_its_modules_and_says_which() -> None:
    told: list[str] = []
    with prepare_beside.compiling_beside(["forerun.numerics.vectors"], told.append):
        pass
    assert sorted(told) == [
        "forerun.numerics.vectors.copy_into",
        "forerun.numerics.vectors.straight_line",
    ]
    kept = {path.name.split(".")[-3] for path in cache.cache_folder().rglob("*.o")}
    assert kept == {"copy_into", "straight_line"}


@pytest.mark.usefixtures("empty_cache")
def test_a_process_beside_that_fails_or_cannot_start_leaves_the_work_to_this_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    told: list[str] = []
    with prepare_beside.compiling_beside(["forerun.numerics.no_such_thing"], told.append):
        pass
    monkeypatch.setattr(sys, "executable", "/no/such/python")
    with prepare_beside.compiling_beside(["forerun.numerics.vectors"], told.append):
        pass
    assert told == []


@pytest.mark.usefixtures("empty_cache")
def test_an_interrupted_set_up_leaves_no_process_behind(monkeypatch: pytest.MonkeyPatch) -> None:
    begun = []
    start = prepare_beside._started
    monkeypatch.setattr(prepare_beside, "_started", lambda m: begun.append(start(m)) or begun[0])
    with (
        pytest.raises(KeyboardInterrupt),
        prepare_beside.compiling_beside(["forerun.equilibrium.kernels"], print),
    ):
        raise KeyboardInterrupt
    assert begun[0].poll() is not None


@pytest.fixture
def small_package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    package = tmp_path / "forerun"
    (package / "room").mkdir(parents=True)
    (package / "numerics").mkdir()
    for name in cache._ALWAYS:
        (package / "numerics" / name).write_text("", encoding="utf-8")
    (package / "room" / "top.py").write_text(
        "from forerun.room.middle import x\n\n\n@kernel(...)\ndef f(): ...\n", encoding="utf-8"
    )
    (package / "room" / "middle.py").write_text(
        "from forerun.room.bottom import x\n", encoding="utf-8"
    )
    (package / "room" / "bottom.py").write_text("x = 1\n", encoding="utf-8")
    (package / "room" / "aside.py").write_text("y = 1\n", encoding="utf-8")
    monkeypatch.setattr(cache, "_PACKAGE", package)
    return package


@pytest.mark.parametrize(
    ("changed", "matters"),
    [("top", True), ("middle", True), ("bottom", True), ("aside", False)],
)
def test_what_a_kernel_rests_on_is_in_its_fingerprint(
    small_package: Path, changed: str, matters: bool
) -> None:
    top = small_package / "room" / "top.py"
    assert cache.kernel_files() == (top,)
    before = cache.kernel_fingerprint(top)
    cache._text.cache_clear()
    with (small_package / "room" / f"{changed}.py").open("a", encoding="utf-8") as file:
        file.write("z = 2\n")
    assert (cache.kernel_fingerprint(top) != before) is matters
    assert (cache.kernel_fingerprint() != before) is matters


def test_only_the_last_caches_are_kept(
    small_package: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FORERUN_CACHE", str(tmp_path / "kept"))
    for n in range(cache._KEPT + 2):
        (tmp_path / "kept" / "room.top" / str(n)).mkdir(parents=True)
    (tmp_path / "kept" / "something else").mkdir()
    cache.drop_old_caches(small_package / "room" / "top.py")
    assert (
        len(list((tmp_path / "kept" / "room.top").iterdir())) == cache._KEPT - 1
    )  # room for the one to come
    assert (tmp_path / "kept" / "something else").is_dir()
