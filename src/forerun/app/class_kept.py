"""Classes with hidden runs, kept in a folder each: what `forerun hide` writes and `mark` reads.

Beside those files stands `class.json`: by which ticket each student comes in, and the marks once
the instructor has given them. Only the owner of this machine may read the folder.
"""

from __future__ import annotations

import hmac
import io
import json
import os
import re
import secrets
import shutil
import threading
import time
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from forerun.app.class_answers import answer_as_toml
from forerun.app.class_files import (
    ANSWER,
    KEY,
    LOG,
    PLAN,
    STUDENTS,
    Key,
    key_text,
    read_key,
    table_of,
    write_into,
)
from forerun.core.errors import BadInput
from forerun.records.library import library_folder
from forerun.records.safekeeping import CLASSES
from forerun.running.mystery import code_of

__all__ = ["HANDED_IN", "KeptClass", "KeptClasses"]

HANDED_IN = "handed-in"
"""Name of the folder with what students handed in, which `forerun mark` takes."""

_ABOUT = "class.json"
_LETTERS = "BCDFGHJKLMNPQRSTVWXZ"  # no vowels: no words, and nothing that looks like a digit
_GROUPS, _EACH = 3, 3  # letters of a ticket: 20^9, some 39 bits
_NAME = re.compile(rf"[{_LETTERS}]{{6}}")
_TICKET = re.compile(rf"S?(\d{{1,4}})([{_LETTERS}]{{{_GROUPS * _EACH}}})")
_COMMENT = re.compile(r"^# (S\d+: .*)$", re.MULTILINE)
_OWN = 0o700
_lock = threading.RLock()  # two requests must not write one file


@dataclass(frozen=True, slots=True)
class KeptClass:
    """One class.

    Args:
        name: by which it is opened; six letters.
        folder: where its files are.
        title: of its sheet.
        made_utc_s: when it was made [s since 1970].
        tickets: what each student types to come in, by number.
        given: the marks that students may see, by code; None until they are given.
        seen: codes of those who have seen their marks, and with them what was hidden.
    """

    name: str
    folder: Path
    title: str
    made_utc_s: float
    tickets: Mapping[int, str]
    given: Mapping[str, Any] | None
    seen: tuple[str, ...]

    @property
    def handed_in(self) -> Path:
        """Where it lies what students handed in."""
        return self.folder / HANDED_IN

    def key(self) -> Key:
        """Return the key, read anew."""
        return read_key(self.folder / KEY)

    def told(self) -> list[str]:
        """Return what is hidden, a line for each student; for the instructor alone."""
        return _COMMENT.findall((self.folder / KEY).read_text("utf-8"))

    def log(self, number: int) -> str:
        """Return the log that a student was dealt."""
        # bytes, since a log has the line ends of CSV and is held against what is dealt again
        return (self.folder / STUDENTS / code_of(number) / LOG).read_bytes().decode()

    def answer(self, number: int) -> dict[str, Any] | None:
        """Return what a student has handed in, None for nothing yet.

        Args:
            number: of the student.

        Returns:
            ``answer``, ``plan`` (TOML, or None), ``log`` (CSV) and ``at_utc_s``.
        """
        place = self.handed_in / code_of(number)
        if not (place / ANSWER).is_file():
            return None
        plan = place / PLAN
        return {
            "answer": table_of(place / ANSWER, f"{place.name}/{ANSWER}"),
            "plan": plan.read_text("utf-8") if plan.is_file() else None,
            "log": (place / LOG).read_bytes().decode(),
            "at_utc_s": (place / ANSWER).stat().st_mtime,
        }

    def hand_in(self, number: int, answer: Mapping[str, str], log: str, plan: str | None) -> None:
        """Keep what a student hands in; it takes the place of what they handed in before.

        Args:
            number: of the student.
            answer: words by the names of an answer.
            log: as it is handed in, CSV.
            plan: the sheet that was driven, TOML; None for that of the class.

        Raises:
            BadInput: the marks have been given, or nothing can be written.
        """
        place = self.handed_in / code_of(number)
        files = {LOG: log, ANSWER: answer_as_toml(answer)}
        with _lock:
            now = KeptClasses(self.folder.parent.parent).opened(self.name)
            if now.given is not None:
                raise BadInput("ticket", code_of(number), "a class whose marks are not given yet")
            if code_of(number) in now.seen:
                accepted = "one whose marks, which tell what was hidden, were not seen before"
                raise BadInput("ticket", code_of(number), accepted)
            (place / PLAN).unlink(missing_ok=True)
            write_into(place, files if plan is None else {PLAN: plan, **files}, HANDED_IN)
            _down(place)

    def weigh(self, weights: Mapping[str, float]) -> None:
        """Put other weights of the marks into the key.

        Args:
            weights: of the parts.
        """
        with _lock:
            key = self.key()
            changed = Key(key.secret, key.sheet, key.students, key.hidden, weights)
            write_into(self.folder, {KEY: key_text(changed, self.told())}, KEY)

    def give(self, marks: Mapping[str, Any] | None) -> None:
        """Let students see their marks, or take them back.

        Args:
            marks: what each may see, by code; None takes them back.
        """
        self._change(given=None if marks is None else dict(marks))

    def shown_to(self, number: int) -> Any:
        """Return what a student may see of the marks; whoever has seen them hands nothing in.

        Args:
            number: of the student.
        """
        code = code_of(number)
        marks = None if self.given is None else self.given.get(code)
        if marks is not None and code not in self.seen:
            self._change(seen=sorted({*self.seen, code}))
        return marks

    def _change(self, **changed: Any) -> None:
        with _lock:
            about = json.loads((self.folder / _ABOUT).read_text("utf-8"))
            if "seen" in changed:  # others may have looked since this class was read
                changed["seen"] = sorted({*about["seen"], *changed["seen"]})
            _write_about(self.folder, {**about, **changed})

    def packed(self) -> bytes:
        """Return all its files but the tickets as a zip, which the commands take once unpacked."""
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
            for path in sorted(self.folder.rglob("*")):
                if path.is_file() and path.name != _ABOUT:
                    archive.write(path, str(Path(self.name, path.relative_to(self.folder))))
        return out.getvalue()


