"""What is sent, as a table: JSON of limited size and depth."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from typing import Any

import anyio
from starlette.requests import ClientDisconnect, Request

from forerun.app.web.guards import LARGEST_BODY
from forerun.core.errors import BadInput

__all__ = ["pop_count", "pop_flag", "pop_optional", "pop_text", "read_table", "refuse_rest"]

_PATIENCE = 60  # s in which a body must have arrived
_DEEPEST = 12  # brackets; a sheet needs five
_HALF_LETTER = re.compile(r"\\u[dD][89a-fA-F]")
_OBJECT = 'a JSON object, such as {"substance": "toluene"}'


async def read_table(request: Request, *, lenient: bool = False) -> dict[str, Any]:
    """Return the JSON object of a request.

    Args:
        request: that was sent.
        lenient: whether NaN and Infinity, which are no JSON, are taken as texts.

    Raises:
        BadInput: too large, no JSON, no object, nested too deep, or a number that is none.
    """
    raw = bytearray()
    try:
        with anyio.fail_after(_PATIENCE):
            async for piece in request.stream():
                raw += piece
                if len(raw) > LARGEST_BODY:
                    raise BadInput("body", f"{len(raw)} bytes", "at most 1 MB")
    except ClientDisconnect as gone:
        raise BadInput("body", "nothing", _OBJECT) from gone
    except TimeoutError as slow:
        raise BadInput("body", f"{len(raw)} bytes", f"all of it within {_PATIENCE} s") from slow
    return _table_from(bytes(raw), str if lenient else _refuse_constant)


def _table_from(raw: bytes, constant: Callable[[str], object]) -> dict[str, Any]:
    """Return the JSON object in bytes.

    Args:
        raw: UTF-8 text of one JSON object.
        constant: what is made of NaN and Infinity.

    Raises:
        BadInput: as `read_table`.
    """
    try:
        text = raw.decode("utf-8")
        found = json.loads(text, parse_constant=constant)
    except (UnicodeDecodeError, json.JSONDecodeError, RecursionError, ValueError) as problem:
        raise BadInput("body", raw[:60].decode("utf-8", "replace"), _OBJECT) from problem
    if not isinstance(found, dict):
        raise BadInput("body", text, _OBJECT)
    if _HALF_LETTER.search(text) and _has_half_letter(found):
        raise BadInput("body", "half a letter (\\ud800 to \\udfff alone)", "whole letters")
    if _depth(found) > _DEEPEST:
        raise BadInput("body", text, f"a JSON object of at most {_DEEPEST} levels")
    return found


def pop_text(table: dict[str, Any], key: str, default: str | None = None) -> str:
    """Take a text out of a table.

    Raises:
        BadInput: it is missing without a default, or no text.
    """
    value = table.pop(key, default)
    if not isinstance(value, str):
        raise BadInput(key, "nothing" if value is None else value, "a text in quotes")
    return value


def pop_count(table: dict[str, Any], key: str, default: int | None) -> int | None:
    """Take a whole number out of a table.

    Raises:
        BadInput: it is no whole number.
    """
    value = table.pop(key, default)
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int):
        raise BadInput(key, value, "a whole number")
    return value


def pop_optional(table: dict[str, Any], key: str) -> str | None:
    """Take a text that may be left out.

    Raises:
        BadInput: it is no text.
    """
    return pop_text(table, key) if table.get(key) is not None else table.pop(key, None)


def pop_flag(table: dict[str, Any], key: str) -> bool:
    """Take yes or no out of a table; no when left out.

    Raises:
        BadInput: it is neither.
    """
    value = table.pop(key, False)
    if not isinstance(value, bool):
        raise BadInput(key, value, "true or false")
    return value


def refuse_rest(table: Mapping[str, Any], known: str) -> None:
    """Refuse what nobody took out of a table.

    Raises:
        BadInput: a key is left.
    """
    for key in table:
        raise BadInput(str(key), key, f"these keys: {known}")


def _refuse_constant(name: str) -> float:
    raise ValueError(f"{name} is not a number")


def _has_half_letter(found: object) -> bool:
    try:
        json.dumps(found, ensure_ascii=False).encode("utf-8")
    except UnicodeEncodeError:
        return True
    return False


def _depth(value: object, at: int = 1) -> int:
    if at > _DEEPEST + 1 or not isinstance(value, dict | list):
        return at
    inner = value.values() if isinstance(value, dict) else value
    return max((_depth(entry, at + 1) for entry in inner), default=at)
