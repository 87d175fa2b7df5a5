"""Quantities as people write them, into SI and back: the only place where bench units live.

``parse_quantity("40 ± 1 mL", "volume", "charge[1].amount")`` gives 4e-05 with a standard
uncertainty of 1e-06 (both in m3). What stands after the sign ± is read as one standard
deviation.
"""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import dataclass

from forerun.core.errors import BadInput
from forerun.core.formats import (
    decimals_for,
    format_amount,
    format_band,
    format_boiling_range,
    format_fraction,
    format_mass,
    format_number,
    format_per_cent,
    format_pressure,
    format_temperature,
    format_temperature_difference,
    format_time,
    format_volume,
)
from forerun.core.units import DIMENSIONS, Dimension, Unit, find_unit

__all__ = [
    "Quantity",
    "accepted_text",
    "decimals_for",
    "format_amount",
    "format_band",
    "format_boiling_range",
    "format_fraction",
    "format_mass",
    "format_number",
    "format_per_cent",
    "format_pressure",
    "format_temperature",
    "format_temperature_difference",
    "format_time",
    "format_volume",
    "parse_quantity",
]

_LONGEST = 80  # characters; nobody writes a longer quantity
_NUMBER = r"[+-]?(?:\d[\d ']*(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d{1,3})?"
_QUANTITY = re.compile(
    rf"(?P<number>{_NUMBER})\s*(?P<unit>[^\d\s±+-][^±]*?)?\s*"
    rf"(?:±\s*(?P<sigma>{_NUMBER})\s*(?P<after>[^\d\s±+-][^±]*?)?)?"
)
_PIECE = re.compile(r"(\d+(?:[.,]\d+)?)\s*([a-z]+)", re.IGNORECASE)
_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2}(?:,\d{3})+")


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value with its uncertainty, in SI.

    Args:
        value: [SI unit of the dimension].
        sigma: one standard deviation [same unit]; 0 where none was written.
        dimension: key of `forerun.core.units.DIMENSIONS`.
        unit: the unit that was written, e.g. ``wt%``: for strengths it tells the basis.
        text: what was written.
    """

    value: float
    sigma: float
    dimension: str
    unit: str
    text: str


def parse_quantity(
    text: object,
    dimension: str | tuple[str, ...],
    field: str,
    *,
    low: float | None = None,
    high: float | None = None,
    low_excluded: bool = False,
) -> Quantity:
    """Read a quantity as people write it.

    Args:
        text: e.g. ``60 mL``, ``40 ± 1 mL``, ``0,5 bar``, ``1 h 20 min``, ``95 wt%``.
        dimension: the dimension, or those of which any will do, e.g. volume, mass or amount.
        field: where it stands, for the error, e.g. ``charge[1].amount``.
        low: lowest value [SI] that makes sense here, if tighter than the dimension's own.
        high: highest value [SI] that makes sense here, likewise.
        low_excluded: whether the lowest value itself is refused, e.g. an amount of nothing.

    Returns:
        Value and standard uncertainty in SI.

    Raises:
        BadInput: not a text, no unit, unknown unit, not a number, or outside the limits.
    """
    names = (dimension,) if isinstance(dimension, str) else dimension
    accepted = accepted_text(names)
    if not isinstance(text, str):
        raise BadInput(field, text, accepted)
    tidy = _tidy(text)
    if not tidy or len(tidy) > _LONGEST:
        raise BadInput(field, text, accepted)
    quantity = None
    if "time" in names:
        quantity = _compound_time(tidy, text)
    quantity = quantity or _simple(tidy, text, names, field, accepted)
    _check_limits(quantity, field, low, high, low_excluded)
    return quantity


def accepted_text(dimensions: str | tuple[str, ...]) -> str:
    """Return the sentence part that says what a field takes, with an example.

    Args:
        dimensions: one key of `DIMENSIONS` or several.

    Returns:
        E.g. ``a volume in mL, L, cL, µL or m³, such as "60 mL"``.
    """
    names = (dimensions,) if isinstance(dimensions, str) else dimensions
    if len(names) == 1:
        d = DIMENSIONS[names[0]]
        return f'{d.phrase} with its unit ({d.unit_names}), such as "{d.example}"'
    known = [DIMENSIONS[name] for name in names]
    units = ", ".join(d.units[0].name for d in known[:-1]) + f" or {known[-1].units[0].name}"
    return f'an amount with its unit ({units}), such as "{known[0].example}"'


def _tidy(text: str) -> str:
    """Fold the ways to write one sign: thin spaces, full-width digits, minus, plus-minus."""
    folded = unicodedata.normalize("NFKC", text)
    folded = re.sub(r"\s*(?:\+/-|\+-|\+/−)\s*", " ± ", folded)
    folded = folded.replace("−", "-").replace("–", "-").replace("’", "'")
    return re.sub(r"\s+", " ", folded).strip()


def _number(text: str) -> float | None:
    """Return the number, None when it cannot be read or reads two ways (1,000)."""
    bare = text.replace(" ", "").replace("'", "")
    if _THOUSANDS.fullmatch(bare) or not any(c.isdigit() for c in bare):
        return None
    try:
        value = float(bare.replace(",", "."))
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def _compound_time(tidy: str, text: str) -> Quantity | None:
    """Read ``1 h 20 min``; None for anything that is not two or more pieces of time."""
    pieces = _PIECE.findall(tidy)
    if len(pieces) < 2 or _PIECE.sub("", tidy).strip(" ,"):
        return None
    total, previous = 0.0, math.inf
    for number, unit_text in pieces:
        unit, value = find_unit(unit_text, "time"), _number(number)
        if unit is None or value is None or unit.factor >= previous:
            return None
        previous = unit.factor
        total += unit.to_si(value)
    return Quantity(total, 0.0, "time", "min", text)


def _simple(tidy: str, text: str, names: tuple[str, ...], field: str, accepted: str) -> Quantity:
    match = _QUANTITY.fullmatch(tidy)
    if match is None:
        raise BadInput(field, text, accepted)
    value = _number(match["number"])
    if value is None:
        hint = ' (write "1000" or "1.0" instead of "1,000")' if "," in tidy else ""
        raise BadInput(field, text, accepted + hint)
    unit_text = match["unit"] or match["after"]
    found = _unit_among(unit_text, names) if unit_text else None
    if found is None:
        raise BadInput(field, text, accepted)
    name, unit = found
    sigma = 0.0
    if match["sigma"]:
        sigma = _sigma(match["sigma"], match["after"] or unit.name, name, unit, value)
        if not 0.0 <= sigma < math.inf:
            raise BadInput(field, text, f'{accepted}, or with its doubt, "40 ± 1 mL"')
    return Quantity(unit.to_si(value), sigma, name, unit.name, text)


def _unit_among(text: str, names: tuple[str, ...]) -> tuple[str, Unit] | None:
    for name in names:
        unit = find_unit(text, name)
        if unit is not None:
            return name, unit
    return None


def _sigma(number: str, unit_text: str, name: str, unit: Unit, value: float) -> float:
    """Return the standard uncertainty [SI]; NaN where it cannot be read."""
    size = _number(number)
    if size is None:
        return math.nan
    own = find_unit(unit_text, name)
    if own is not None:
        return size * own.factor
    if name == "temperature" and find_unit(unit_text, "temperature_difference"):
        return size
    relative = find_unit(unit_text, "share")
    if relative is not None:
        return size * relative.factor * abs(value * unit.factor)
    return math.nan


def _check_limits(
    quantity: Quantity, field: str, low: float | None, high: float | None, low_excluded: bool
) -> None:
    d = DIMENSIONS[quantity.dimension]
    if not d.low <= quantity.value <= d.high:
        raise BadInput(field, quantity.text, f'{d.phrase} of {d.limits}, such as "{d.example}"')
    lowest = d.low if low is None else low
    highest = d.high if high is None else high
    outside = not lowest <= quantity.value <= highest
    if outside or (low_excluded and quantity.value <= lowest):
        raise BadInput(field, quantity.text, _limits_text(d, low, high, low_excluded))
    if quantity.sigma > d.high - d.low:
        raise BadInput(field, quantity.text, f'{d.phrase} with a smaller doubt, "{d.example}"')


def _limits_text(d: Dimension, low: float | None, high: float | None, low_excluded: bool) -> str:
    unit = d.units[0]
    parts = []
    if low is not None or low_excluded:
        lowest = d.low if low is None else low
        word = "above" if low_excluded else "not below"
        parts.append(f"{word} {(lowest - unit.offset) / unit.factor:.4g} {unit.name}")
    if high is not None:
        parts.append(f"not above {(high - unit.offset) / unit.factor:.4g} {unit.name}")
    return f'{d.phrase} {" and ".join(parts)}, such as "{d.example}"'
