"""The drawer as data: what bench glassware usually is, as (low, typical, high) with its origin.

Everything is read from ``data/drawer.toml`` once; a row without a source is refused.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

from forerun.core.errors import BadInput
from forerun.core.quantities import parse_quantity
from forerun.core.references import Reference

__all__ = [
    "Item",
    "Span",
    "drawer_references",
    "find_item",
    "flask_volumes",
    "item",
    "item_names",
    "span",
]

_SIGMAS_IN_SPAN = 4.0  # low to high is read as about 95 %, two standard deviations either way


@dataclass(frozen=True, slots=True)
class Span:
    """A value of the drawer as low, typical and high.

    Args:
        low: lowest to expect (about 95 % lie between low and high) [SI].
        typical: the default [SI].
        high: highest to expect [SI].
        source: key of the reference.
    """

    low: float
    typical: float
    high: float
    source: str

    @property
    def sigma(self) -> float:
        """One standard deviation, the span read as 95 % [SI]."""
        return (self.high - self.low) / _SIGMAS_IN_SPAN

    def times(self, factor: float) -> Span:
        """Return the span times a positive number that counts as exact."""
        return Span(self.low * factor, self.typical * factor, self.high * factor, self.source)


@dataclass(frozen=True, slots=True)
class Item:
    """One thing of the drawer.

    Args:
        name: e.g. ``Vigreux``.
        kind: ``column``, ``condenser``, ``bath``, ``thermometer``, ``lagging`` or ``pump``.
        spans: its values by key, the unit at the key's end.
        length_m: its length [m] where it has one: the written one, or the usual one.
        length_given: whether the length was written.
        caution: a sentence that belongs to it, or empty.
        highest_C: what a condenser is used up to [°C], None for the rest.
        uses_coolant: whether a coolant flows through it.
    """

    name: str
    kind: str
    spans: Mapping[str, Span]
    length_m: float | None = None
    length_given: bool = False
    caution: str = ""
    highest_C: float | None = None
    uses_coolant: bool = False

    @property
    def label(self) -> str:
        """Name and length as a person writes them, ``Vigreux 30 cm``."""
        return self.name if self.length_m is None else f"{self.name} {100 * self.length_m:.4g} cm"


@cache
def _drawer() -> dict[str, Any]:
    text = resources.files("forerun.glassware").joinpath("data/drawer.toml").read_text("utf-8")
    return tomllib.loads(text)


@cache
def drawer_references() -> Mapping[str, Reference]:
    """Return the sources of the drawer's values by key.

    Returns:
        Key to reference; the provenance says what was seen and what is from memory.
    """
    return {
        key: Reference(key, row["citation"], provenance=row["provenance"])
        for key, row in _drawer()["sources"].items()
    }


def _to_span(row: Mapping[str, Any], where: str) -> Span:
    low, typical, high = (float(v) for v in row["span"])
    if row.get("source") not in _drawer()["sources"]:
        raise ValueError(f"drawer.toml, {where}: a value needs a source")
    if not 0.0 <= low <= typical <= high:
        raise ValueError(f"drawer.toml, {where}: not in the order low, typical, high")
    return Span(low, typical, high, row["source"])


def span(section: str, key: str) -> Span:
    """Return a value of the drawer that belongs to no item, e.g. the glass.

    Args:
        section: ``glass``, ``flask`` or ``neck``.
        key: with its unit at the end, e.g. ``density_kg_m3``.

    Returns:
        Low, typical, high [unit of the key].
    """
    return _to_span(_drawer()[section][key], f"{section}.{key}")


def flask_volumes() -> tuple[float, ...]:
    """Return the usual nominal volumes of round flasks.

    Returns:
        Rising volumes [m3].

    Not a published model: common practice.
    """
    return tuple(1e-6 * v for v in _drawer()["flask"]["volumes_mL"])


def item_names(kind: str) -> tuple[str, ...]:
    """Return the names of all items of a kind.

    Args:
        kind: as in `Item`.
    """
    return tuple(_drawer()[kind])


@cache
def item(kind: str, name: str) -> Item:
    """Return an item by its exact name, with its usual length.

    Args:
        kind: as in `Item`.
        name: as `item_names` gives it.
    """
    row = _drawer()[kind][name]
    return Item(
        name=name,
        kind=kind,
        spans={k: _to_span(v, f"{name}.{k}") for k, v in row.items() if isinstance(v, dict)},
        length_m=row.get("length_m"),
        caution=row.get("caution", ""),
        highest_C=row.get("highest_C"),
        uses_coolant=row.get("coolant", False),
    )


def _plain(text: str) -> str:
    return re.sub(r"[\s\-_]+", " ", text).strip().casefold()


def find_item(text: str, kind: str, field: str) -> Item:
    """Return the item that a text names, with a length if it gives one.

    Args:
        text: e.g. ``Vigreux 30 cm``, ``silicone oil``.
        kind: as in `Item`.
        field: where it stands, for the error.

    Returns:
        The item; its length is the written one or the usual one.

    Raises:
        BadInput: for a name that the drawer does not hold, with the nearest ones.
    """
    match = re.fullmatch(r"(?P<name>[^\d]*[^\d\s,+-])[\s,]*(?P<length>[+-]?\d.*)?", text.strip())
    names = {_plain(n): n for n in item_names(kind)}
    words = {_plain(w): n for n in names.values() for w in _drawer()[kind][n].get("words", ())}
    known = words | names
    written = _plain(text)
    name = known.get(written) or (known.get(_plain(match["name"])) if match else None)
    if name is None:
        raise BadInput(field, text, _suggestion(written, known, kind))
    found = item(kind, name)
    if written in known or match is None or not match["length"]:
        return found
    if found.length_m is None:
        raise BadInput(field, text, _suggestion(written, known, kind))
    length = parse_quantity(match["length"], "length", field, low_excluded=True, high=3.0)
    return Item(
        found.name,
        kind,
        found.spans,
        length.value,
        True,
        found.caution,
        found.highest_C,
        found.uses_coolant,
    )


def _suggestion(written: str, known: Mapping[str, str], kind: str) -> str:
    near = difflib.get_close_matches(written, known, n=1, cutoff=0.6)
    start = f'did you mean "{known[near[0]]}"? ' if near else ""
    return f"{start}a {kind} of the drawer: {', '.join(item_names(kind))}"
