"""Sheets kept by name: saved, opened, copied, deleted and had back; nothing is lost."""

from __future__ import annotations

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


def test_a_newer_or_broken_file_is_refused(tmp_path: Path) -> None:
    db = sqlite3.connect(tmp_path / "sheets.sqlite")
    db.execute("PRAGMA user_version=9")
    db.close()
    with pytest.raises(BadInput, match="version"):
        KeptSheets(tmp_path).listed()
    broken = tmp_path / "broken"
    broken.mkdir()
    (broken / "sheets.sqlite").write_bytes(b"no database at all" * 100)
    with pytest.raises(BadInput, match="file of sheets"):
        KeptSheets(broken).listed()
