"""`forerun mix`: whether boiling parts substances."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from forerun.app.asked import asked_of_substances
from forerun.app.mix_charge import charge_from
from forerun.app.mix_maps import more_of, pressures_from
from forerun.app.ready import kernels_ready
from forerun.core.errors import BadInput
from forerun.core.quantities import parse_quantity
from forerun.core.references import Reference
from forerun.reporting.mix import Mix
from forerun.reporting.mix_parts import BoilingDiagram, BubblePoint, PairVolatility
from forerun.substances.bottles import bottle_named
from forerun.substances.catalogue import find
from forerun.substances.model import Substance

if TYPE_CHECKING:
    from forerun.equilibrium.mixture import Mixture

__all__ = ["fractions_from", "mix"]

Floats = npt.NDArray[np.float64]

_FEWEST, _MOST = 2, 5
_MOST_DRAWN = 3
_FEWEST_POINTS, _MOST_POINTS = 2, 2001
_SUM_WITHIN = 2e-3  # three decimals of three fractions may miss 1 by this much
_SCAN = np.linspace(0.001, 0.999, 41)  # mole fractions at which relative volatilities are compared


def fractions_from(text: str) -> list[float]:
    """Read mole fractions as they are typed.

    Args:
        text: e.g. ``0.3,0.7``.

    Raises:
        BadInput: a part is not a number.
    """
    try:
        return [float(part) for part in text.replace(";", ",").split(",")]
    except ValueError as problem:
        accepted = 'mole fractions with commas between them, such as "0.3,0.7"'
        raise BadInput("--at", text, accepted) from problem


def mix(
    *substances: str,
    pressure: str = "760 mmHg",
    at: Sequence[float] | None = None,
    dissolved: float = 0.0,
    curve: int | None = None,
    charge: str | Sequence[float] | None = None,
    settle: str | None = None,
    between: str | None = None,
    drawn: bool = False,
) -> Mix:
    """Return azeotropes and relative volatilities of two to five substances.

    Args:
        substances: each a name, synonym, CAS number, InChIKey or SMILES.
        pressure: as people write it, e.g. ``1 atm``.
        at: mole fractions of a liquid whose boiling point is wanted, one per substance [-].
        dissolved: moles of dissolved particles that do not boil, ions counted each, per mole of
            the whole liquid of ``at`` (whose fractions are of the volatile part), up to 0.2 [-].
        curve: number of points of the boiling diagram of two substances [-].
        charge: what is in the pot, in mole fractions, wt%, g, mL or mol: in which order it gives
            what.
        settle: temperature of a funnel in which the charge stands, e.g. ``25 °C``.
        between: two pressures between which the azeotropes are followed, e.g. ``0.1 bar, 2 bar``.
        drawn: whether `Mix.drawing` will be called, for two or three substances.

    Returns:
        What was found, with bands and sources.

    Raises:
        BadInput: an unknown substance, two equal ones, a pressure or fractions out of range.
    """
    given = ", ".join(substances)
    alone = len(substances) == 1 and bottle_named(substances[0]) is not None
    if not (alone or _FEWEST <= len(substances) <= _MOST):
        raise BadInput("substances", given, "two to five substances, with spaces between them")
    found, written, opened = _opened(substances)
    _refuse_equal(found, written)
    at_pressure = parse_quantity(pressure, "pressure", "pressure", low_excluded=True).value
    liquid = None if at is None else _liquid(at, len(found))
    if dissolved != 0.0 and at is None:
        raise BadInput("--dissolved", f"{dissolved:g}", "an --at with it, the liquid that holds it")
    _check_curve(curve, len(found))
    wishes = _wishes(found, charge, settle, between, drawn, dissolved)
    kernels_ready()
    answer = _answer(found, at_pressure, liquid, curve, wishes)
    asked = asked_of_substances(
        "mix",
        found,
        substances=substances,
        pressure=pressure,
        at=at,
        dissolved=dissolved,
        curve=curve,
        charge=charge,
        settle=settle,
        between=between,
        drawn=drawn,
    )
    return replace(answer, notes=(*opened, *answer.notes), asked=asked)


def _opened(substances: Sequence[str]) -> tuple[list[Substance], list[str], list[str]]:
    """Return the substances, mixtures sold as one bottle taken apart, and what to say of those."""
    found: list[Substance] = []
    written: list[str] = []
    opened: list[str] = []
    for n, text in enumerate(substances, start=1):
        bottle = bottle_named(text)
        if bottle is None:
            found.append(find(text, f"substance {n}"))
            written.append(text)
            continue
        found += [part.substance for part in bottle.parts]
        written += [f"{part.substance.name} in {bottle.name}" for part in bottle.parts]
        opened.append(f"{bottle.name} is a mixture; typically {bottle.told}.")
    if len(found) > _MOST:
        names = ", ".join(s.name for s in found)
        raise BadInput("substances", names, f"at most {_MOST} components, mixtures taken apart")
    return found, written, opened


@dataclass(frozen=True, slots=True)
class _Wishes:
    """What is asked for beyond azeotropes."""

    charge: Floats | None
    settle_K: float | None
    between: tuple[float, float] | None
    drawn: bool
    dissolved: float


def _wishes(
    found: Sequence[Substance],
    charge: str | Sequence[float] | None,
    settle: str | None,
    between: str | None,
    drawn: bool,
    dissolved: float,
) -> _Wishes:
    if settle is not None and charge is None:
        raise BadInput("--settle", settle, "a --charge with it, of which layers are asked")
    if drawn and len(found) > _MOST_DRAWN:
        raise BadInput("--out", f"{len(found)} substances", "two or three substances for a picture")
    funnel = None if settle is None else parse_quantity(settle, "temperature", "--settle").value
    return _Wishes(
        None if charge is None else charge_from(charge, found),
        funnel,
        pressures_from(between),
        drawn,
        dissolved,
    )


def _answer(
    found: Sequence[Substance],
    pressure: float,
    liquid: Floats | None,
    curve: int | None,
    wishes: _Wishes,
) -> Mix:
    # here and not above, so that bad input is answered before anything heavy is loaded
    from forerun.equilibrium.azeotropes import find_azeotropes
    from forerun.equilibrium.bubble import boiling_curve
    from forerun.equilibrium.mixture import mixture_of

    mixture = mixture_of(found)
    search = find_azeotropes(mixture, pressure)
    bubble = None
    if liquid is not None:
        bubble = _bubble_point(mixture, liquid, pressure, wishes.dissolved)
    diagram = None
    if curve is not None:
        drawn = boiling_curve(mixture, pressure, curve)
        diagram = BoilingDiagram(drawn.x, drawn.y, drawn.temperature)
    pairs = tuple(_volatility(found, pair, pressure) for pair in combinations(range(len(found)), 2))
    more = more_of(
        mixture,
        search,
        pressure,
        wishes.charge,
        settle_K=wishes.settle_K,
        between=wishes.between,
        drawn=wishes.drawn,
    )
    return Mix(
        mixture,
        pressure,
        search.azeotropes,
        pairs,
        _references(found, mixture.references),
        (*search.warnings, *search.undecided),
        bubble,
        diagram,
        search.possible,
        more,
        search.points,
    )


def _bubble_point(
    mixture: Mixture, liquid: Floats, outside: float, dissolved: float
) -> BubblePoint:
    """Return where a liquid boils, with its bands; what is dissolved only thins it."""
    from forerun.equilibrium.bands import boiling_band, vapour_band
    from forerun.equilibrium.bubble import bubble_temperature
    from forerun.equilibrium.steam import with_residue

    pressure = outside * with_residue(liquid, dissolved)[1]
    temperature, vapour = bubble_temperature(liquid, pressure, mixture)
    band, widths = boiling_band(liquid, pressure, mixture), vapour_band(liquid, pressure, mixture)
    return BubblePoint(
        liquid,
        temperature,
        vapour,
        (temperature - band.half_width, temperature + band.half_width),
        (
            np.clip(vapour - widths.half_width, 0.0, 1.0),
            np.clip(vapour + widths.half_width, 0.0, 1.0),
        ),
        band.origin,
        dissolved,
    )


def _references(found: Sequence[Substance], used: Sequence[Reference]) -> tuple[Reference, ...]:
    """Return what the equilibrium rests on: activities first, then the vapour pressures."""
    from forerun.substances.store import reference

    keys = dict.fromkeys(key for s in found for key in s.vapour_pressure.sources)
    return (*used, *(reference(key) for key in keys))


def _volatility(
    found: Sequence[Substance], pair: tuple[int, int], pressure: float
) -> PairVolatility:
    """Compare liquid and vapour of two substances by themselves over all compositions."""
    from forerun.equilibrium.bubble import bubble_temperature
    from forerun.equilibrium.mixture import mixture_of

    binary = mixture_of([found[k] for k in pair])
    ratios = []
    for x in _SCAN:
        liquid = np.array([x, 1.0 - x])
        _, y = bubble_temperature(liquid, pressure, binary)
        ratios.append(float(y[0] / y[1] * (1.0 - x) / x))
    return PairVolatility(replace(binary.pairs[0], components=pair), min(ratios), max(ratios))


def _refuse_equal(found: Sequence[Substance], written: Sequence[str]) -> None:
    seen: dict[str, str] = {}
    for substance, text in zip(found, written, strict=True):
        if substance.inchikey in seen:
            both = f"{seen[substance.inchikey]} and {text}"
            raise BadInput("substances", both, f"different ones; both are {substance.name}")
        seen[substance.inchikey] = text


def _liquid(at: Sequence[float], count: int) -> Floats:
    accepted = f"{count} mole fractions, none negative, that add up to 1, such as "
    accepted += f'"{",".join(["0.5", "0.5"] if count == 2 else ["0.2"] * (count - 1) + ["…"])}"'
    liquid = np.array(at, dtype=np.float64)
    written = ",".join(f"{x:g}" for x in at)
    if liquid.shape != (count,) or not np.isfinite(liquid).all() or (liquid < 0.0).any():
        raise BadInput("--at", written, accepted)
    if abs(float(liquid.sum()) - 1.0) > _SUM_WITHIN:
        raise BadInput("--at", written, accepted)
    return np.asarray(liquid / liquid.sum(), dtype=np.float64)


def _check_curve(curve: int | None, count: int) -> None:
    if curve is None:
        return
    if count != 2:
        raise BadInput("--curve", curve, "two substances when a boiling diagram is wanted")
    if not _FEWEST_POINTS <= curve <= _MOST_POINTS:
        raise BadInput("--curve", curve, f"{_FEWEST_POINTS} to {_MOST_POINTS} points")
