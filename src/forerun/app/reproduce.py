"""`forerun reproduce`: ask a saved answer's question again and compare to the last digit."""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Callable, Iterator, Mapping
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from forerun.app.asked import own_pairs
from forerun.app.asked_files import laid_out
from forerun.core.comparing import compare
from forerun.core.errors import BadInput
from forerun.core.provenance import made_by
from forerun.reporting.plain import to_text
from forerun.reporting.reproduced import Reproduced, Result
from forerun.sheets.model import RunSheet

__all__ = ["reproduce"]

_LARGEST = 64_000_000  # bytes
_MOST = 50  # questions in one file
_DEEPEST = 12  # levels below which no question is looked for
_RESULTS = "results.json"
_OF_THE_DAY = ("standing",)  # says how all kept runs did, so it grows with the library
_OF_THE_PLACE = {"fit": ("file",), "sweep": ("results", "resumed", "workers")}  # where, by whom
_NOT_AGAIN = (
    "another answer; what is said while a run goes on depends on the clock of its room, and the "
    "run's log, which is kept, can be asked with diagnose or review"
)
_SAVED = 'a result that forerun wrote with --json, or the archive of a record; it has "asked" in it'

Words = dict[str, Any]


def reproduce(source: str | Path) -> Reproduced:
    """Ask the questions of a saved answer again, with the same sheet, seed and options.

    Args:
        source: path of an answer in JSON, or of the archive of a record.

    Returns:
        What differs and by how much; and what has changed since: versions, data, machine, pairs.

    Raises:
        BadInput: no such file, or none that carries its question.
    """
    saved = _read(Path(source))
    found = list(_questions(saved))
    if not found:
        raise BadInput("file", str(source), _SAVED)
    if len(found) > _MOST:
        raise BadInput("file", f"{len(found)} questions", f"a file with at most {_MOST}")
    made = saved.get("made_by")
    then = _table(made) if made is not None else _table(found[0][1].get("made_by", {}))
    results, changed = [], _changed(then, made_by())
    for place, answer in found:
        asked = dict(_table(answer["asked"]))
        changed |= _changed_pairs(asked)
        results.append(_again(place, asked, answer))
    return Reproduced(Path(source).name, tuple(results), dict(then), made_by(), changed)


# --- what was saved


def _read(path: Path) -> dict[str, Any]:
    if not path.is_file():
        raise BadInput("file", str(path), _SAVED)
    raw = path.read_bytes() if path.stat().st_size <= _LARGEST else b""
    try:
        if raw.startswith(b"PK"):
            raw = _from_archive(raw)
        saved = json.loads(raw.decode("utf-8"))
    except (ValueError, KeyError, RecursionError, zipfile.BadZipFile) as problem:
        raise BadInput("file", str(path), _SAVED) from problem
    if not isinstance(saved, dict):
        raise BadInput("file", str(path), _SAVED)
    return saved


def _from_archive(raw: bytes) -> bytes:
    with zipfile.ZipFile(io.BytesIO(raw)) as bundle:
        if bundle.getinfo(_RESULTS).file_size > _LARGEST:
            raise ValueError(_RESULTS)
        return bundle.read(_RESULTS)


def _questions(
    saved: Mapping[str, Any], place: str = "", depth: int = 0
) -> Iterator[tuple[str, Mapping[str, Any]]]:
    """Yield every answer with its question in it, and where in the file it stands."""
    if isinstance(saved.get("asked"), Mapping):
        yield place, saved
        return
    if depth == _DEEPEST:
        return
    for key, value in saved.items():
        parts = value if isinstance(value, list) else [value]
        for k, part in enumerate(parts):
            if isinstance(part, Mapping):
                name = f"{key}[{k}]" if isinstance(value, list) else key
                yield from _questions(part, f"{place}.{name}" if place else name, depth + 1)


def _table(value: Any) -> Mapping[str, Any]:
    if not isinstance(value, Mapping):
        raise BadInput("file", str(value)[:60], _SAVED)
    return value


# --- asked again


