"""Damaged stores are set aside untouched; copies are proven and come back."""

from __future__ import annotations

import random
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from forerun.core.errors import BadInput, ForerunError, NotStored
from forerun.records import safekeeping
from forerun.records.kept_sheets import KeptSheets
from forerun.records.library import open_store
from forerun.records.safekeeping import back_up, bring_back, damage, set_aside


def _with_runs(folder: Path, runs: int = 40) -> Path:
    with open_store(folder) as store:
        for k in range(runs):
            store.start_run('title = "x"\n' * 40, f"run {k}")
    return folder / "runs.sqlite"


def _titles(folder: Path) -> list[str]:
    with open_store(folder) as store:
        return [run.title for run in store.runs()]


@pytest.mark.parametrize("seed", range(12))
def test_random_bytes_over_the_database_are_set_aside_untouched(
    tmp_path: Path, seed: int, capsys: pytest.CaptureFixture[str]
) -> None:
    path = _with_runs(tmp_path)
    dice = random.Random(seed)
    raw = bytearray(path.read_bytes())
    start = dice.randrange(len(raw) // 2)
    raw[start : start + 6000] = dice.randbytes(len(raw[start : start + 6000]))
    path.write_bytes(raw)
    assert _titles(tmp_path) == []
    assert (tmp_path / "runs.sqlite.damaged-1").read_bytes() == bytes(raw)
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "runs.sqlite.damaged-1" in said
    assert damage(path) == ""


def test_what_was_set_aside_before_is_not_written_over(tmp_path: Path) -> None:
    for content in (b"first, no database", b"second, no database"):
        (tmp_path / "runs.sqlite").write_bytes(content * 90)
        open_store(tmp_path).close()
    assert (tmp_path / "runs.sqlite.damaged-1").read_bytes().startswith(b"first")
    assert (tmp_path / "runs.sqlite.damaged-2").read_bytes().startswith(b"second")


def test_a_locked_store_is_not_damaged(tmp_path: Path) -> None:
    path = _with_runs(tmp_path, 2)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("PRAGMA locking_mode=EXCLUSIVE")
        other.execute("BEGIN EXCLUSIVE")
        assert damage(path) == ""
    assert len(_titles(tmp_path)) == 2


def test_a_copy_made_while_somebody_writes_comes_back_whole(tmp_path: Path) -> None:
    mine, copies = tmp_path / "mine", tmp_path / "copies"
    number = KeptSheets(mine).save("toluene", {"title": "toluene"})
    with open_store(mine) as store:
        store.start_run("title = 'x'", "before")
        assert [path.name for path in back_up(mine, copies)] == ["runs.sqlite", "sheets.sqlite"]
        store.start_run("title = 'x'", "after")
    KeptSheets(mine).delete(number)
    aside = bring_back(copies, mine)
    assert _titles(mine) == ["before"]
    assert KeptSheets(mine).opened(number)[0] == "toluene"
    assert [path.name for path in aside] == ["runs.sqlite.before-1", "sheets.sqlite.before-1"]
    with closing(sqlite3.connect(aside[0])) as old:
        assert old.execute("SELECT count(*) FROM run").fetchone() == (2,)


def test_a_copy_is_not_written_over_and_a_damaged_one_not_brought_back(tmp_path: Path) -> None:
    mine, copies = tmp_path / "mine", tmp_path / "copies"
    _with_runs(mine)
    back_up(mine, copies)
    with pytest.raises(BadInput, match=r"without runs\.sqlite"):
        back_up(mine, copies)
    (copies / "runs.sqlite").write_bytes(b"nothing of the kind" * 900)
    with pytest.raises(BadInput, match="read through"):
        bring_back(copies, mine)
    assert len(_titles(mine)) == 40
    with pytest.raises(BadInput, match="forerun backup"):
        bring_back(tmp_path / "nowhere", mine)


def test_nothing_to_copy_is_said(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="runs, sheets or classes"):
        back_up(tmp_path, tmp_path / "copies")


def test_a_folder_that_takes_nothing_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = _with_runs(tmp_path / "mine", 1)

    def full(_self: Path, *_words: object, **_more: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "rename", full)
    with pytest.raises(NotStored):
        set_aside(path)
    monkeypatch.setattr(Path, "mkdir", full)
    with pytest.raises(ForerunError, match="No space"):
        back_up(tmp_path / "mine", tmp_path / "copies")
    assert path.exists()


def _with_a_class(folder: Path) -> Path:
    own = folder / "classes" / "1a2b"
    (own / "handed-in" / "S01").mkdir(parents=True)
    (own / "class.json").write_text("{}", "utf-8")
    (own / "key.toml").write_text("words = 'secret'\n", "utf-8")
    (own / "key.toml").chmod(0o600)
    (own / "handed-in" / "S01" / "answer.toml").write_text("x = 1\n", "utf-8")
    (own / "handed-in" / "S01" / "log.csv.part").write_text("half", "utf-8")
    return own


def test_hidden_classes_come_along_and_back(tmp_path: Path) -> None:
    """Files by their bytes, for the owner alone; what was there since is set aside."""
    mine, copies = tmp_path / "mine", tmp_path / "copies"
    own = _with_a_class(mine)
    _with_runs(mine, 1)
    assert [path.name for path in back_up(mine, copies)] == ["runs.sqlite", "classes"]
    copied = copies / "classes" / "1a2b"
    assert (copied / "key.toml").read_bytes() == (own / "key.toml").read_bytes()
    assert (copied / "key.toml").stat().st_mode & 0o777 == 0o600
    assert (copies / "classes").stat().st_mode & 0o077 == 0
    assert not (copied / "handed-in" / "S01" / "log.csv.part").exists()
    with pytest.raises(BadInput, match=r"without runs\.sqlite"):
        back_up(mine, copies)
    (own / "handed-in" / "S01" / "answer.toml").write_text("x = 2\n", "utf-8")
    aside = bring_back(copies, mine)
    assert [path.name for path in aside] == ["runs.sqlite.before-1", "classes.before-1"]
    assert (own / "handed-in" / "S01" / "answer.toml").read_text("utf-8") == "x = 1\n"
    late = aside[1] / "1a2b" / "handed-in" / "S01" / "answer.toml"
    assert late.read_text("utf-8") == "x = 2\n"


def test_classes_alone_are_enough_to_copy_and_are_not_written_over(tmp_path: Path) -> None:
    mine, copies = tmp_path / "mine", tmp_path / "copies"
    _with_a_class(mine)
    assert [path.name for path in back_up(mine, copies)] == ["classes"]
    with pytest.raises(BadInput, match="without classes"):
        back_up(mine, copies)
    assert bring_back(copies, tmp_path / "new") == ()
    assert (tmp_path / "new" / "classes" / "1a2b" / "class.json").exists()


def test_a_class_that_changes_while_it_is_copied_is_copied_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A hand-in of two files between two copies: never one new and one old."""
    mine, copies = tmp_path / "mine", tmp_path / "copies"
    own = _with_a_class(mine) / "handed-in" / "S01"
    (own / "plan.toml").write_text("y = 1\n", "utf-8")
    whole, handed_in = safekeeping.shutil.copy2, []

    def copied(source: Path, target: Path) -> None:
        whole(source, target)
        if Path(source).name == "answer.toml" and not handed_in:
            for name in ("answer.toml", "plan.toml"):
                (own / f"{name}.part").write_text("z = 22\n", "utf-8")
                (own / f"{name}.part").replace(own / name)
            handed_in.append(True)

    monkeypatch.setattr(safekeeping.shutil, "copy2", copied)
    back_up(mine, copies)
    found = copies / "classes" / "1a2b" / "handed-in" / "S01"
    texts = {(found / name).read_text("utf-8") for name in ("answer.toml", "plan.toml")}
    assert texts == {"z = 22\n"}


def test_a_folder_that_never_stands_still_is_not_said_to_be_copied(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    mine, copies = tmp_path / "mine", tmp_path / "copies"
    own, count = _with_a_class(mine), []
    whole = safekeeping.shutil.copy2

    def copied(source: Path, target: Path) -> None:
        whole(source, target)
        count.append(source)
        (own / "class.json").write_text("x" * len(count), "utf-8")

    monkeypatch.setattr(safekeeping.shutil, "copy2", copied)
    with pytest.raises(NotStored, match="did not stand still"):
        back_up(mine, copies)