class KeptClasses:
    """The classes that this user keeps; every call reads the folder anew.

    Args:
        folder: of the user's records; the usual place when left out.
    """

    def __init__(self, folder: Path | None = None) -> None:
        self._folder = (library_folder() if folder is None else folder) / CLASSES

    def listed(self) -> tuple[KeptClass, ...]:
        """Return all classes, the newest first."""
        names = os.listdir(self._folder) if self._folder.is_dir() else []
        found = [self.opened(n) for n in names if _NAME.fullmatch(n) and self._about(n).is_file()]
        return tuple(sorted(found, key=lambda one: -one.made_utc_s))

    def opened(self, name: str) -> KeptClass:
        """Return a class.

        Args:
            name: of the class.

        Raises:
            BadInput: there is none.
        """
        if not _NAME.fullmatch(name) or not self._about(name).is_file():
            raise BadInput("class", name, "one of the classes that are kept here")
        try:
            about = json.loads(self._about(name).read_text("utf-8"))
            tickets = {int(number): ticket for number, ticket in about["tickets"].items()}
            told = (about["title"], about["made_utc_s"], tickets, about["given"])
            seen = tuple(about["seen"])
        except (OSError, ValueError, KeyError, AttributeError) as problem:
            accepted = f"a class whose {_ABOUT} can be read: mend its folder or move it away"
            raise BadInput("class", name, accepted) from problem
        return KeptClass(name, self._folder / name, *told, seen)

    def make(self, title: str, fill: Callable[[str], tuple[int, ...]]) -> KeptClass:
        """Make a class; it is there once everything in it is.

        Args:
            title: of its sheet.
            fill: writes the files of `forerun hide` into a folder and returns the numbers of the
                students.

        Raises:
            BadInput: whatever `fill` refuses; then no class is left behind.
        """
        name = _drawn(6)
        place = self._folder / name
        try:
            self._folder.mkdir(mode=_OWN, parents=True, exist_ok=True)
            place.mkdir(mode=_OWN)
        except OSError as problem:
            reason = (problem.strerror or type(problem).__name__).lower()
            accepted = f"a folder that can be made ({reason})"
            raise BadInput("class", str(self._folder), accepted) from problem
        try:
            numbers = fill(str(place))
            tickets = {str(number): _ticket(number) for number in numbers}
            about = {"title": title, "made_utc_s": time.time(), "tickets": tickets}
            about |= {"given": None, "seen": []}
            _write_about(place, about)
        except BaseException:
            shutil.rmtree(place, ignore_errors=True)
            raise
        return self.opened(name)

    def by_ticket(self, ticket: str) -> tuple[KeptClass, int]:
        """Return the class and the number of a student.

        Args:
            ticket: as it was typed; spaces, dashes and small letters are no matter.

        Raises:
            BadInput: no such ticket.
        """
        match = _TICKET.fullmatch(re.sub(r"[\s-]", "", ticket).upper())
        if match is not None:
            number, typed = int(match[1]), _grouped(int(match[1]), match[2])
            for one in self.listed():
                if hmac.compare_digest(one.tickets.get(number, ""), typed):
                    return one, number
        raise BadInput("ticket", ticket, 'what stands on your slip, such as "S07-BCD-FGH-JKL"')

    def erase(self, name: str) -> int:
        """Take a class and all that was handed in away for good.

        Args:
            name: of the class.

        Returns:
            How many files went.

        Raises:
            BadInput: there is none, or it cannot be taken away.
        """
        with _lock:
            folder = self.opened(name).folder
            count = sum(path.is_file() for path in folder.rglob("*"))
            try:
                shutil.rmtree(folder)
            except OSError as problem:
                raise BadInput("class", name, "a folder that can be taken away") from problem
        return count

    def _about(self, name: str) -> Path:
        return self._folder / name / _ABOUT


def _drawn(count: int) -> str:
    return "".join(secrets.choice(_LETTERS) for _ in range(count))


def _ticket(number: int) -> str:
    """Return a ticket drawn by chance, so that it tells nothing of the words of the key."""
    return _grouped(number, _drawn(_GROUPS * _EACH))


def _grouped(number: int, letters: str) -> str:
    parts = [letters[k : k + _EACH] for k in range(0, len(letters), _EACH)]
    return "-".join([code_of(number), *parts])


def _write_about(folder: Path, about: Mapping[str, Any]) -> None:
    write_into(folder, {_ABOUT: json.dumps(about, ensure_ascii=False, indent=1)}, _ABOUT)
    _down(folder)


def _down(folder: Path) -> None:
    """Have the disk take the files of a folder before anybody is told that they are kept."""
    for path in folder.iterdir():
        if path.is_file():
            with path.open("r+b") as file:
                os.fsync(file.fileno())
