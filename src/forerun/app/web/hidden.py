"""Runs with something hidden in them over HTTP: an instructor makes a class, students come in.

A student comes in by the ticket on their slip and gets the task, the log and what they handed in
themselves. Nothing that they are sent is made from what is hidden but the log, and, once the
instructor has given them, their own marks.
"""

from __future__ import annotations

import base64
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from forerun.app.web.bodies import pop_flag, pop_optional, pop_text, refuse_rest
from forerun.app.web.hidden_student import STUDENT
from forerun.app.web.question import SHEET, Progress, Question
from forerun.app.web.sent_sheet import sheet_from
from forerun.core.errors import BadInput

if TYPE_CHECKING:
    from forerun.app.class_kept import KeptClass
    from forerun.reporting.class_marks import MarkedClass
    from forerun.sheets.model import RunSheet

__all__ = ["HIDDEN", "classes_listed"]


def classes_listed(_body: dict[str, Any]) -> dict[str, Any]:
    """Return the classes that are kept, the newest first."""
    from forerun.app.class_kept import KeptClasses

    rows = [
        {
            "class": one.name,
            "title": one.title,
            "made_utc_s": one.made_utc_s,
            "students": len(one.tickets),
            "handed_in": sum(one.answer(number) is not None for number in one.tickets),
            "given": one.given is not None,
        }
        for one in KeptClasses().listed()
    ]
    return {"classes": rows}


def _choices(body: dict[str, Any], _progress: Progress | None) -> dict[str, Any]:
    from forerun.app.ready import kernels_ready
    from forerun.running.mystery import Hidden, checked, hideable, labels_of

    sheet = sheet_from(body)
    refuse_rest(body, "sheet (or its own keys)")
    kernels_ready()
    goal = checked(sheet, Hidden())
    labels = labels_of(hideable(sheet))
    return {
        "title": sheet.title,
        "first": sheet.names[0],
        "last": sheet.names[-1],
        "wanted": goal.name,
        "faults": [{"name": name, "label": label} for name, label in labels.items()],
    }


def _make(body: dict[str, Any], progress: Progress | None) -> dict[str, Any]:
    from forerun.app.class_files import numbers_from, weights_from
    from forerun.app.class_kept import KeptClasses
    from forerun.reviewing.marks import WEIGHTS

    students, share = pop_text(body, "students", "24"), pop_optional(body, "share")
    faults, unknowns = (_list(body, key) for key in ("faults", "unknowns"))
    secret = pop_optional(body, "secret")
    weights = weights_from(body.pop("weights", dict(WEIGHTS)), "weights")
    sheet = sheet_from(body)
    refuse_rest(body, "sheet (or its own keys), students, share, faults, unknowns, weights, secret")
    numbers = numbers_from(students, "students")

    def fill(folder: str) -> tuple[int, ...]:
        _hide(sheet, folder, students, share, faults, unknowns, secret, progress)
        return numbers

    made = KeptClasses().make(sheet.title, fill)
    made.weigh(weights)
    return _whole(made)


def _hide(
    sheet: RunSheet,
    folder: str,
    students: str,
    share: str | None,
    faults: list[str] | None,
    unknowns: list[str] | None,
    secret: str | None,
    progress: Progress | None,
) -> None:
    """Write the files of a class as the command does; what it refuses is named as it was sent."""
    from forerun.app.hide import hide

    if secret is not None and len(secret) < _SHORTEST:
        accepted = f"at least {_SHORTEST} letters that nobody guesses, or none: then it is drawn"
        raise BadInput("secret", "…", accepted)
    try:
        hide(
            sheet, folder, students=students, share=share, faults=faults, unknowns=unknowns,
            secret=secret, progress=progress or _unseen,
        )  # fmt: skip
    except BadInput as problem:
        field = problem.field.removeprefix("--").removeprefix("hidden.")
        raise BadInput(field, problem.value, problem.accepted) from problem


def _unseen(_done: int, _total: int) -> None:
    """Tell nobody how far it is: no bar belongs into the log of a server."""


def _list(body: dict[str, Any], key: str) -> list[str] | None:
    found = body.pop(key, None)
    if found is not None and not (isinstance(found, list) and all(_is_text(x) for x in found)):
        raise BadInput(key, found, "a list of names")
    return found


def _is_text(value: object) -> bool:
    return isinstance(value, str)


def _opened(body: dict[str, Any], known: str = "class") -> KeptClass:
    from forerun.app.class_kept import KeptClasses

    name: str = pop_text(body, "class")
    refuse_rest(body, known)
    return KeptClasses().opened(name)


def _class(body: dict[str, Any], _progress: Progress | None) -> dict[str, Any]:
    return _whole(_opened(body))


def _whole(one: KeptClass) -> dict[str, Any]:
    """Return all of a class, what is hidden in it too: for the instructor alone."""
    from forerun.app.class_files import task_lines
    from forerun.running.mystery import code_of

    key = one.key()
    told = dict(line.split(": ", 1) for line in one.told())
    students = []
    for number, ticket in one.tickets.items():
        found, code = one.answer(number), code_of(number)
        students.append(
            {
                "code": code,
                "ticket": ticket,
                "hidden": told.get(code, ""),
                "handed_in_utc_s": None if found is None else found["at_utc_s"],
                "planned": found is not None and found["plan"] is not None,
            }
        )
    return {
        "class": one.name,
        "title": one.title,
        "made_utc_s": one.made_utc_s,
        "task": task_lines(key),
        "weights": dict(key.weights),
        "students": students,
        "given": one.given is not None,
    }


