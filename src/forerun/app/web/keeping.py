"""The sheets that this user keeps by name, over HTTP."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from forerun.app.web.bodies import pop_count, pop_text, refuse_rest
from forerun.core.errors import BadInput
from forerun.records.kept_sheets import KeptSheets

__all__ = ["ACTS", "kept"]

_LARGEST = 2**53  # a whole number that JSON carries without loss


def kept() -> dict[str, Any]:
    """Return the list, the newest first."""
    rows = [
        {"number": row.number, "name": row.name, "saved_s": row.saved_utc_s}
        for row in KeptSheets().listed()
    ]
    return {"sheets": rows}


def _save(body: dict[str, Any]) -> dict[str, Any]:
    name, sheet = pop_text(body, "name"), body.pop("sheet", None)
    number = pop_count(body, "number", None)
    refuse_rest(body, "name, sheet, number")
    if not isinstance(sheet, dict):
        raise BadInput("sheet", sheet, "the table of a sheet")
    return {"number": KeptSheets().save(name, sheet, number)}


def _open(body: dict[str, Any]) -> dict[str, Any]:
    number = _number(body)
    name, sheet = KeptSheets().opened(number)
    return {"number": number, "name": name, "sheet": sheet}


def _duplicate(body: dict[str, Any]) -> dict[str, Any]:
    return {"number": KeptSheets().duplicate(_number(body))}


def _delete(body: dict[str, Any]) -> dict[str, Any]:
    number = _number(body)
    KeptSheets().delete(number)
    return {"number": number}


def _restore(body: dict[str, Any]) -> dict[str, Any]:
    number = _number(body)
    KeptSheets().restore(number)
    return {"number": number}


def _number(body: dict[str, Any]) -> int:
    number = pop_count(body, "number", None)
    refuse_rest(body, "number")
    if number is None or not 0 < number < _LARGEST:
        raise BadInput("number", number, "the number of a sheet in the list")
    return number


ACTS: Mapping[str, Callable[[dict[str, Any]], dict[str, Any]]] = {
    "save": _save,
    "open": _open,
    "duplicate": _duplicate,
    "delete": _delete,
    "restore": _restore,
}
"""What can be done, by the last part of its path, ``/api/kept/<act>``."""
