"""A run sheet back into the words of its keys: as a table, and as TOML."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from forerun.core.quantities import Quantity
from forerun.sheets.fields import CourseGiven
from forerun.sheets.form import Form
from forerun.sheets.model import RunSheet
from forerun.sheets.variants import form_of

__all__ = ["table_of", "toml_of"]

_COURSE_UNITS = {"pressure": "Pa", "bath": "K", "reflux_ratio": ""}


def table_of(sheet: RunSheet) -> dict[str, Any]:
    """Return the keys that a sheet was written with, ready for JSON.

    Args:
        sheet: from `forerun.sheets.resolving.load`, or a variant of such a one.

    Returns:
        The tables and keys that `load` takes; defaults are left out.
    """
    return _table(form_of(sheet))


def _table(form: Form) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key in type(form).model_fields:
        value = getattr(form, key)
        if value is None or value == []:
            continue
        plain = _plain(key, value)
        if plain != {}:
            found[key] = plain
    return found


def _plain(key: str, value: object) -> Any:
    if isinstance(value, Form):
        return _table(value)
    if isinstance(value, list):
        return [_plain(key, entry) for entry in value]
    if isinstance(value, Quantity):
        return value.text
    if isinstance(value, CourseGiven):
        return _course(key, value)
    if isinstance(value, date):
        return value.isoformat()
    return value


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


def toml_of(sheet: RunSheet) -> str:
    """Return a sheet as the text of a TOML file.

    Args:
        sheet: as for `table_of`.
    """
    table = table_of(sheet)
    lines = [f"{k} = {_word(v)}" for k, v in table.items() if not isinstance(v, dict | list)]
    for key, value in table.items():
        if isinstance(value, list):
            for row in value:
                lines += ["", f"[[{key}]]", *_rows(row)]
        elif isinstance(value, dict):
            lines += ["", f"[{key}]", *_rows(value)]
    return "\n".join(lines) + "\n"


def _rows(table: Mapping[str, Any]) -> list[str]:
    return [f"{key} = {_word(value)}" for key, value in table.items()]


def _word(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        escaped = value.replace("\\", "\\\\").replace('"', '\\"')
        return f'"{escaped}"'
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{k} = {_word(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(_word(v) for v in value) + "]"
    return str(value)
