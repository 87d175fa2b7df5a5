"""Sheets kept by name: saved, opened, copied, deleted and had back; nothing is lost."""

from __future__ import annotations

import random
import sqlite3
import subprocess
import sys
import threading
from pathlib import Path

import pytest

import forerun
from forerun.core.errors import BadInput
from forerun.records.kept_sheets import KeptSheets

SHEET = {"title": "größer als <b>", "charge": [{"substance": "water", "amount": "9"}]}


@pytest.fixture
def kept(tmp_path: Path) -> KeptSheets:
    return KeptSheets(tmp_path / "new" / "folder")


def test_what_was_saved_is_opened(kept: KeptSheets) -> None:
    number = kept.save("  first   try ", SHEET)
    assert kept.opened(number) == ("first try", SHEET)
    assert [(row.number, row.name) for row in kept.listed()] == [(number, "first try")]


def test_saving_again_replaces(kept: KeptSheets) -> None:
    number = kept.save("one", SHEET)
    assert kept.save("two", {"title": "b"}, number) == number
    assert kept.opened(number) == ("two", {"title": "b"})
    assert len(kept.listed()) == 1


def test_a_copy_goes_its_own_way(kept: KeptSheets) -> None:
    first = kept.save("n" * 200, SHEET)
    second = kept.duplicate(first)
    assert second != first
    name, content = kept.opened(second)
    assert name.endswith(" (copy)")
    assert content == SHEET
    kept.save("other", {}, second)
    assert kept.opened(first)[1] == SHEET
    assert [row.number for row in kept.listed()] == [second, first]


def test_what_is_deleted_can_be_had_back(kept: KeptSheets) -> None:
    number = kept.save("one", SHEET)
    kept.delete(number)
    assert kept.listed() == ()
    for act in (kept.opened, kept.delete, kept.duplicate):
        with pytest.raises(BadInput) as caught:
            act(number)
        assert caught.value.field == "number"
    with pytest.raises(BadInput):
        kept.save("one", SHEET, number)
    assert kept.save("another", SHEET) != number
    kept.restore(number)
    assert kept.opened(number) == ("one", SHEET)
    with pytest.raises(BadInput):
        kept.restore(number)


@pytest.mark.parametrize("name", ["", "  ", "n" * 201])
def test_a_name_is_needed(kept: KeptSheets, name: str) -> None:
    with pytest.raises(BadInput, match="name"):
        kept.save(name, SHEET)


def test_it_survives_a_kill(tmp_path: Path) -> None:
    code = (
        "import os, pathlib; from forerun.records.kept_sheets import KeptSheets;"
        f"KeptSheets(pathlib.Path({str(tmp_path)!r})).save('one', {{'title': 'a'}}); os._exit(9)"
    )
    path = str(Path(forerun.__file__).parents[1])
    done = subprocess.run([sys.executable, "-c", code], env={"PYTHONPATH": path}, check=False)
    assert done.returncode == 9
    assert [row.name for row in KeptSheets(tmp_path).listed()] == ["one"]


def test_many_may_save_at_once(kept: KeptSheets) -> None:
    threads = [threading.Thread(target=kept.save, args=(f"s{k}", SHEET)) for k in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len({row.number for row in kept.listed()}) == 8


def test_a_newer_file_is_refused(tmp_path: Path) -> None:
    db = sqlite3.connect(tmp_path / "sheets.sqlite")
    db.execute("PRAGMA user_version=9")
    db.close()
    with pytest.raises(BadInput, match="version"):
        KeptSheets(tmp_path).listed()
    assert (tmp_path / "sheets.sqlite").exists()


@pytest.mark.parametrize("seed", range(6))
def test_a_damaged_file_is_set_aside_untouched_and_said(
    tmp_path: Path, seed: int, capsys: pytest.CaptureFixture[str]
) -> None:
    kept, path = KeptSheets(tmp_path), tmp_path / "sheets.sqlite"
    for _ in range(60):
        kept.save("one", {**SHEET, "title": "x" * 300})
    dice, raw = random.Random(seed), bytearray(path.read_bytes())
    start = dice.randrange(len(raw) // 2)
    raw[start : start + 6000] = dice.randbytes(6000)
    path.write_bytes(raw)
    assert kept.listed() == ()
    assert (tmp_path / "sheets.sqlite.damaged-1").read_bytes() == bytes(raw)
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "sheets.sqlite.damaged-1, untouched" in said
    number = kept.save("after", SHEET)
    assert kept.opened(number) == ("after", SHEET)
    assert capsys.readouterr().err == ""
    (tmp_path / "sheets.sqlite").write_bytes(b"no database at all" * 100)
    assert kept.listed() == ()
    assert (tmp_path / "sheets.sqlite.damaged-2").read_bytes().startswith(b"no database")


def test_many_at_once_set_a_damaged_file_aside_once(tmp_path: Path) -> None:
    (tmp_path / "sheets.sqlite").write_bytes(b"no database at all" * 100)
    kept = KeptSheets(tmp_path)
    workers = [threading.Thread(target=kept.save, args=(f"n{k}", SHEET)) for k in range(8)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    assert len(kept.listed()) == 8
    assert [p.name for p in tmp_path.glob("*damaged*")] == ["sheets.sqlite.damaged-1"]


def test_a_file_of_the_first_version_is_opened(tmp_path: Path) -> None:
    text = (Path(__file__).parents[2] / "contract" / "files" / "sheets_version_1.sql").read_text(
        "utf-8"
    )
    old = sqlite3.connect(tmp_path / "sheets.sqlite")
    old.executescript(text)
    old.close()
    kept = KeptSheets(tmp_path)
    (only,) = kept.listed()
    assert (only.number, only.name, only.saved_utc_s) == (1, "Tröpfchen", 1795674956.25)
    assert kept.opened(1)[1]["charge"] == [{"substance": "water", "amount": "9 mL"}]
    kept.restore(2)
    assert kept.opened(2) == ("thrown away", {})
    assert kept.save("new", SHEET) == 3
