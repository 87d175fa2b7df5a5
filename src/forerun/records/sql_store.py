"""Runs in a database that speaks SQL: rows are added, never changed.

Triggers refuse to change or delete rows, so that whatever else opens the database keeps to it too.
The statements are those that SQLite and PostgreSQL both understand, values marked by ``?``.
"""

from __future__ import annotations

import json
import math
import secrets
import time
from collections.abc import Mapping, Sequence
from typing import Any

from forerun.core.errors import BadInput
from forerun.records.interface import Entry, Kept, RunRow, Sent, StoredReading
from forerun.records.readings import CHANNELS, Reading
from forerun.records.schema import NUMBERS
from forerun.records.sql_database import SqlDatabase

__all__ = ["SqlRunStore"]

_COLUMNS = (*NUMBERS, "remark", "origin", "flags", "raw", "corrects")
_CODE_LETTERS = "3479CDFHJKMNPQRTVWXY"  # no look-alikes, and no vowels to make words of
_CODE_LENGTH = 6
_LONGEST_REASON = 200  # letters of why a run was erased
_OF_A_RUN = ("receipt", "live", "entry", "reading")  # what is erased with it
_RUN = """
SELECT run.id, title, sheet, started_utc_s, ended_utc_s,
  (SELECT coalesce(max(number), 0) FROM reading WHERE run_id = run.id),
  coalesce(code, ''), coalesce(pace, 1.0)
FROM run LEFT JOIN ending ON ending.run_id = run.id LEFT JOIN live ON live.run_id = run.id
"""