def _marks(body: dict[str, Any], progress: Progress | None) -> dict[str, Any]:
    from forerun.app.class_files import weights_from

    weights = body.pop("weights", None)
    one = _opened(body, "class, weights")
    if weights is not None:
        one.weigh(weights_from(weights, "weights"))
    found = _marked(one, progress)
    told = {mark.code: found.feedback(mark) for mark in found.marks}
    return {**found.to_json(), "shown": {"table": found.csv(), "feedback": told}}


def _marked(one: KeptClass, progress: Progress | None) -> MarkedClass:
    from forerun.app.mark import marked

    if not any(one.answer(number) is not None for number in one.tickets):
        raise BadInput("class", one.name, "a class in which somebody has handed something in")
    return marked(one.key(), str(one.handed_in), None, progress or _unseen)


def _give(body: dict[str, Any], progress: Progress | None) -> dict[str, Any]:
    given = pop_flag(body, "given")
    one = _opened(body, "class, given")
    if not given:
        one.give(None)
        return {"class": one.name, "given": False}
    found = _marked(one, progress)
    seen = {
        mark.code: {
            "total": mark.total,
            "parts": dict(mark.parts),
            "reasons": dict(mark.reasons),
            "instead": mark.instead,
            "text": found.feedback(mark),
        }
        for mark in found.marks
    }
    refused = {code: {"refused": why} for code, why in found.unmarked.items()}
    one.give({**refused, **seen})
    return {"class": one.name, "given": True}


def _slips(body: dict[str, Any], _progress: Progress | None) -> dict[str, Any]:
    from forerun.app.class_files import task_lines
    from forerun.reporting.class_slips import slips_pdf

    one = _opened(body)
    made = slips_pdf(one.title, task_lines(one.key()), tuple(one.tickets.values()))
    return _file("application/pdf", made)


def _folder(body: dict[str, Any], _progress: Progress | None) -> dict[str, Any]:
    return _file("application/zip", _opened(body).packed())


def _file(media_type: str, data: bytes) -> dict[str, Any]:
    return {"media_type": media_type, "base64": base64.b64encode(data).decode()}


def _erase(body: dict[str, Any], _progress: Progress | None) -> dict[str, Any]:
    from forerun.app.class_kept import KeptClasses

    sure = pop_flag(body, "sure")
    one = _opened(body, "class, sure")
    if not sure:
        raise BadInput("sure", "false", "true: nothing brings the class back")
    return {"class": one.name, "erased": KeptClasses().erase(one.name)}


_SHORTEST = 12  # letters of words that deal a class; the log alone lets fewer be found by trying
_CLASS = {"type": "string", "description": "name of the class, six letters"}
_NAMES = {"type": "array", "items": {"type": "string"}}
_WEIGHTS = {"type": "object", "description": "data, reasoning, recovery, purity"}
_PAIR = {"charge": [{"substance": s, "amount": "50 mL"} for s in ("cyclohexane", "toluene")]}


def _of_class(
    act: str,
    summary: str,
    ask: Callable[[dict[str, Any], Progress | None], dict[str, Any]],
    says: str,
    *,
    long: bool = False,
    **takes: Mapping[str, Any],
) -> Question:
    given = {"class": _CLASS, **takes}
    example = {"class": "BCDFGH", **{key: True for key in takes if key in {"given", "sure"}}}
    needs = tuple(example)
    return Question(f"hidden/{act}", summary, ask, given, needs, example, says=says, long=long)


_FLAG = {"type": "boolean"}
_INSTRUCTOR = (
    Question(
        "hidden/choices",
        "What can be hidden in the runs of a sheet.",
        _choices,
        {"sheet": SHEET},
        ("sheet",),
        {"sheet": _PAIR},
        says="`first`, `last`, `wanted` and `faults[]` with name and label.",
    ),
    Question(
        "hidden/make",
        "A run with something hidden in it for each student of a class, as `forerun hide`.",
        _make,
        {
            "sheet": SHEET,
            "students": {"type": "string", "default": "24", "description": '"24", or "1-12,31"'},
            "share": {"type": "string", "description": 'mol% of the first, "30-70" or "50"'},
            "faults": {**_NAMES, "description": "what may go wrong; left out: all that can"},
            "unknowns": {**_NAMES, "description": "one of these stands in for the last"},
            "weights": _WEIGHTS,
            "secret": {
                "type": "string",
                "minLength": _SHORTEST,
                "description": "the same words deal the same runs; left out: drawn by chance",
            },
        },
        ("sheet",),
        {"sheet": _PAIR, "students": "2", "faults": ["none"]},
        says="As `hidden/class`.",
        long=True,
    ),
    _of_class(
        "class",
        "One class: tickets, who has handed in, what is hidden.",
        _class,
        "`task[]`, `weights{}`, `students[]` with code, ticket, hidden, handed_in_utc_s, `given`.",
    ),
    _of_class(
        "marks",
        "Marks with reasons for what was handed in; other weights go into the key.",
        _marks,
        "As `forerun mark --json` prints, and `shown` with the table and a text for each.",
        long=True,
        weights=_WEIGHTS,
    ),
    _of_class(
        "give",
        "Let students see their marks and hand nothing in any more, or take them back.",
        _give,
        "Whether the marks are given.",
        long=True,
        given=_FLAG,
    ),
    _of_class("slips", "A slip with the task for each student.", _slips, "A PDF as base64."),
    _of_class(
        "folder",
        "All files of a class, the key too, as the commands take them.",
        _folder,
        "A zip as base64.",
    ),
    _of_class(
        "erase",
        "Take a class and what was handed in away for good.",
        _erase,
        "How many files went.",
        sure=_FLAG,
    ),
)

HIDDEN: Mapping[str, Question] = {one.name: one for one in (*_INSTRUCTOR, *STUDENT)}
"""Every question by the last part of its path, ``/api/<name>``."""
