"""Residue curves: where a liquid goes that boils away, and where it would have come from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import combinations
from typing import Literal

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput, CalculationFailed
from forerun.equilibrium.arrays import MixtureArrays, scratch_for
from forerun.equilibrium.azeotropes_search import SingularPoint, part_of
from forerun.equilibrium.azeotropes_topology import stability_of
from forerun.equilibrium.liquid_liquid_kernels import binary_gap
from forerun.equilibrium.residue_kernels import residue_path

__all__ = ["ResidueCurve", "Residues"]

Floats = npt.NDArray[np.float64]
Members = tuple[int, ...]

_ROWS = 600
_CLOSE = 0.01  # mole fraction at which a curve counts as having arrived
_LOST = 0.05  # mole fraction within which a curve that crept to a halt is still given its end
_ABSENT = 1e-7  # mole fraction below which a component is not there
_MOST_LN_LEFT = 700.0  # the exponent of a double ends there; met on a way back into a saddle


@dataclass(frozen=True, slots=True, eq=False)
class ResidueCurve:
    """One residue curve, from its start on.

    Args:
        mole_fraction: (n, C) of the liquid in the pot [-].
        temperature_K: (n,) [K].
        second_share: (n,) moles of the second liquid per mole of liquid, NaN over one [-].
        left: (n,) amount over that at the start [-].
        end: the node that it runs into (of the face that it lies in), None where it was lost.
    """

    mole_fraction: Floats
    temperature_K: Floats
    second_share: Floats
    left: Floats
    end: SingularPoint | None


@dataclass(frozen=True, slots=True, eq=False)
class Residues:
    """The residue curves of a mixture at one pressure.

    Args:
        mixture: arrays of C components.
        pressure_Pa: [Pa].
        points: all singular points, from `azeotropes_search.singular_points`.
        miscible: pairs that are known to be one liquid whatever the models say.
    """

    mixture: MixtureArrays
    pressure_Pa: float
    points: tuple[SingularPoint, ...]
    miscible: frozenset[tuple[int, int]] = frozenset()
    _parts: dict[Members, MixtureArrays] = field(default_factory=dict, repr=False)
    _splits: dict[Members, bool] = field(default_factory=dict, repr=False)

    def nodes(
        self, members: Members, kind: Literal["unstable node", "stable node", "saddle"]
    ) -> tuple[SingularPoint, ...]:
        """Return the singular points of a face that are nodes of one kind within it.

        Args:
            members: components of the face, ascending.
            kind: which.
        """
        inside = set(members)
        return tuple(
            p
            for p in self.points
            if set(p.components) <= inside and stability_of(p, members) == kind
        )

    def curve(self, liquid: npt.ArrayLike, direction: Literal[1, -1] = 1) -> ResidueCurve:
        """Follow the residue curve of a liquid to its end.

        Args:
            liquid: (C,) mole fractions [-]; normalised.
            direction: 1 as a still goes, towards heavier liquids; -1 back to where such a liquid
                would have come from.

        Raises:
            BadInput: composition of the wrong length, negative or not finite.
            CalculationFailed: the liquid has no boiling point.

        Source:
            `forerun.equilibrium.residue_kernels.residue_path`.
        """
        z = self._checked(liquid)
        members = tuple(int(i) for i in np.flatnonzero(z > _ABSENT))
        ends = self.nodes(members, "stable node" if direction == 1 else "unstable node")
        part, pick = self._part(members), list(members)
        goals = np.array([p.mole_fraction[pick] for p in ends]).reshape(len(ends), len(members))
        path = np.empty((_ROWS, len(members) + 3))
        count = residue_path(
            self.pressure_Pa,
            np.ascontiguousarray(z[pick]),
            float(np.mean([p.temperature_K for p in self.points])),
            float(direction),
            int(self.splits(members)),
            part,
            scratch_for(part),
            np.ascontiguousarray(goals),
            _CLOSE,
            path,
        )
        if count == 0:
            raise CalculationFailed(
                "the boiling point on a residue curve",
                f"{z} at {self.pressure_Pa:.6g} Pa",
                "Try a pressure between 100 Pa and 2 bar.",
            )
        path = path[: abs(count)]
        whole = np.zeros((len(path), self.mixture.vapour_pressure.shape[0]))
        whole[:, pick] = path[:, : len(members)]
        share = np.where(path[:, -2] < 0.0, np.nan, path[:, -2])
        end = _nearest(whole[-1], ends, _CLOSE if count < 0 else _LOST)
        left = np.exp(np.minimum(path[:, -1], _MOST_LN_LEFT))
        return ResidueCurve(whole, path[:, -3].copy(), share, left, end)

    def origin(self, liquid: Floats) -> SingularPoint | None:
        """Return the unstable node behind a liquid: what a column of many plates gives of it.

        Args:
            liquid: (C,) mole fractions [-].

        Source:
            At total reflux the profile of an endless column runs back along a residue curve, as
            near as matters: Van Dongen & Doherty, Chem. Eng. Sci. 40 (1985) 2087,
            doi:10.1016/0009-2509(85)87026-3 (from memory).
        """
        members = tuple(int(i) for i in np.flatnonzero(liquid > _ABSENT))
        there = self.nodes(members, "unstable node")
        if len(there) == 1:
            return there[0]
        return self.curve(liquid, -1).end

    def splits(self, members: Members) -> bool:
        """Return whether two liquids have to be looked for among some components."""
        if members not in self._splits:
            self._splits[members] = any(
                self._pair_splits(pair) for pair in combinations(members, 2)
            )
        return self._splits[members]

    def _pair_splits(self, pair: tuple[int, int]) -> bool:
        if pair in self.miscible:
            return False
        part, ends = self._part(pair), np.empty(2)
        temperatures = [p.temperature_K for p in self.points]
        return any(
            bool(binary_gap(t, part, scratch_for(part), ends))
            for t in (min(temperatures), max(temperatures))
        )

    def _part(self, members: Members) -> MixtureArrays:
        if members not in self._parts:
            self._parts[members] = part_of(self.mixture, members)
        return self._parts[members]

    def _checked(self, liquid: npt.ArrayLike) -> Floats:
        z = np.array(liquid, dtype=np.float64)
        count = self.mixture.vapour_pressure.shape[0]
        if z.shape != (count,) or not np.isfinite(z).all() or (z < 0.0).any() or z.sum() <= 0.0:
            raise BadInput("composition", liquid, f"{count} mole fractions, none negative")
        normal: Floats = z / z.sum()
        return normal


def _nearest(x: Floats, points: Sequence[SingularPoint], within: float) -> SingularPoint | None:
    """Return the point nearest to a composition, None where none is within a distance [-]."""
    if not points:
        return None
    best = min(points, key=lambda p: float(np.abs(p.mole_fraction - x).max()))
    return best if float(np.abs(best.mole_fraction - x).max()) <= within else None
