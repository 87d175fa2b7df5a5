"""Power cut in the middle of a run, and a disk that fails: what was acknowledged is still there.

    python tools/proofs/power.py [--cuts 400] [--faults 120] [--note]

Linux, with a C compiler. The store of runs is written to by a process whose writes, cuts and syncs
are noted by power_shim.c. A power cut at a random place of these notes leaves of every file what
was synced; of what was not, each write is kept, lost, or torn at a sector, in any order. The files
that this leaves are opened again and every acknowledged row is looked for. For the faults the same
act is done while its Nth write or sync fails, once or for good (disk full, I/O error).

So that a proof that finds nothing means something, the same cuts are made for a writer that does
not sync; there rows must be missing. --note keeps the figures in docs/explain/power.json.
"""

from __future__ import annotations

import argparse
import ctypes
import errno
import json
import os
import random
import shutil
import struct
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "src"))

from forerun.core.errors import BadInput, NotStored  # noqa: E402 -- after the path is set
from forerun.records.readings import Reading  # noqa: E402
from forerun.records.safekeeping import damage  # noqa: E402
from forerun.records.sqlite_store import SqliteRunStore  # noqa: E402

FIGURES = ROOT / "docs" / "explain" / "power.json"
SHIM = Path(__file__).with_name("power_shim.c")
FILE = "runs.sqlite"
_HEAD = struct.Struct("<cIQQ")
_SECTOR = 512  # bytes that a disk writes whole
_ACTS = 260  # of a writer: several times what a log of the store holds before it is emptied
_WRITE, _SYNC = 1, 2


@dataclass
class Tally:
    """What was found.

    Args:
        tried: cuts or faults.
        acknowledged: rows that had been acknowledged before them, added up.
        lost: of these, those that were not there again.
        partly: sendings of which a part was there.
        broken: files that could not be opened or read through.
    """

    tried: int = 0
    acknowledged: int = 0
    lost: int = 0
    partly: int = 0
    broken: list[str] = field(default_factory=list)

    @property
    def good(self) -> bool:
        """Whether nothing is missing."""
        return not (self.lost or self.partly or self.broken)


# --- the writer: in a process under the shim


def act(store: SqliteRunStore, run: int, number: int) -> None:
    """Send once: three readings and an entry, in one commit; the entry is filled up to a page."""
    readings = [Reading(time_s=10.0 * number + k, head_K=300.0 + number) for k in range(3)]
    store.together(
        [
            lambda: store.append(run, readings),
            lambda: store.add(run, "note", {"sending": number, "text": "x" * (number % 7 * 600)}),
        ]
    )


