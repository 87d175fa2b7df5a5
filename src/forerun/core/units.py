"""The units that people write, each with its dimension and its factor to SI.

Plausible limits belong to the dimension: they stop slips of the pen ("60 L" for "60 mL", a
pressure in the wrong unit), not unusual work.

Source of the factors: BIPM, The International System of Units, 9th edition (2019), table 8;
NIST Special Publication 811 (2008), appendix B (mmHg, torr, atm, psi, degree Fahrenheit).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

__all__ = ["DIMENSIONS", "Dimension", "Unit", "find_unit", "unit_key"]

_LITRE = 1e-3
_MMHG = 133.322387415  # conventional millimetre of mercury, NIST SP 811
_TORR = 101325.0 / 760.0
_PSI = 6894.757293168


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit: SI value = factor * number + offset.

    Args:
        name: how we write it back, e.g. ``mL``.
        factor: SI units in one of this unit.
        offset: SI value of zero in this unit; not zero for Celsius and Fahrenheit only.
        spellings: further ways to write it.
    """

    name: str
    factor: float
    offset: float = 0.0
    spellings: tuple[str, ...] = ()

    def to_si(self, number: float) -> float:
        """Return the SI value of a number in this unit, 60 mL as 6e-05 and not 5.9999e-05."""
        inverse = round(1.0 / self.factor)
        if self.factor < 1.0 and self.factor == 1.0 / inverse:
            return number / inverse + self.offset
        return number * self.factor + self.offset


@dataclass(frozen=True, slots=True)
class Dimension:
    """A kind of quantity with its units and plausible limits.

    Args:
        name: e.g. ``pressure``.
        phrase: how a sentence names it, with its article, e.g. ``a pressure``.
        example: a value as people write it.
        low: smallest plausible value [SI], itself allowed.
        high: largest plausible value [SI], itself allowed.
        limits: the two limits as people write them.
        units: accepted units, the commonest first.
    """

    name: str
    phrase: str
    example: str
    low: float
    high: float
    limits: str
    units: tuple[Unit, ...]

    @property
    def unit_names(self) -> str:
        """The accepted units in one line, e.g. ``mL, L or uL``."""
        names = [unit.name for unit in self.units]
        return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"


_TEMPERATURES = (
    Unit("°C", 1.0, 273.15, ("C", "degC", "deg C", "celsius", "oC", "ºC", "grad C")),
    Unit("K", 1.0, 0.0, ("kelvin",)),
    Unit("°F", 5.0 / 9.0, 459.67 * 5.0 / 9.0, ("F", "degF", "deg F", "fahrenheit", "ºF")),
)
_DIFFERENCES = (
    Unit("K", 1.0, 0.0, ("kelvin", "°C", "C", "degC", "deg C", "ºC")),
    Unit("°F", 5.0 / 9.0, 0.0, ("F", "degF")),
)
_PRESSURES = (
    Unit("mmHg", _MMHG, 0.0, ("mm Hg", "mm")),
    Unit("mbar", 100.0, 0.0, ("millibar",)),
    Unit("bar", 1e5),
    Unit("atm", 101325.0),
    Unit("torr", _TORR),
    Unit("kPa", 1e3),
    Unit("hPa", 100.0),
    Unit("Pa", 1.0),
    Unit("MPa", 1e6),
    Unit("mPa", 1e-3),
    Unit("psi", _PSI),
)
_VOLUMES = (
    Unit("mL", 1e-6, 0.0, ("cm3", "cm^3", "cc", "millilitre", "milliliter")),
    Unit("L", _LITRE, 0.0, ("dm3", "litre", "liter", "litres", "liters")),
    Unit("cL", 1e-5),
    Unit("µL", 1e-9, 0.0, ("uL", "mm3", "microlitre")),
    Unit("m³", 1.0, 0.0, ("m^3", "m3")),
)
_MASSES = (
    Unit("g", 1e-3, 0.0, ("gram", "grams", "gr")),
    Unit("kg", 1.0),
    Unit("mg", 1e-6),
)
_AMOUNTS = (
    Unit("mol", 1.0, 0.0, ("mole", "moles")),
    Unit("mmol", 1e-3),
    Unit("kmol", 1e3),
)
_TIMES = (
    Unit("min", 60.0, 0.0, ("minute", "minutes", "mins")),
    Unit("h", 3600.0, 0.0, ("hour", "hours", "hr", "hrs")),
    Unit("s", 1.0, 0.0, ("sec", "second", "seconds", "secs")),
    Unit("d", 86400.0, 0.0, ("day", "days")),
)
_SHARES = (Unit("%", 1e-2, 0.0, ("percent", "per cent")),)
_STRENGTHS = (
    Unit("mol%", 1e-2, 0.0, ("mol %", "mol-%", "mole%", "mole %", "% mol")),
    Unit("wt%", 1e-2, 0.0, ("wt %", "wt-%", "w/w%", "% w/w", "mass%", "mass %", "% by mass", "m%")),
    Unit("vol%", 1e-2, 0.0, ("vol %", "vol-%", "% v/v", "v/v%", "% by volume", "% vol")),
)

