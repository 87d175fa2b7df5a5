"""Mixtures sold as one bottle: hexanes, xylenes, petroleum ether, turpentine and the like."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

from forerun.core.references import Reference
from forerun.substances.catalogue import find, is_known
from forerun.substances.model import Substance
from forerun.substances.store import FOLDER

__all__ = ["Bottle", "Part", "all_bottles", "bottle_named"]

Entry = dict[str, Any]

_NORMAL_QUANTILE_90 = 1.2815515655446004


@dataclass(frozen=True, slots=True)
class Part:
    """One component of a bottle.

    Args:
        substance: what it is.
        mass_fraction: typical [-]; those of a bottle add up to 1.
        low: what nine bottles in ten exceed [-].
        high: what one bottle in ten exceeds [-].
    """

    substance: Substance
    mass_fraction: float
    low: float
    high: float

    @property
    def spread(self) -> float:
        """One standard deviation of the mass fraction between bottles [-]."""
        return (self.high - self.low) / (2.0 * _NORMAL_QUANTILE_90)


@dataclass(frozen=True, slots=True)
class Bottle:
    """A mixture that is sold under one name.

    Args:
        name: the name that results carry.
        synonyms: other names by which it is found.
        parts: what is typically in it.
        sold_low: lower end of the boiling range on its label [K].
        sold_high: upper end [K].
        reference: where the composition comes from.
    """

    name: str
    synonyms: tuple[str, ...]
    parts: tuple[Part, ...]
    sold_low: float
    sold_high: float
    reference: Reference

    @property
    def mole_fractions(self) -> tuple[float, ...]:
        """(C,) typical mole fractions [-]."""
        moles = [p.mass_fraction / p.substance.molar_mass for p in self.parts]
        return tuple(n / sum(moles) for n in moles)

    @property
    def density(self) -> float:
        """Density at 20 degC, volumes added [kg/m3]."""
        volume = sum(
            p.mass_fraction / p.substance.molar_mass * p.substance.molar_volume.v0
            for p in self.parts
        )
        return 1.0 / volume

    @property
    def told(self) -> str:
        """What is in it, in words."""
        shares = (f"{p.substance.name} {100.0 * p.mass_fraction:.3g}" for p in self.parts)
        return f"{', '.join(shares)} wt%"


def bottle_named(text: str) -> Bottle | None:
    """Return the bottle of a name, None where there is none.

    Args:
        text: as a person writes it; case, hyphens and spaces do not matter.
    """
    if is_known(text):  # by far the most, and they need not wait for the file
        return None
    place = _by_name().get(_plain(text))
    return None if place is None else _bottle_at(place)


def all_bottles() -> tuple[Bottle, ...]:
    """Return every bottle of the file in its order."""
    return tuple(_bottle_at(k) for k in range(len(_entries())))


@cache
def _bottle_at(place: int) -> Bottle:
    return _built(_entries()[place])


@cache
def _entries() -> tuple[Entry, ...]:
    import tomllib  # noqa: PLC0415 -- only a name that is no substance pays for it

    return tuple(tomllib.loads((FOLDER / "bottles.toml").read_text("utf-8"))["bottle"])


@cache
def _by_name() -> dict[str, int]:
    return {
        _plain(name): k
        for k, entry in enumerate(_entries())
        for name in (entry["name"], *entry["synonyms"])
    }


def _plain(text: str) -> str:
    return "".join(c for c in text.casefold().replace("–", "-") if c.isalnum() or c in "%/")


def _built(entry: Entry) -> Bottle:
    name = entry["name"]
    low, high = entry["sold_C"]
    total = sum(row["typical"] for row in entry["parts"])
    parts = tuple(
        Part(find(row["substance"]), row["typical"] / total, row["low"] / 1e2, row["high"] / 1e2)
        for row in entry["parts"]
    )
    citation = f"composition of {name}: {entry['source']}"
    return Bottle(
        name,
        tuple(entry["synonyms"]),
        parts,
        low + 273.15,
        high + 273.15,
        Reference(f"bottle:{name}", citation),
    )
