"""Compiling once, saying so, and staying silent afterwards."""

from __future__ import annotations

from pathlib import Path

import pytest

from forerun.app import prepare
from forerun.numerics import cache
from forerun.numerics.compiled import compiled_observers  # settles where numba keeps things


@pytest.fixture
def empty_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("FORERUN_CACHE", str(tmp_path))
    return tmp_path


def test_every_file_with_a_kernel_is_found() -> None:
    names = {path.name for path in cache.kernel_files()}
    assert "kernels.py" in names
    assert "compiled.py" in names  # its options are part of what is compiled
    assert "cache.py" not in names


@pytest.mark.usefixtures("empty_cache")
def test_silent_when_all_is_there(capsys: pytest.CaptureFixture[str]) -> None:
    assert not cache.is_complete()
    cache.mark_complete()
    assert cache.is_complete()
    assert prepare.prepare_kernels() == 0
    assert capsys.readouterr() == ("", "")


@pytest.mark.usefixtures("empty_cache")
def test_says_what_takes_the_time(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    wanted: list[str] = []
    monkeypatch.setattr(prepare, "import_module", wanted.append)
    prepare.prepare_kernels()
    assert "forerun.equilibrium.kernels" in wanted
    assert "compiling the numerical kernels, once (about" in capsys.readouterr().err
    assert cache.is_complete()
    assert compiled_observers == []


def test_a_changed_kernel_changes_the_fingerprint(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    source = tmp_path / "some.py"
    source.write_text("@kernel(...)\ndef f(): ...\n", encoding="utf-8")
    (tmp_path / "other.py").write_text("x = 1\n", encoding="utf-8")
    monkeypatch.setattr(cache, "_PACKAGE", tmp_path)
    assert cache.kernel_files() == (source,)
    before = cache.kernel_fingerprint()
    (tmp_path / "other.py").write_text("x = 2\n", encoding="utf-8")
    assert cache.kernel_fingerprint() == before
    source.write_text("@kernel(...)\ndef g(): ...\n", encoding="utf-8")
    assert cache.kernel_fingerprint() != before


def test_only_the_last_caches_are_kept(tmp_path: Path) -> None:
    for n in range(6):
        (tmp_path / f"kernels-{n}").mkdir()
    (tmp_path / "something else").mkdir()
    cache.drop_old_caches(tmp_path)
    assert len(list(tmp_path.glob("kernels-*"))) == 3  # room for the one to come
    assert (tmp_path / "something else").is_dir()