_ALL = (
    Dimension(
        "temperature", "a temperature", "80 °C", 77.0, 773.15, "-196 °C to 500 °C", _TEMPERATURES
    ),
    Dimension(
        "temperature_difference",
        "a temperature difference",
        "5 K",
        -500.0,
        500.0,
        "-500 K to 500 K",
        _DIFFERENCES,
    ),
    Dimension("pressure", "a pressure", "760 mmHg", 0.1, 2e6, "0.001 mbar to 20 bar", _PRESSURES),
    Dimension("volume", "a volume", "60 mL", 0.0, 0.1, "0 to 100 L", _VOLUMES),
    Dimension("mass", "a mass", "25 g", 0.0, 100.0, "0 to 100 kg", _MASSES),
    Dimension("amount", "an amount of substance", "0.5 mol", 0.0, 5e3, "0 to 5 kmol", _AMOUNTS),
    Dimension("time", "a time", "20 min", 0.0, 30 * 86400.0, "0 to 30 days", _TIMES),
    Dimension(
        "length",
        "a length",
        "30 cm",
        0.0,
        10.0,
        "0 to 10 m",
        (
            Unit("cm", 1e-2),
            Unit("mm", 1e-3),
            Unit("m", 1.0),
            Unit("in", 0.0254, 0.0, ("inch", "inches")),
        ),
    ),
    Dimension(
        "conductance",
        "a heat transfer",
        "0.4 W/K",
        0.0,
        1e4,
        "0 to 10 kW/K",
        (
            Unit("W/K", 1.0, 0.0, ("W/°C", "W/C", "W K-1", "W·K-1")),
            Unit("mW/K", 1e-3),
            Unit("kW/K", 1e3),
        ),
    ),
    Dimension(
        "power", "a power", "50 W", 0.0, 1e5, "0 to 100 kW", (Unit("W", 1.0), Unit("kW", 1e3))
    ),
    Dimension(
        "rate",
        "a rate",
        "3 mL/min",
        0.0,
        1e-3,
        "0 to 60 L/min",
        (
            Unit("mL/min", 1e-6 / 60.0),
            Unit("mL/s", 1e-6),
            Unit("mL/h", 1e-6 / 3600.0),
            Unit("L/h", 1e-3 / 3600.0),
        ),
    ),
    Dimension("share", "a percentage", "80 %", 0.0, 1.0, "0 to 100 %", _SHARES),
    Dimension("strength", "a strength", "98 mol%", 0.0, 1.0, "0 to 100 %", _STRENGTHS),
)

DIMENSIONS: Mapping[str, Dimension] = MappingProxyType({d.name: d for d in _ALL})
"""Every dimension by its name."""


def unit_key(text: str) -> str:
    """Return a unit as written without the spaces and dots that do not matter."""
    return "".join(c for c in text if not c.isspace() and c not in ".·*").replace("μ", "µ")


def _tables(dimension: Dimension) -> tuple[dict[str, Unit], dict[str, Unit]]:
    exact: dict[str, Unit] = {}
    for unit in dimension.units:
        for spelling in (unit.name, *unit.spellings):
            exact[unit_key(spelling)] = unit
    exact |= {key.replace("³", "3"): unit for key, unit in exact.items()}
    folded: dict[str, Unit] = {}
    clashes: set[str] = set()
    for key, unit in exact.items():
        low = key.casefold()
        if folded.setdefault(low, unit) is not unit:
            clashes.add(low)  # mPa and MPa: only the exact spelling counts
    return exact, {key: unit for key, unit in folded.items() if key not in clashes}


_TABLES = {d.name: _tables(d) for d in _ALL}


def find_unit(text: str, dimension: str) -> Unit | None:
    """Return the unit of a dimension that a text spells, None when there is none.

    Args:
        text: e.g. ``mL``, ``ml``, ``mm Hg``, ``deg C``.
        dimension: a key of `DIMENSIONS`.

    Returns:
        The unit; capital letters count only where they tell two units apart (mPa, MPa).
    """
    exact, folded = _TABLES[dimension]
    key = unit_key(text)
    return exact.get(key) or folded.get(key.casefold())