def _again(place: str, asked: Words, answer: Mapping[str, Any]) -> Result:
    command = asked.pop("command", None)
    ask = _ASK.get(command) if isinstance(command, str) else None
    if ask is None:
        raise BadInput("asked.command", command, f"one of {', '.join(_ASK)}")
    asked.pop("own_pairs", None)  # compared by themselves
    found = json.loads(to_text(ask(asked)))
    if asked:
        raise BadInput("asked", ", ".join(asked), f"nothing else that `{command}` is asked with")
    place_alone = _OF_THE_PLACE.get(str(command), ())
    unlike = {"asked", "made_by", *_OF_THE_DAY, *place_alone}
    kept = {k: v for k, v in found.items() if k not in unlike}
    saved = {key: answer[key] for key in kept if key in answer}
    left = {*answer} - {*kept, "asked", "made_by", *place_alone}
    left -= {key for key in _OF_THE_DAY if answer.get(key) is None}
    extra = tuple(key for key in answer if key in left)
    return Result(str(command), place, compare(saved, kept), extra)


def _look(asked: Words) -> dict[str, Any]:
    from forerun.app.look import look

    return look(_text(asked, "substance"), pressure=_text(asked, "pressure")).to_json()


def _mix(asked: Words) -> dict[str, Any]:
    from forerun.app.mix import mix

    names = _texts(asked, "substances")
    words = {key: asked.pop(key) for key in tuple(asked)}
    try:
        return mix(*names, **words).to_json()
    except TypeError as problem:
        raise BadInput("asked", ", ".join(words), "what `forerun mix` is asked with") from problem


def _foresee(asked: Words) -> dict[str, Any]:
    from forerun.app.foresee import foresee
    from forerun.app.web.shown import thinned

    points = asked.pop("points", None)
    if points is not None and (isinstance(points, bool) or not isinstance(points, int)):
        raise BadInput("asked.points", points, "a whole number")
    found = foresee(_sheet(asked), **_guesses(asked), today=_day(asked))
    return thinned(found, points).to_json()


def _advise(asked: Words) -> dict[str, Any]:
    from forerun.app.advise import advise

    drawer = asked.pop("drawer", None)
    return advise(_sheet(asked), **_guesses(asked), today=_day(asked), drawer=drawer).to_json()


def _diagnose(asked: Words) -> dict[str, Any]:
    from forerun.app.diagnose import diagnose

    return diagnose(_sheet(asked), **_log(asked)).to_json()


def _review(asked: Words) -> dict[str, Any]:
    from forerun.app.review import review

    fit, members = asked.pop("fit", True), asked.pop("members", 0)
    curve = _text(asked, "calibration").encode() if "calibration" in asked else None
    if not isinstance(fit, bool) or isinstance(members, bool) or not isinstance(members, int):
        raise BadInput("asked", f"fit {fit}, members {members}", "true or false, a whole number")
    return review(
        _sheet(asked), **_log(asked), calibration=curve, fit=fit, members=members
    ).to_json()


def _lesson(asked: Words) -> dict[str, Any]:
    from forerun.app.lesson import lesson

    topic = asked.pop("topic", None)
    sheet, day = _sheet(asked), _day(asked)
    return lesson(sheet, today=day, topic=topic).to_json()


def _calibrate(asked: Words) -> dict[str, Any]:
    from forerun.app.calibrate import calibrate

    sheet, day = _sheet(asked), _day(asked)
    return calibrate(sheet, today=day).to_json()


def _fit(asked: Words) -> dict[str, Any]:
    from forerun.app.fit import fit

    words = {key: _text(asked, key) for key in ("pressure", "temperature") if key in asked}
    curve = _text(asked, "calibration").encode() if "calibration" in asked else None
    points, label = _text(asked, "points").encode(), _text(asked, "label")
    names = _texts(asked, "substances")
    return fit(*names, points=points, calibration=curve, label=label, keep=False, **words).to_json()


def _sweep(asked: Words) -> dict[str, Any]:
    from forerun.app.sweep import sweep

    table, vary = _table(asked.pop("table", None)), _texts(asked, "vary")
    asked.pop("substances", None)  # for the user's own points of their pairs
    with TemporaryDirectory(prefix="forerun-") as folder:
        return sweep(table, vary, out=folder).to_json()


