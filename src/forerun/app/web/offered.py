"""What the page offers to choose from: examples, names of liquids, the drawer."""

from __future__ import annotations

import tomllib
from functools import cache
from typing import Any

from forerun.app.example import DEMO, listed_examples
from forerun.core.errors import BadInput
from forerun.glassware.drawer import flask_volumes, item, item_names
from forerun.sheets.examples import example
from forerun.sheets.reading import read_text

__all__ = ["examples", "offered", "sheet_of_text"]

_KINDS = ("column", "condenser", "bath", "lagging", "thermometer")


def examples() -> dict[str, Any]:
    """Return every ready sheet as a table, the demo first."""
    rows = [
        {"name": name, "title": title, "sheet": tomllib.loads(example(name))}
        for name, title in listed_examples().entries
    ]
    return {"demo": DEMO, "examples": sorted(rows, key=lambda row: row["name"] != DEMO)}


@cache
def offered() -> dict[str, Any]:
    """Return names of liquids and what the drawer holds."""
    from forerun.substances.catalogue import all_substances

    return {
        "substances": sorted((s.name for s in all_substances()), key=str.casefold),
        "drawer": {kind: [_item(kind, name) for name in item_names(kind)] for kind in _KINDS},
        "flasks_m3": list(flask_volumes()),
    }


def _item(kind: str, name: str) -> dict[str, Any]:
    found = item(kind, name)
    wanted = ("diameter_m", "hetp_m", "limit_C", "highest_boilup_mL_min")
    return {
        "name": name,
        "label": found.label,
        "length_m": found.length_m,
        "caution": found.caution,
        **{key: found.spans[key].typical for key in wanted if key in found.spans},
    }


def sheet_of_text(text: str) -> dict[str, Any]:
    """Return a sheet that was opened from a file as a table, with its first complaint if any.

    Args:
        text: TOML.

    Raises:
        BadInput: it is no TOML at all.
    """
    complaint = None
    try:
        read_text(text)
    except BadInput as problem:
        if problem.field == "sheet":
            raise
        complaint = str(problem)
    return {"sheet": _plain(tomllib.loads(text.removeprefix("\ufeff"))), "complaint": complaint}


def _plain(value: Any) -> Any:
    """Return TOML's values as JSON has them: its dates become text."""
    if isinstance(value, dict):
        return {key: _plain(entry) for key, entry in value.items()}
    if isinstance(value, list):
        return [_plain(entry) for entry in value]
    return value if isinstance(value, str | int | float | bool) else str(value)
