"""Answers in a notebook: they show themselves, and give frames, arrays and axes when asked.

matplotlib, pandas and xarray are looked for only then, and nothing else of the program needs them.
"""

from __future__ import annotations

import base64
import html
from collections.abc import Mapping, Sequence
from importlib import import_module
from typing import Any

from forerun.core.errors import BadInput, NotCovered
from forerun.reporting.plain import numbers
from forerun.reporting.tabled import Column, bare_name, tables_of, unit_of

__all__ = ["Notebook"]

_SHOWN = ("cuts", "azeotropes", "pairs", "rigs", "constants")
_MOST_ROWS = 12
_ZERO_C = 273.15  # K
_BENCH = {  # how figures in SI are read at the bench: unit, factor, offset, decimals
    "K": ("°C", 1.0, -_ZERO_C, 1),
    "s": ("min", 1 / 60, 0.0, 0),
    "Pa": ("mmHg", 760 / 101325, 0.0, 0),
    "m3": ("mL", 1e6, 0.0, 1),
    "kg": ("g", 1e3, 0.0, 1),
    "mol": ("mmol", 1e3, 0.0, 0),
    "1": ("", 1.0, 0.0, 3),
}
_TABLE = "border-collapse:collapse;font-variant-numeric:tabular-nums;margin:.5em 0"
_CELL = "padding:.15em .6em;border-bottom:1px solid #ccc;text-align:"


class Notebook:
    """What every answer can do in a notebook; mixed into the answers themselves."""

    __slots__ = ()

    def _repr_html_(self) -> str:
        """Return finding, picture, tables and the answer in words, every text escaped."""
        answer: Any = self
        parts = [f"<p><b>{html.escape(answer.finding)}</b></p>"]
        parts += _pictured(answer)
        for name, columns in tables_of(answer.to_json()).items():
            if name in _SHOWN and columns[0].values:
                parts.append(_table(name, columns))
        return "<div>" + "".join(parts) + "".join(_cautions(answer.warnings)) + "</div>"

    def frames(self) -> dict[str, Any]:
        """Return the tables of the answer as pandas frames, in SI.

        Returns:
            A frame under each name (such as ``cuts``, ``ledger``, ``trace``); what a column is
            counted in stands in its ``attrs["units"]``.

        Raises:
            NotCovered: pandas is not installed.
        """
        pandas = _extra("pandas")
        answer: Any = self
        tables = tables_of(answer.to_json())
        series = self.series()
        if series and not {"trace", "curve"} & set(tables):
            tables["series"] = tables_of({"trace": series})["trace"]
        found = {}
        for name, columns in tables.items():
            frame = pandas.DataFrame({column.name: list(column.values) for column in columns})
            frame.attrs["units"] = {column.name: column.unit for column in columns}
            frame.attrs["finding"] = answer.finding
            found[name] = frame
        return found

    def dataset(self) -> Any:
        """Return what runs along time, volume or composition as xarray data, in SI.

        Returns:
            A dataset whose variables carry ``units``; a composition also runs along ``component``.

        Raises:
            NotCovered: xarray is not installed, or nothing in this answer runs along anything.
        """
        xarray = _extra("xarray")
        series = self.series()
        if not series:
            advice = "ask mix of two substances with curve=41 or drawn=True"
            raise NotCovered("this answer as arrays", "it holds single figures only", advice)
        along = next(iter(series))
        axis = along.partition("_")[0]
        variables: dict[str, Any] = {}
        coordinates: dict[str, Any] = {}
        for key, values in series.items():
            attributes = {"units": unit_of(key) or "1", "long_name": key.replace("_", " ")}
            if isinstance(values, Mapping):
                coordinates["component"] = ("component", list(values))
                rows = [_floats(v) for v in values.values()]
                variables[key] = (("component", axis), rows, attributes)
            elif key == along:
                coordinates[key] = (axis, _floats(values), attributes)
            else:
                variables[key] = (axis, _floats(values), attributes)
        answer: Any = self
        return xarray.Dataset(variables, coordinates, attrs={"finding": answer.finding})

    def draw(self, ax: Any = None) -> Any:
        """Draw the answer's curve onto axes of matplotlib.

        Args:
            ax: axes to draw on; new ones when left out.

        Returns:
            The axes.

        Raises:
            NotCovered: matplotlib is not installed, or there is nothing in this answer to draw.
        """
        if ax is None:
            _, ax = _extra("matplotlib.pyplot").subplots()
        from forerun.reporting.axes import drawn_onto  # noqa: PLC0415 -- only where it is asked for

        return drawn_onto(ax, self)

    def series(self) -> dict[str, Any]:
        """Return what runs along an axis, that axis first: lists, or lists by component, in SI."""
        answer: Any = self
        found = answer.to_json()
        return dict(found.get("trace") or found.get("curve") or {})


