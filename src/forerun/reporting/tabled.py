"""The contract's object as tables: nested keys become columns, each with its unit."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

__all__ = ["Column", "bare_name", "tables_of", "unit_of"]

_UNITS = {
    "_J_mol_K": "J/(mol K)",
    "_mol_s": "mol/s",
    "_J_mol": "J/mol",
    "_kg_mol": "kg/mol",
    "_kg_m3": "kg/m3",
    "_m3_s": "m3/s",
    "_kg_s": "kg/s",
    "_1_K": "1/K",
    "_mol": "mol",
    "_Pa": "Pa",
    "_kg": "kg",
    "_m3": "m3",
    "_K": "K",
    "_J": "J",
    "_s": "s",
    "_W": "W",
}
_WITHOUT = (
    "fraction",
    "recovery",
    "probability",
    "purity",
    "plates",
    "reflux",
    "volatility",
    "reached",
    "refractive",
)
_BY_COMPONENT = ("ledger",)
_LISTS = (
    "azeotropes",
    "possible_azeotropes",
    "pairs",
    "plateaus",
    "transitions",
    "rigs",
    "gates",
    "findings",
    "replays",
    "unknowns",
)
_PAIR = 2


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table.

    Args:
        name: the key of the contract's object, with the name of the component where there is one.
        unit: of its figures; "1" for fractions and ratios, empty for words.
        values: one for each row; None where there is none.
    """

    name: str
    unit: str
    values: tuple[Any, ...]


def unit_of(key: str) -> str:
    """Return the unit that a key's ending names: "1" for ratios, empty where there is none."""
    bare = key
    for word in (" low", " high", "_band", "_low", "_high", "_20C"):
        bare = bare.removesuffix(word)
    bare = bare.replace("_band_", "_").replace("_20C_", "_")
    for ending, unit in _UNITS.items():
        if bare.endswith(ending):
            return unit
    return "1" if any(word in bare for word in _WITHOUT) else ""


def bare_name(key: str) -> str:
    """Return a key without the ending that names its unit."""
    endings = (ending for ending in _UNITS if unit_of(key) == _UNITS[ending])
    ending = next(endings, "")
    at = key.rfind(ending) if ending else -1
    return key if at < 0 else key[:at] + key[at + len(ending) :]


def tables_of(found: Mapping[str, Any]) -> dict[str, tuple[Column, ...]]:
    """Return the tables that an answer's object holds, by the key that they stand under.

    Args:
        found: what ``to_json()`` returned.

    Returns:
        Series (``trace``, ``curve``), receivers with the pot (``cuts``), ``ledger`` with a row
        for each component, and every list of objects; single figures stand in ``constants``.
    """
    tables = {}
    for key in ("trace", "curve"):
        if found.get(key):
            tables[key] = _series(found[key])
    if found.get("cuts") or found.get("residue"):
        rows = [*found.get("cuts", []), *([found["residue"]] if found.get("residue") else [])]
        tables["cuts"] = _rows(rows)
    for key in _BY_COMPONENT:
        if found.get(key):
            tables[key] = _components(found[key])
    for key in _LISTS:
        if found.get(key):
            tables[key] = _rows(found[key])
    if not tables:
        tables["constants"] = _constants(found)
    return tables


def _series(arrays: Mapping[str, Any]) -> tuple[Column, ...]:
    columns = []
    for key, values in arrays.items():
        named = values.items() if isinstance(values, Mapping) else [("", values)]
        columns += [
            Column(f"{key} {name}".rstrip(), unit_of(key) or "1", tuple(v)) for name, v in named
        ]
    return tuple(columns)


def _rows(rows: Sequence[Mapping[str, Any]]) -> tuple[Column, ...]:
    flat = [dict(_flat(row)) for row in rows]
    keys = dict.fromkeys(key for row in flat for key in row)
    found = []
    for (name, key), values in ((k, tuple(row.get(k) for row in flat)) for k in keys):
        words = any(isinstance(value, str) for value in values)
        found.append(Column(name, "" if words else unit_of(key), values))
    return tuple(found)


def _flat(row: Mapping[str, Any], of: str = "") -> Iterable[tuple[tuple[str, str], Any]]:
    """Give ((name of the column, key that names the unit), value) of one object."""
    for key, value in row.items():
        name = f"{of} {key}" if of else key
        base = key if unit_of(key) or not of else of.split(" ", maxsplit=1)[0]
        if isinstance(value, Mapping):
            yield from _flat(value, name)
        elif isinstance(value, list) and len(value) == _PAIR and all(map(_figure, value)):
            yield (f"{name} low", base), value[0]
            yield (f"{name} high", base), value[1]
        elif isinstance(value, list):
            yield (
                (name, base),
                "; ".join(str(v) for v in value if not isinstance(v, Mapping | list)),
            )
        else:
            yield (name, base), value


def _figure(value: object) -> bool:
    return value is None or (isinstance(value, int | float) and not isinstance(value, bool))


def _components(account: Mapping[str, Any]) -> tuple[Column, ...]:
    places = {key: value for key, value in account.items() if isinstance(value, Mapping)}
    names = tuple(dict.fromkeys(name for place in places.values() for name in place))
    columns = [Column("component", "", names)]
    columns += [
        Column(key, unit_of(key), tuple(value.get(name) for name in names))
        for key, value in places.items()
    ]
    return tuple(columns)


def _constants(found: Mapping[str, Any]) -> tuple[Column, ...]:
    rows = []
    for key, value in found.items():
        if isinstance(value, int | float) and not isinstance(value, bool):
            rows.append((key, value, unit_of(key)))
    at = found.get("at")
    if isinstance(at, Mapping):
        for (name, key), value in _flat(at):
            if _figure(value) and value is not None:
                rows.append((f"at {name}", value, unit_of(key)))
    names, values, units = zip(*rows, strict=True) if rows else ((), (), ())
    return (Column("quantity", "", names), Column("value", "", values), Column("unit", "", units))
