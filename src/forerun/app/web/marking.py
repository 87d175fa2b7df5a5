"""Real runs of a class, marked over HTTP by the files that a browser read."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from forerun.app.web.bodies import refuse_rest
from forerun.app.web.sent_sheet import sheet_from
from forerun.core.errors import BadInput

__all__ = ["runs_marked"]

_MOST = 400  # benches
_FILES = ("readings", "assays", "answer", "sheet")


def runs_marked(
    body: dict[str, Any], progress: Callable[[int, int], None] | None
) -> dict[str, Any]:
    """Return the marks of benches, as `forerun mark-runs` has them, and a text to each.

    Args:
        body: the sheet of the class, ``benches`` with the texts of their files, ``weights``;
            taken apart.
        progress: called with benches done and all.

    Raises:
        BadInput: whatever cannot be used; what is wrong with one bench stands in ``unmarked``.
    """
    from forerun.app.class_files import weights_from
    from forerun.app.mark_runs import RunFiles, marked_runs
    from forerun.reviewing.marks import WEIGHTS

    given, weights = body.pop("benches", None), body.pop("weights", dict(WEIGHTS))
    sheet = sheet_from(body)
    refuse_rest(body, "sheet (or its own keys), benches, weights")
    if not isinstance(given, list) or not 0 < len(given) <= _MOST:
        raise BadInput("benches", given, f"a list of 1 to {_MOST}, each with code and readings")
    benches = [RunFiles(**_files(one, f"benches[{k}]")) for k, one in enumerate(given, 1)]
    codes = [bench.code for bench in benches]
    twice = next((code for code in codes if codes.count(code) > 1), None)
    if twice is not None:
        raise BadInput("benches", twice, "every code once")
    found = marked_runs(sheet, benches, weights_from(weights, "weights"), progress)
    told = {one.code: found.feedback(one) for one in found.marks}
    return {**found.to_json(), "shown": {"table": found.csv(), "feedback": told}}


def _files(one: object, place: str) -> dict[str, Any]:
    from forerun.app.class_files import BENCH_CODE

    if not isinstance(one, dict):
        raise BadInput(place, one, "an object with code and readings")
    table: dict[str, Any] = dict(one)
    code = table.pop("code", None)
    if not isinstance(code, str) or not BENCH_CODE.fullmatch(code):
        accepted = 'up to four letters and a number, such as "B07"; no names of people'
        raise BadInput(f"{place}.code", code, accepted)
    texts: dict[str, Any] = {name: table.pop(name, None) for name in _FILES}
    refuse_rest(table, f"code, {', '.join(_FILES)}")
    for name, text in texts.items():
        if not isinstance(text, str) and (text is not None or name == "readings"):
            raise BadInput(f"{place}.{name}", text, "the text of the file")
    # bytes are what is in a file, never the name of one on this machine
    files = {name: None if text is None else text.encode() for name, text in texts.items()}
    return {"code": code, **files}