def _extra(name: str) -> Any:
    """Return a library that only notebooks need.

    Raises:
        NotCovered: it is not installed.
    """
    package = name.partition(".")[0]
    try:
        return import_module(name)
    except ImportError as problem:
        advice = f'install it with: pip install "forerun[notebook]" (or {package} alone)'
        raise NotCovered(package, "it is not installed here", advice) from problem


def _floats(values: Any) -> list[float]:
    return [float("nan") if value is None else value for value in numbers(values)]


def _pictured(answer: Any) -> list[str]:
    """Return the picture as an image: nothing in it can run, and no two share their names."""
    try:
        drawing = answer.drawing()
    except (AttributeError, BadInput):
        return []  # one substance, or an answer that was not asked for with a picture in mind
    packed = base64.b64encode(drawing.encode()).decode()
    alt = html.escape(answer.finding, quote=True)
    style = "max-width:100%"
    return [f'<img alt="{alt}" style="{style}" src="data:image/svg+xml;base64,{packed}">']


def _table(name: str, columns: Sequence[Column]) -> str:
    """Return a table in bench units; the columns without a figure or a word are left out."""
    kept = [c for c in columns if any(v not in {None, ""} for v in c.values if _hashable(v))]
    head = "".join(_head(column) for column in kept)
    rows = []
    for k in range(min(_MOST_ROWS, len(kept[0].values)) if kept else 0):
        rows.append("<tr>" + "".join(_shown(_named(c, k), c.unit) for c in kept) + "</tr>")
    left = len(columns[0].values) - _MOST_ROWS
    more = f"<p>{left} more rows: frames()</p>" if left > 0 else ""
    caption = f"<caption>{html.escape(name.replace('_', ' '))}</caption>"
    body = f"<thead><tr>{head}</tr></thead><tbody>{''.join(rows)}</tbody>"
    table = f'<table style="{_TABLE}">{caption}{body}</table>'
    return f'<div style="overflow-x:auto">{table}</div>{more}'


def _named(column: Column, row: int) -> Any:
    """Return a value as a person reads it: receiver 0 is the pot, a constant without its unit."""
    value = column.values[row]
    if column.name == "number" and value == 0:
        return "pot"
    return bare_name(value).replace("_", " ") if column.name == "quantity" else value


def _hashable(value: object) -> bool:
    return value is None or isinstance(value, str | int | float)


def _head(column: Column) -> str:
    unit = _BENCH[column.unit][0] if column.unit in _BENCH else column.unit
    words = bare_name(column.name).replace("_", " ")
    return f'<th style="{_CELL}left">{html.escape(words + (f" / {unit}" if unit else ""))}</th>'


def _shown(value: Any, unit: str) -> str:
    if isinstance(value, int | float) and not isinstance(value, bool):
        words = f"{value}" if isinstance(value, int) else f"{value:.4g}"
        if unit in _BENCH:
            _, factor, offset, decimals = _BENCH[unit]
            words = f"{value * factor + offset:.{decimals}f}"
        return f'<td style="{_CELL}right">{words}</td>'
    text = "" if value is None else str(value)
    return f'<td style="{_CELL}left">{html.escape(text)}</td>'


def _cautions(warnings: Sequence[str]) -> list[str]:
    return [f"<p>△ {html.escape(sentence)}</p>" for sentence in warnings]
