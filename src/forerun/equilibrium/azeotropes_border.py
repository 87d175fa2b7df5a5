"""Azeotropes of several components that the band allows close to one of fewer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

from forerun.equilibrium.azeotropes_bands import end_half_width, ln_volatility
from forerun.equilibrium.azeotropes_search import SingularPoint
from forerun.equilibrium.azeotropes_topology import Kind, kind_of
from forerun.equilibrium.band_rules import EIGHTY
from forerun.equilibrium.mixture import Mixture

__all__ = ["Border", "near_borders"]


@dataclass(frozen=True, slots=True)
class Border:
    """An azeotrope that may have a further component in it after all.

    Args:
        components: all of them, the further one included.
        close_to: those of the azeotrope that was found.
        kind: what the azeotrope of all would be.
        probability: that it exists [-].
    """

    components: tuple[int, ...]
    close_to: tuple[int, ...]
    kind: Kind
    probability: float


def near_borders(
    mixture: Mixture,
    points: Sequence[SingularPoint],
    by_model: Sequence[Sequence[SingularPoint]],
) -> list[Border]:
    """Return the sets without a found azeotrope that may have one beside a smaller set's.

    Args:
        mixture: three to five substances.
        points: all singular points that were found.
        by_model: what every activity model finds alone.

    Returns:
        For each set of components the likeliest, however unlikely.

    Validity:
        One liquid; errors of the pairs are taken to act the same way, which widens the band.

    Derivation:
        Where ln(y/x) of an absent component in an azeotrope changes its sign, the azeotrope hands
        its kind to a new one that moves into the larger set.  Half-width of that ln(y/x): the
        half-widths in the pure components, weighted with their mole fractions.
    """
    found: dict[tuple[int, ...], Border] = {}
    standing = {p.components for p in points}
    for point in points:
        if len(point.components) < 2 or point.liquids is not None:
            continue
        for absent in set(range(len(mixture.substances))) - set(point.components):
            face = tuple(sorted((*point.components, absent)))
            if face in standing:
                continue
            width = _half_width(mixture, point, absent, by_model)
            away = abs(ln_volatility(point, absent))
            likely = NormalDist().cdf(-away * EIGHTY / width)
            if face not in found or likely > found[face].probability:
                found[face] = Border(face, point.components, kind_of(point), likely)
    return list(found.values())


def _half_width(
    mixture: Mixture,
    point: SingularPoint,
    absent: int,
    by_model: Sequence[Sequence[SingularPoint]],
) -> float:
    """Half-width of ln(y/x) of an absent component [-]."""
    total = 0.0
    for own in point.components:
        pair = next(p for p in mixture.pairs if set(p.components) == {own, absent})
        width = end_half_width(mixture, pair, own, by_model, of_truth=True)
        total += float(point.mole_fraction[own]) * width
    return total