def write(folder: Path, synced: bool) -> None:
    """Send again and again; each acknowledgement goes into a file of the same notes."""
    store = SqliteRunStore(folder / FILE)
    if not synced:
        store._db.execute("PRAGMA synchronous=OFF")
    run = store.start_run("sheet", "a run")
    acks = os.open(folder / "acks", os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    for number in range(1, _ACTS + 1):
        act(store, run, number)
        os.write(acks, f"{number}\n".encode())
        if number % 90 == 0:  # somebody stops the server and starts it again
            store.close()
            store = SqliteRunStore(folder / FILE)
            if not synced:
                store._db.execute("PRAGMA synchronous=OFF")


def fail(folder: Path, first: int, count: int) -> None:
    """Let the Nth write or sync of a sending fail and print, for each N, what was acknowledged."""
    shim = ctypes.CDLL(None)
    for number in range(first, first + count):
        nth, kind = divmod(number, 4)
        kinds, for_good = (_WRITE, _SYNC)[kind % 2], kind // 2
        place = folder / str(number)
        place.mkdir()
        store = SqliteRunStore(place / FILE)
        run = store.start_run("sheet", "a run")
        acknowledged, refused = [], 0
        for sending in range(1, 13):
            if sending == 4:
                error = errno.ENOSPC if kinds == _WRITE else errno.EIO
                shim.power_fail(ctypes.c_long(nth), kinds, for_good, error)
            try:
                act(store, run, sending)
                acknowledged.append(sending)
            except NotStored:
                refused += 1
        shim.power_fail(ctypes.c_long(-1), 0, 0, 0)
        print(json.dumps([number, acknowledged, refused]), flush=True)
        del store


# --- what a cut of power leaves


def notes_of(path: Path) -> list[tuple[str, str, int, bytes]]:
    """Return what the shim noted: act, file, place, data."""
    raw, at, found = path.read_bytes(), 0, []
    while at < len(raw):
        letter, name, length, place = _HEAD.unpack_from(raw, at)
        at += _HEAD.size
        file = raw[at : at + name].decode()
        found.append((letter.decode(), file, place, raw[at + name : at + name + length]))
        at += name + length
    return found


def left_by(notes: list[tuple[str, str, int, bytes]], cut: int, chance: random.Random) -> Any:
    """Return the files after a cut of power before a note, and the last acknowledged sending."""
    synced = {file: n for n, (letter, file, *_) in enumerate(notes[:cut]) if letter == "S"}
    files: dict[str, bytearray] = {}
    loose: list[tuple[str, str, int, bytes]] = []
    acknowledged = 0
    for n, (letter, file, place, data) in enumerate(notes[:cut]):
        if file == "acks":
            acknowledged = int(data)
        elif letter == "U":  # a name goes when its folder is synced
            if n < synced.get("", -1) or chance.random() < 0.5:
                files.pop(file, None)
        elif letter in "WT" and not file.endswith("-shm"):
            if n < synced.get(file, -1):
                _apply(files, letter, file, place, data)
            else:
                loose.append((letter, file, place, data))
    kept = chance.choice((0.0, 0.5, 0.9, 1.0))
    loose = [one for one in loose if chance.random() < kept]
    if chance.random() < 0.5:
        chance.shuffle(loose)
    for letter, file, place, data in loose:
        whole = chance.random() < 0.5
        torn = data if whole else data[: chance.randrange(0, len(data) + 1, _SECTOR)]
        _apply(files, letter, file, place, torn)
    return files, acknowledged


def _apply(files: dict[str, bytearray], letter: str, file: str, place: int, data: bytes) -> None:
    content = files.setdefault(file, bytearray())
    if letter == "T":
        del content[place:]
        content.extend(bytes(place - len(content)))
        return
    content.extend(bytes(max(0, place - len(content))))
    content[place : place + len(data)] = data


def looked_at(folder: Path, acknowledged: list[int], tally: Tally, name: str) -> None:
    """Open what is left, and look for every sending that was acknowledged, whole."""
    tally.tried += 1
    tally.acknowledged += len(acknowledged)
    path = folder / FILE
    if not path.exists() and not acknowledged:
        return
    try:
        if wrong := damage(path):
            tally.broken.append(f"{name}: {wrong}")
            return
        with SqliteRunStore(path) as store:
            runs = store.runs()
            readings = store.readings(runs[0].id) if runs else ()
            entries = store.entries(runs[0].id) if runs else ()
    except BadInput as problem:
        tally.broken.append(f"{name}: {problem}")
        return
    seen = {int(e.data["sending"]) for e in entries}
    counted: dict[int, int] = {}
    for stored in readings:
        number = int(stored.reading.time_s // 10)
        counted[number] = counted.get(number, 0) + 1
    tally.lost += len(set(acknowledged) - seen)
    tally.partly += sum(n not in seen or counted.get(n, 0) != 3 for n in seen | set(counted))


# --- the proof


def built(folder: Path) -> Path:
    """Compile the shim and return it."""
    shim = folder / "power_shim.so"
    compiler = shutil.which("cc") or shutil.which("gcc") or ""
    if not compiler or sys.platform != "linux":
        raise SystemExit("this proof needs Linux and a C compiler")
    words = [compiler, "-shared", "-fPIC", "-O1", "-o", str(shim), str(SHIM), "-ldl", "-pthread"]
    subprocess.run(words, check=True)
    return shim


def _under(shim: Path, folder: Path, *words: str, log: Path | None = None) -> str:
    noted = {} if log is None else {"POWER_LOG": str(log)}
    ours = {**os.environ, "LD_PRELOAD": str(shim), "POWER_FOLDER": str(folder), **noted}
    command = [sys.executable, __file__, *words, "--folder", str(folder)]
    done = subprocess.run(command, env=ours, check=True, capture_output=True, text=True)
    return done.stdout


def cut_off(shim: Path, cuts: int, *, synced: bool = True, seed: int = 1) -> Tally:
    """Let one writer write, cut its power so many times, and return what was found."""
    chance, tally = random.Random(seed), Tally()
    with tempfile.TemporaryDirectory(prefix="forerun-power-") as made:
        place = Path(made)
        live = place / "live"
        live.mkdir()
        _under(shim, live, "--write", *([] if synced else ["--unsynced"]), log=place / "notes")
        notes = notes_of(place / "notes")
        for n in range(cuts):
            files, last = left_by(notes, chance.randrange(1, len(notes) + 1), chance)
            folder = place / "left"
            folder.mkdir()
            for name, content in files.items():
                (folder / name).write_bytes(content)
            looked_at(folder, list(range(1, last + 1)), tally, f"cut {n}")
            shutil.rmtree(folder)
    return tally


def faulty(shim: Path, faults: int) -> tuple[Tally, int]:
    """Let writes and syncs fail and return what was found, and how many sendings were refused."""
    tally, refused = Tally(), 0
    with tempfile.TemporaryDirectory(prefix="forerun-power-") as made:
        for first in range(0, faults, 40):
            place = Path(made) / str(first)
            place.mkdir()
            count = min(40, faults - first)
            said = _under(shim, place, "--fail", str(first), str(count))
            for number, acknowledged, not_taken in _rows(said):
                looked_at(place / str(number), acknowledged, tally, f"fault {number}")
                refused += not_taken
    return tally, refused


def _rows(said: str) -> Iterator[tuple[int, list[int], int]]:
    for line in said.splitlines():
        number, acknowledged, refused = json.loads(line)
        yield number, acknowledged, refused


def main() -> int:
    """Prove it; returns 1 where something acknowledged was lost."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cuts", type=int, default=400)
    parser.add_argument("--faults", type=int, default=120)
    parser.add_argument("--note", action="store_true")
    for name in ("--write", "--unsynced"):
        parser.add_argument(name, action="store_true", help=argparse.SUPPRESS)
    parser.add_argument("--fail", type=int, nargs=2, help=argparse.SUPPRESS)
    parser.add_argument("--folder", type=Path, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.write:
        write(asked.folder, not asked.unsynced)
        return 0
    if asked.fail:
        fail(asked.folder, *asked.fail)
        return 0
    return _proved(asked.cuts, asked.faults, asked.note)


def _proved(cuts: int, faults: int, note: bool) -> int:
    started = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="forerun-shim-") as made:
        shim = built(Path(made))
        power = cut_off(shim, cuts)
        control = cut_off(shim, cuts // 4, synced=False)
        disk, refused = faulty(shim, faults)
    figures = {
        "date": time.strftime("%Y-%m-%d"),
        "command": f"python tools/proofs/power.py --cuts {cuts} --faults {faults} --note",
        "took_s": round(time.monotonic() - started),
        "cuts": _figures(power),
        "cuts_of_a_writer_that_does_not_sync": _figures(control),
        "faults": {**_figures(disk), "refused": refused},
    }
    print(json.dumps(figures, indent=1))
    for problem in (*power.broken, *disk.broken)[:5]:
        print(problem)
    if note:
        FIGURES.write_text(json.dumps(figures, indent=1) + "\n", "utf-8")
    if control.good:
        print("the writer that does not sync lost nothing: these cuts prove nothing")
    return 0 if power.good and disk.good and not control.good else 1


def _figures(tally: Tally) -> dict[str, int]:
    return {
        "tried": tally.tried,
        "acknowledged": tally.acknowledged,
        "lost": tally.lost,
        "partly": tally.partly,
        "not_whole": len(tally.broken),
    }


if __name__ == "__main__":
    sys.exit(main())
