"""Kinds of value of a sheet that are written as one thing per another, as pydantic field types."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Annotated, Any

from pydantic import PlainValidator, WithJsonSchema

from forerun.core.errors import BadInput
from forerun.core.quantities import Quantity
from forerun.sheets.fields import as_pydantic

__all__ = ["DropRate", "MassRate", "MolarMass", "PressureRise"]

_PER = {"s": 1.0, "sec": 1.0, "min": 60.0, "h": 3600.0}
_DROP = 2.5e-8  # m3, forty drops of an organic liquid make a millilitre, from memory
_RATE = re.compile(r"(\d+(?:[.,]\d+)?)\s*([a-zA-Zµ]+)\s*(?:/|per)\s*(\d+(?:[.,]\d+)?)?\s*(\w+)")


def _per(
    units: dict[str, float], low: float, high: float, accepted: str
) -> Callable[[Any], Quantity]:
    def read(value: Any) -> Quantity:
        match = _RATE.fullmatch(value.strip()[:60]) if isinstance(value, str) else None
        found = -1.0
        if match is not None and match[2] in units and match[4] in _PER:
            span = float(match[3].replace(",", ".")) if match[3] else 1.0
            number = float(match[1].replace(",", "."))
            found = number * units[match[2]] / (span * _PER[match[4]]) if span > 0.0 else -1.0
        if not low < found <= high:
            raise BadInput("", value, accepted)
        return Quantity(found, 0.0, "rate", "", str(value))

    return read


def _molar_mass(value: Any) -> Quantity:
    accepted = 'a molar mass from 20 to 5000 g/mol, such as "300 g/mol"'
    match = (
        re.fullmatch(r"(\d+(?:[.,]\d+)?)\s*g\s*/\s*mol", value.strip()[:40])
        if isinstance(value, str)
        else None
    )
    found = 1e-3 * float(match[1].replace(",", ".")) if match is not None else -1.0
    if not 0.02 <= found <= 5.0:
        raise BadInput("", value, accepted)
    return Quantity(found, 0.0, "molar_mass", "g/mol", str(value))


def _type(read: Callable[[Any], Quantity], description: str) -> Any:
    schema = {"type": "string", "description": description}
    return Annotated[Quantity, PlainValidator(as_pydantic(read)), WithJsonSchema(schema)]


_DROPS = 'drops or a volume per time, such as "60 drops/min" or "2 mL/min"'
_STEAM = 'a mass per time up to 1 kg/min, such as "3 g/min"'
_LEAK = 'a pressure per time, such as "1 mbar/min"'
DropRate = _type(
    _per({"drops": _DROP, "drop": _DROP, "mL": 1e-6, "ml": 1e-6}, 0.0, 1e-4, _DROPS), _DROPS
)
MassRate = _type(_per({"g": 1e-3, "kg": 1.0, "mg": 1e-6}, 0.0, 1.0 / 60.0, _STEAM), _STEAM)
PressureRise = _type(
    _per({"mbar": 100.0, "mmHg": 133.322387415, "torr": 133.322368421, "Pa": 1.0}, 0.0, 1e4, _LEAK),
    _LEAK,
)
MolarMass = _type(_molar_mass, 'a molar mass, such as "300 g/mol"')
