"""What a student may ask of a hidden run: open it by the ticket, drive it, hand in an answer.

Answers are made from the files of the class that were for students all along. Only the log of a
run that they drive themselves is dealt anew, and whatever goes wrong in that is told in one
sentence that is the same for everybody: the reasons may name what is hidden.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from forerun.app.web.bodies import pop_text, refuse_rest
from forerun.app.web.question import SHEET, Progress, Question
from forerun.app.web.sent_sheet import sheet_from
from forerun.core.errors import BadInput, CalculationFailed, NotCovered

if TYPE_CHECKING:
    from forerun.app.class_files import Key
    from forerun.app.class_kept import KeptClass

__all__ = ["STUDENT"]

_LONGEST = 4000  # letters of one answer


def _in(body: dict[str, Any]) -> tuple[KeptClass, int]:
    from forerun.app.class_kept import KeptClasses

    ticket: str = pop_text(body, "ticket")
    return KeptClasses().by_ticket(ticket)


def _open(body: dict[str, Any], _progress: Progress | None) -> dict[str, Any]:
    from forerun.app.class_files import task_lines
    from forerun.app.web.offered import sheet_of_text
    from forerun.running.mystery import code_of
    from forerun.sheets.writing import toml_of

    one, number = _in(body)
    refuse_rest(body, "ticket")
    key, found = one.key(), one.answer(number)
    plan = None if found is None else found["plan"]
    marks = one.shown_to(number)
    return {
        "code": code_of(number),
        "title": one.title,
        "task": task_lines(key),
        "sheet": sheet_of_text(toml_of(key.sheet, as_written=True))["sheet"],
        "readings": one.log(number) if found is None else found["log"],
        "as_dealt": found is None or found["log"] == one.log(number),
        "asked": _asked(key),
        "answer": None if found is None else found["answer"],
        "handed_in_utc_s": None if found is None else found["at_utc_s"],
        "plan": None if plan is None else sheet_of_text(plan)["sheet"],
        "given": one.given is not None,
        "marks": marks,
    }


def _asked(key: Key) -> list[dict[str, Any]]:
    """Return what students are asked for, with what there is to choose from."""
    from forerun.running.mystery import labels_of

    labels = labels_of(key.hidden.faults)
    choices = {
        "fault": [{"name": name, "label": label} for name, label in labels.items()],
        "share": [],
        "unknown": [{"name": name, "label": name} for name in key.hidden.unknowns],
    }
    return [
        {"question": question, "of": key.sheet.names[0], "choices": choices[question]}
        for question in key.hidden.asked
    ]


def _run(body: dict[str, Any], _progress: Progress | None) -> dict[str, Any]:
    one, number = _in(body)
    plan = _plan(body)
    refuse_rest(body, "ticket, sheet (or its own keys)")
    return {"readings": _driven(one, number, plan)}


def _plan(body: dict[str, Any]) -> str:
    """Take the sheet that a student drives out of what was sent, as it is kept."""
    from forerun.sheets.writing import toml_of

    return toml_of(sheet_from(body), as_written=True)


def _driven(one: KeptClass, number: int, plan: str) -> str:
    """Return the log of a bench that is driven by a plan.

    The plan is read from the words that are kept, so that marking reads the very same.
    """
    from forerun.app.class_files import log_text
    from forerun.app.hide import dealt_of
    from forerun.app.ready import kernels_ready

    kernels_ready()
    sheet = sheet_from({"sheet": plan})
    try:
        return log_text(dealt_of(one.key(), number, sheet).log)
    except (BadInput, NotCovered, CalculationFailed):
        accepted = "one that this bench can be driven by: another bath, pressure or end"
        raise BadInput("programme", sheet.title, accepted) from None


def _hand_in(body: dict[str, Any], _progress: Progress | None) -> dict[str, Any]:
    from forerun.running.mystery import code_of

    one, number = _in(body)
    answer, own = body.pop("answer", None), body.pop("readings", None)
    plan = _plan(body) if body.get("sheet") is not None else body.pop("sheet", None)
    refuse_rest(body, "ticket, answer, sheet, readings")
    words = _words(answer, one.key())
    if own is not None and not isinstance(own, str):
        raise BadInput("readings", own, "the log as the text of a CSV file")
    log = own if own is not None else one.log(number)
    if own is None and plan is not None:
        log = _driven(one, number, plan)
    _read(log)
    one.hand_in(number, words, log, plan)
    return {"code": code_of(number), "handed_in": True}


def _words(answer: object, key: Key) -> dict[str, str]:
    """Return an answer that `forerun mark` can read, and nothing that was not to choose from."""
    from forerun.app.class_answers import answer_from

    asked = {one["question"]: [c["name"] for c in one["choices"]] for one in _asked(key)}
    if not isinstance(answer, dict):
        raise BadInput("answer", answer, "an object with start, end, why")
    for name, text in answer.items():
        if not isinstance(text, str) or len(text) > _LONGEST:
            raise BadInput(f"answer: {name}", text, f"a text of at most {_LONGEST} letters")
        if name not in {*asked, "start", "end", "why"}:
            raise BadInput(f"answer: {name}", text, ", ".join((*asked, "start, end, why")))
        if text and asked.get(name) and text not in asked[name]:
            raise BadInput(f"answer: {name}", text, ", ".join(asked[name]))
    answer_from(answer, "answer")
    return answer


def _read(log: str) -> None:
    """Refuse a log that cannot be read, while whoever hands it in is still there."""
    from forerun.records.readings import read_readings

    read_readings(log.encode(), "readings")


_TICKET = {"type": "string", "description": "from the student's slip"}
_NO_TICKET = "S01-BCD-FGH-JKL"
_BLEND = {"charge": [{"substance": s, "amount": "50 mL"} for s in ("cyclohexane", "toluene")]}

STUDENT = (
    Question(
        "hidden/open",
        "A student's own hidden run: task, log, what they handed in, marks once given.",
        _open,
        {"ticket": _TICKET},
        ("ticket",),
        {"ticket": _NO_TICKET},
        says="`code`, `task[]`, `sheet{}`, `readings` (CSV), `asked[]`, `answer{}`, `marks`.",
    ),
    Question(
        "hidden/run",
        "The log of a student's bench, driven by the programme of their own sheet.",
        _run,
        {"ticket": _TICKET, "sheet": SHEET},
        ("ticket", "sheet"),
        {"ticket": _NO_TICKET, "sheet": _BLEND},
        says="`readings`: the log as CSV.",
    ),
    Question(
        "hidden/hand-in",
        "Hand in an answer; it takes the place of the one before until marks are given.",
        _hand_in,
        {
            "ticket": _TICKET,
            "answer": {"type": "object", "description": "fault, share, unknown, start, end, why"},
            "sheet": {**SHEET, "description": "that was driven; left out: that of the class"},
            "readings": {"type": "string", "description": "the log; left out: as it was dealt"},
        },
        ("ticket", "answer"),
        {"ticket": _NO_TICKET, "answer": {"start": "0 mL", "end": "20 mL"}},
        says="`code` and `handed_in`.",
    ),
)
"""What a bench may ask, each by a ticket."""
