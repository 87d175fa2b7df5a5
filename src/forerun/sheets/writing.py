"""A run sheet back into the words of its keys: as a table, and as TOML."""

from __future__ import annotations

import ast
import json
import math
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from forerun.core.quantities import Quantity
from forerun.sheets.fields import CourseGiven
from forerun.sheets.form import Form
from forerun.sheets.model import RunSheet
from forerun.sheets.variants import form_of

__all__ = ["course_words", "end_words", "table_of", "toml_of", "toml_word"]

_ZERO_C = 273.15  # K, by definition
_COURSE_UNITS = {"pressure": "Pa", "bath": "K", "reflux_ratio": ""}


def table_of(sheet: RunSheet, *, as_written: bool = False) -> dict[str, Any]:
    """Return the keys that a sheet was written with, ready for JSON.

    Args:
        sheet: from `forerun.sheets.resolving.load`, or a variant of such a one.
        as_written: courses in the words of the sheet, which give the same numbers to the last
            digit; otherwise in SI, rounded to eight digits.

    Returns:
        The tables and keys that `load` takes; defaults are left out.
    """
    return _table(form_of(sheet), as_written)


def _table(form: Form, as_written: bool) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key in type(form).model_fields:
        value = getattr(form, key)
        if value is None or value == []:
            continue
        plain = _plain(key, value, as_written)
        if plain != {}:
            found[key] = plain
    return found


def _plain(key: str, value: object, as_written: bool) -> Any:
    if isinstance(value, Form):
        return _table(value, as_written)
    if isinstance(value, list):
        return [_plain(key, entry, as_written) for entry in value]
    if isinstance(value, Quantity):
        return value.text
    if isinstance(value, CourseGiven):
        return _words(value.text) if as_written else _course(key, value)
    if isinstance(value, date):
        return value.isoformat()
    return value


def course_words(points: Sequence[tuple[float, float]]) -> list[list[str]]:
    """Return a bath's course as a chemist sets it: whole minutes, whole degrees, never hotter.

    Args:
        points: times [s] and temperatures [K].
    """
    return [[f"{t / 60.0:.0f} min", f"{math.floor(value - _ZERO_C)} °C"] for t, value in points]


def end_words(kind: str, value: float) -> dict[str, str]:
    """Return when a receiver is changed, as a row of ``[[switch]]``, to what a bench can read.

    Args:
        kind: ``head`` or ``volume``.
        value: [K] or [m3].
    """
    words = f"{value - _ZERO_C:.1f} °C" if kind == "head" else f"{1e6 * value:.1f} mL"
    return {kind: words}


def _words(text: str) -> Any:
    """Return what a course was written as: the text, or the list that it was read from."""
    return ast.literal_eval(text) if text.startswith(("[", "(")) else text


def _course(key: str, course: CourseGiven) -> Any:
    unit = _COURSE_UNITS[key]

    def written(value: float) -> Any:
        if not unit:
            return "total" if value == float("inf") else value
        return f"{value:.8g} {unit}"

    if len(course.points) == 1:
        single = course.points[0][1]
        doubt = f" ± {course.sigma:.6g} {unit}" if course.sigma > 0.0 and unit else ""
        return f"{written(single)}{doubt}" if doubt else written(single)
    return [[f"{time:.8g} s", written(value)] for time, value in course.points]


def toml_of(sheet: RunSheet, *, as_written: bool = False) -> str:
    """Return a sheet as the text of a TOML file.

    Args:
        sheet: as for `table_of`.
        as_written: likewise.
    """
    table = table_of(sheet, as_written=as_written)
    lines = [f"{k} = {toml_word(v)}" for k, v in table.items() if not isinstance(v, dict | list)]
    for key, value in table.items():
        if isinstance(value, list):
            for row in value:
                lines += ["", f"[[{key}]]", *_rows(row)]
        elif isinstance(value, dict):
            lines += ["", f"[{key}]", *_rows(value)]
    return "\n".join(lines) + "\n"


def _rows(table: Mapping[str, Any]) -> list[str]:
    return [f"{key} = {toml_word(value)}" for key, value in table.items()]


def toml_word(value: object) -> str:
    """Return a value as TOML has it.

    Args:
        value: a text, a number, true or false, or a list or table of such.
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        # the escapes of JSON are among those of TOML, but for this one sign
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{k} = {toml_word(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(toml_word(v) for v in value) + "]"
    return str(value)