class SqlRunStore(SqlDatabase):
    """A store of runs in a database."""

    def start_run(
        self, sheet: str, title: str = "", *, live: bool = False, pace: float = 1.0
    ) -> int:
        """Open a run and return its number.

        Args:
            sheet: as text.
            title: of the sheet.
            live: whether it is given a code to join it by, unlike that of any open run.
            pace: seconds of the run in a second of the room [-].
        """
        with self._writing():
            run_id = self._next("run")
            self._do("INSERT INTO run VALUES (?, ?, ?, ?)", (run_id, title, sheet, time.time()))
            if live:
                values = (run_id, self._new_code(), pace)
                self._do("INSERT INTO live VALUES (?, ?, ?)", values)
            return run_id

    def _new_code(self) -> str:
        taken = {row.code for row in self._runs("WHERE ended_utc_s IS NULL", ())}
        while True:
            code = "".join(secrets.choice(_CODE_LETTERS) for _ in range(_CODE_LENGTH))
            if code not in taken:
                return code

    def joined(self, code: str) -> int:
        """Return the number of the run that has a code, of several the newest.

        Args:
            code: in capital or small letters.

        Raises:
            BadInput: no run has it.
        """
        rows = self._all("SELECT max(run_id) FROM live WHERE code = ?", (code.strip().upper(),))
        if rows[0][0] is None:
            raise BadInput("code", code, f"the {_CODE_LENGTH} letters and figures of a run")
        return int(rows[0][0])

    def end_run(self, run_id: int) -> None:
        """Close a run; closing it twice changes nothing."""
        with self._writing():
            self._must_have(run_id)
            self._do(
                "INSERT INTO ending VALUES (?, ?) ON CONFLICT DO NOTHING", (run_id, time.time())
            )

    def erase(self, run_id: int, reason: str = "") -> int:
        """Take all that is kept of an ended run away for good.

        Its number stays, without sheet and title, so that it is never given again, with an entry
        ``erased`` that says when and how much; so does what the run has shown of a column.
        `scrub` afterwards. Copies that were made before are out of reach.

        Args:
            run_id: number of the run.
            reason: stays in that entry, for good; none where left out.

        Returns:
            How many rows went.

        Raises:
            BadInput: no such run, one that goes on, or a reason of more than 200 letters.
            NotStored: the disk did not take it; then everything is still there.
        """
        said = " ".join(reason.split())
        if len(said) > _LONGEST_REASON:
            raise BadInput("reason", reason, f"at most {_LONGEST_REASON} letters")
        with self._writing():
            if self.run(run_id).ended_utc_s is None:
                raise BadInput("run", run_id, "a run that has ended: end it first")
            with self._let_go(("run", *_OF_A_RUN)):
                gone = 0
                for table in _OF_A_RUN:
                    (count,) = self._all(
                        f"SELECT count(*) FROM {table} WHERE run_id = ?", (run_id,)
                    )
                    gone += int(count[0])
                    self._do(f"DELETE FROM {table} WHERE run_id = ?", (run_id,))
                self._do("UPDATE run SET title = '', sheet = '' WHERE id = ?", (run_id,))
            self.add(run_id, "erased", {"rows": gone, **({"reason": said} if said else {})})
            return gone

    def runs(self) -> tuple[RunRow, ...]:
        """Return all runs, the oldest first."""
        return self._runs("", ())

    def run(self, run_id: int) -> RunRow:
        """Return one run.

        Raises:
            BadInput: no such run.
        """
        found = self._runs("WHERE run.id = ?", (run_id,))
        if not found:
            raise self._unknown(run_id)
        return found[0]

    def _runs(self, where: str, values: Sequence[object]) -> tuple[RunRow, ...]:
        return tuple(RunRow(*row) for row in self._all(f"{_RUN} {where} ORDER BY run.id", values))

    def append(self, run_id: int, readings: Sequence[Reading]) -> int:
        """Add readings, all of them or none.

        Args:
            run_id: number of the run.
            readings: in the order in which they came.

        Returns:
            The number of the last stored one, after it is on disk; with nothing to add, that of
            the last one so far, 0 for none.

        Raises:
            BadInput: no such run, one that has ended, or a correction of a reading that is not
                there.
            NotStored: the disk did not take it.
        """
        return self.append_once(run_id, readings).last

    def append_once(
        self, run_id: int, readings: Sequence[Reading], sent: Sent | None = None
    ) -> Kept:
        """Add readings, all of them or none, unless they were stored before.

        Args:
            run_id: number of the run.
            readings: in the order in which they came.
            sent: by what the sender names them; None where it never sends again.

        Returns:
            Where they are, after they are on disk.

        Raises:
            BadInput: as `append`, or the sender used the name for something else.
            NotStored: the disk did not take it.
        """
        with self._writing():
            self._must_have(run_id)
            before = self._receipt(run_id, sent)
            if before is not None:
                return before
            if self._all("SELECT 1 FROM ending WHERE run_id = ?", (run_id,)):
                raise BadInput("run", run_id, "a run that goes on; this one has ended")
            last = self._last("reading", run_id)
            kept = Kept(last + 1, last + len(readings))
            moment = time.time()
            names = ("run_id", "number", "stored_utc_s", *_COLUMNS)
            statement = (
                f"INSERT INTO reading ({', '.join(names)}) VALUES ({', '.join('?' * len(names))})"
            )
            for number, reading in enumerate(readings, kept.first):
                values = (run_id, number, moment, *_cells(reading))
                self._insert(statement, values, number, reading.corrects)
            self._sign(run_id, sent, kept)
            return kept

    def _receipt(self, run_id: int, sent: Sent | None) -> Kept | None:
        if sent is None:
            return None
        rows = self._all(
            "SELECT digest, first, last FROM receipt "
            "WHERE run_id = ? AND origin = ? AND sequence = ?",
            (run_id, sent.origin, sent.sequence),
        )
        if not rows:
            return None
        if rows[0][0] != sent.digest:
            accepted = "a number that this sender has not used for something else in this run"
            raise BadInput("sequence", sent.sequence, accepted)
        return Kept(rows[0][1], rows[0][2], again=True)

    def _sign(self, run_id: int, sent: Sent | None, kept: Kept) -> None:
        if sent is not None:
            values = (run_id, sent.origin, sent.sequence, sent.digest, kept.first, kept.last)
            self._do("INSERT INTO receipt VALUES (?, ?, ?, ?, ?, ?)", values)

    def readings(
        self, run_id: int, after: int = 0, *, corrected: bool = False
    ) -> tuple[StoredReading, ...]:
        """Return readings in the order in which they came.

        Args:
            run_id: number of the run.
            after: only those with a higher number.
            corrected: leave out those that a later one replaces.
        """
        rows = self._all(
            f"SELECT number, stored_utc_s, {', '.join(_COLUMNS)} FROM reading "
            "WHERE run_id = ? AND number > ? ORDER BY number",
            (run_id, after),
        )
        found = tuple(StoredReading(row[0], _reading(row[2:]), row[1]) for row in rows)
        if not found:
            self._must_have(run_id)
        if not corrected:
            return found
        replaced = self._replaced("reading", run_id)
        return tuple(stored for stored in found if stored.number not in replaced)

    def add(
        self, run_id: int, kind: str, data: Mapping[str, Any], corrects: int | None = None
    ) -> int:
        """Add an entry and return its number, after it is on disk.

        Raises:
            BadInput: no such run, data that JSON cannot hold, or a correction of nothing.
            NotStored: the disk did not take it.
        """
        return self.add_once(run_id, kind, data, corrects).last

    def add_once(
        self,
        run_id: int,
        kind: str,
        data: Mapping[str, Any],
        corrects: int | None = None,
        sent: Sent | None = None,
    ) -> Kept:
        """Add an entry unless it was stored before.

        Args:
            run_id: number of the run; entries may be added after its end.
            kind: a word.
            data: plain values.
            corrects: number of the entry that it replaces.
            sent: by what the sender names it; None where it never sends again.

        Raises:
            BadInput: as `add`, or the sender used the name for something else.
            NotStored: the disk did not take it.
        """
        text = _as_json(data)
        with self._writing():
            self._must_have(run_id)
            before = self._receipt(run_id, sent)
            if before is not None:
                return before
            number = self._last("entry", run_id) + 1
            values = (run_id, number, kind, text, time.time(), corrects)
            self._insert("INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?)", values, number, corrects)
            self._sign(run_id, sent, Kept(number, number))
            return Kept(number, number)

    def entries(
        self, run_id: int, kind: str | None = None, after: int = 0, *, corrected: bool = False
    ) -> tuple[Entry, ...]:
        """Return entries in the order in which they came.

        Args:
            run_id: number of the run.
            kind: only those of this kind; None for all.
            after: only those with a higher number.
            corrected: leave out those that a later one replaces.
        """
        rows = self._all(
            "SELECT number, kind, data, stored_utc_s, corrects FROM entry "
            "WHERE run_id = ? AND number > ? AND (CAST(? AS TEXT) IS NULL OR kind = ?) "
            "ORDER BY number",
            (run_id, after, kind, kind),
        )
        found = tuple(Entry(r[0], r[1], json.loads(r[2]), r[3], r[4]) for r in rows)
        if not found:
            self._must_have(run_id)
        if not corrected:
            return found
        replaced = self._replaced("entry", run_id)
        return tuple(entry for entry in found if entry.number not in replaced)

    def keep_passport(self, name: str, data: Mapping[str, Any], run_id: int | None = None) -> int:
        """Add a measured state of a physical item and return its number.

        Raises:
            BadInput: an empty name, data that JSON cannot hold, or no such run.
        """
        if not name.strip():
            raise BadInput("name", name, 'the name of an item, such as "my Vigreux"')
        text = _as_json(data)
        with self._writing():
            if run_id is not None:
                self._must_have(run_id)
            number = self._next("passport")
            values = (number, name.strip(), text, run_id, time.time())
            self._do("INSERT INTO passport VALUES (?, ?, ?, ?, ?)", values)
            return number

    def passports(self, name: str) -> tuple[Entry, ...]:
        """Return every state of an item, the oldest first; empty for one never measured."""
        rows = self._all(
            "SELECT id, data, stored_utc_s FROM passport WHERE name = ? ORDER BY id",
            (name.strip(),),
        )
        return tuple(Entry(r[0], "passport", json.loads(r[1]), r[2]) for r in rows)

    def passport_names(self) -> tuple[str, ...]:
        """Return the names of all items that were measured, in alphabetical order."""
        return tuple(sorted(row[0] for row in self._all("SELECT DISTINCT name FROM passport")))

    def _insert(
        self, statement: str, values: Sequence[object], number: int, corrects: int | None
    ) -> None:
        refused = BadInput("corrects", corrects, "the number of an earlier row of the same run")
        if corrects is not None and corrects >= number:
            raise refused  # a row that replaced itself would be gone
        try:
            self._do(statement, values)
        except self._no_such_row as problem:
            raise refused from problem

    def _last(self, table: str, run_id: int) -> int:
        rows = self._all(
            f"SELECT coalesce(max(number), 0) FROM {table} WHERE run_id = ?", (run_id,)
        )
        return int(rows[0][0])

    def _next(self, table: str) -> int:
        """Return the number of the next row; the only pen is held meanwhile."""
        return int(self._all(f"SELECT coalesce(max(id), 0) + 1 FROM {table}")[0][0])

    def _replaced(self, table: str, run_id: int) -> set[int]:
        rows = self._all(
            f"SELECT corrects FROM {table} WHERE run_id = ? AND corrects IS NOT NULL", (run_id,)
        )
        return {int(row[0]) for row in rows}

    def _must_have(self, run_id: int) -> None:
        if not self._all("SELECT 1 FROM run WHERE id = ?", (run_id,)):
            raise self._unknown(run_id)

    def _unknown(self, run_id: int) -> BadInput:
        known = ", ".join(str(row[0]) for row in self._all("SELECT id FROM run ORDER BY id"))
        return BadInput("run", run_id, f"the number of a run: {known}" if known else "none so far")


def _cells(reading: Reading) -> tuple[object, ...]:
    numbers = [getattr(reading, name) for name in NUMBERS]
    plain = [None if n is None or not math.isfinite(n) else float(n) for n in numbers]
    flags = json.dumps(list(reading.flags), ensure_ascii=False)
    return (*plain, reading.remark, reading.origin, flags, reading.raw, reading.corrects)


def _reading(cells: Sequence[Any]) -> Reading:
    values = dict(zip(_COLUMNS, cells, strict=True))
    for name in ("time_s", *CHANNELS):
        values[name] = math.nan if values[name] is None else values[name]
    values["flags"] = tuple(json.loads(values["flags"]))
    return Reading(**values)


def _as_json(data: Mapping[str, Any]) -> str:
    try:
        return json.dumps(dict(data), ensure_ascii=False, allow_nan=False)
    except (TypeError, ValueError) as problem:
        raise BadInput("data", repr(data)[:100], f"plain values ({problem})") from problem
