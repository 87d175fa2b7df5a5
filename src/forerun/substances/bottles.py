"""Mixtures sold as one bottle: hexanes, xylenes, petroleum ether, turpentine and the like."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache

from forerun.core.references import Reference
from forerun.substances.catalogue import find
from forerun.substances.claiming import FOLDER
from forerun.substances.model import Substance

__all__ = ["Bottle", "Part", "all_bottles", "bottle_named"]

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
    return _by_name().get(_plain(text))


@cache
def all_bottles() -> tuple[Bottle, ...]:
    """Return every bottle of the file in its order."""
    entries = tomllib.loads((FOLDER / "bottles.toml").read_text("utf-8"))["bottle"]
    return tuple(_built(entry) for entry in entries)


@cache
def _by_name() -> dict[str, Bottle]:
    return {_plain(name): b for b in all_bottles() for name in (b.name, *b.synonyms)}


def _plain(text: str) -> str:
    return "".join(c for c in text.casefold().replace("–", "-") if c.isalnum() or c in "%/")


def _built(entry: dict[str, object]) -> Bottle:
    name = str(entry["name"])
    rows: list[dict[str, object]] = entry["parts"]  # type: ignore[assignment]  # TOML has no types
    low, high = (float(str(v)) for v in entry["sold_C"])  # type: ignore[attr-defined]
    total = sum(float(str(r["typical"])) for r in rows)
    parts = tuple(
        Part(
            find(str(r["substance"])),
            *(float(str(r[k])) / (total if k == "typical" else 100.0) for k in _COLUMNS),
        )
        for r in rows
    )
    return Bottle(
        name,
        tuple(str(s) for s in entry["synonyms"]),  # type: ignore[attr-defined]
        parts,
        low + 273.15,
        high + 273.15,
        Reference(f"bottle:{name}", f"composition of {name}: {entry['source']}"),
    )


_COLUMNS = ("typical", "low", "high")