def _pool(asked: Words) -> dict[str, Any]:
    from forerun.app.pool import pool

    fit, files = asked.pop("fit", True), asked.pop("files", None)
    if not isinstance(fit, bool):
        raise BadInput("asked.fit", fit, "true or false")
    sheet = _sheet(asked)
    with laid_out(files, "asked.files") as folder:
        return pool(sheet, str(folder), fit=fit).to_json()


def _mark(asked: Words) -> dict[str, Any]:
    from forerun.app.class_files import key_from_object
    from forerun.app.mark import marked

    files = asked.pop("files", None)
    key = key_from_object(_table(asked.pop("key", None)), lambda: _sheet(asked))
    with laid_out(files, "asked.files") as folder:
        return marked(key, str(folder)).to_json()


def _watch(asked: Words) -> dict[str, Any]:
    raise BadInput("asked.command", "watch", _NOT_AGAIN)


_ASK: dict[str, Callable[[Words], dict[str, Any]]] = {
    "look": _look,
    "mix": _mix,
    "foresee": _foresee,
    "advise": _advise,
    "diagnose": _diagnose,
    "review": _review,
    "lesson": _lesson,
    "calibrate": _calibrate,
    "fit": _fit,
    "sweep": _sweep,
    "pool": _pool,
    "mark": _mark,
    "watch": _watch,
}


def _sheet(asked: Words) -> RunSheet:
    """Return the sheet, with the passport of its column as it was then."""
    from forerun.reviewing.passport import with_passport
    from forerun.sheets.reading import read_text
    from forerun.sheets.resolving import resolve

    sheet = resolve(read_text(_text(asked, "sheet")))
    if "passport" not in asked:
        return sheet
    kept = asked.pop("passport")
    return with_passport(sheet, None if kept is None else _table(kept))


def _guesses(asked: Words) -> dict[str, Any]:
    return {key: asked.pop(key) for key in ("members", "seed") if key in asked}


def _log(asked: Words) -> dict[str, Any]:
    """Return the log as bytes, which are never the name of a file."""
    return {key: _text(asked, key).encode() for key in ("readings", "assays") if key in asked}


def _day(asked: Words) -> date:
    text = _text(asked, "today")
    try:
        return date.fromisoformat(text)
    except ValueError as problem:
        raise BadInput("asked.today", text, 'a date such as "2026-03-31"') from problem


def _text(asked: Words, key: str) -> str:
    value = asked.pop(key, None)
    if not isinstance(value, str):
        raise BadInput(f"asked.{key}", value, "a text")
    return value


def _texts(asked: Words, key: str) -> list[str]:
    value = asked.pop(key, None)
    if not isinstance(value, list) or not all(isinstance(one, str) for one in value):
        raise BadInput(f"asked.{key}", value, "a list of texts")
    return value


# --- what has changed since


def _changed(then: Mapping[str, Any], now: Mapping[str, Any]) -> dict[str, tuple[str, str]]:
    """Return what is not as it was: then and now, by name."""
    keys = dict.fromkeys((*then, *now))
    return {
        key: (str(then.get(key, "not said")), str(now.get(key, "not said")))
        for key in keys
        if then.get(key) != now.get(key)
    }


def _changed_pairs(asked: Mapping[str, Any]) -> dict[str, tuple[str, str]]:
    """Return which pairs that the user fitted are others than then."""
    from forerun.sheets.reading import read_text
    from forerun.sheets.resolving import resolve
    from forerun.substances.catalogue import find

    if asked.get("command") == "fit":
        return {}  # made from the models alone
    if isinstance(asked.get("sheet"), str):
        sheet = resolve(read_text(asked["sheet"]))
        substances = [portion.substance for portion in sheet.charge]
    else:
        names = asked.get("substances", ())
        substances = [find(n) for n in names if isinstance(n, str) and not _is_bottle(n)]
    then = asked.get("own_pairs", {})
    found = _changed(then if isinstance(then, Mapping) else {}, own_pairs(substances))
    return {f"your own points of {name}": pair for name, pair in found.items()}


def _is_bottle(name: str) -> bool:
    from forerun.substances.bottles import bottle_named

    return bottle_named(name) is not None
