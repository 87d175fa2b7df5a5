"""What another pressure does to azeotropes: how they move, where they appear and vanish."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput
from forerun.equilibrium.azeotropes_search import SingularPoint, boiling_points, singular_points
from forerun.equilibrium.mixture import Mixture

__all__ = ["Shift", "shifts_between"]

Floats = npt.NDArray[np.float64]

_STEPS = 9  # pressures, evenly spaced in ln P
_HALVINGS = 9  # of an interval at whose one end an azeotrope exists
_JUMP = 0.25  # mole fraction by which one azeotrope may move from one pressure to the next


@dataclass(frozen=True, slots=True, eq=False)
class Shift:
    """One azeotrope followed through a range of pressures.

    Args:
        components: indices of what it holds.
        pressure_Pa: (n,) pressures at which it exists, ascending [Pa].
        temperature_K: (n,) [K].
        mole_fraction: (n, C) [-].
        appears_Pa: pressure below which it does not exist, None where it exists down to the end
            [Pa].
        vanishes_Pa: pressure above which it does not exist, None where it exists up to the end
            [Pa].
    """

    components: tuple[int, ...]
    pressure_Pa: Floats
    temperature_K: Floats
    mole_fraction: Floats
    appears_Pa: float | None
    vanishes_Pa: float | None

    def passes(self, feed: npt.ArrayLike) -> bool:
        """Return whether a pair's azeotrope moves across a charge of that pair.

        Args:
            feed: (C,) mole fractions [-].
        """
        x = np.array(feed, dtype=np.float64)
        first = self.components[0]
        if len(self.components) != 2 or x[list(self.components)].sum() < x.sum() * (1 - 1e-9):
            return False
        away = self.mole_fraction[:, first] - x[first] / x.sum()
        return bool(away.min() < 0.0 < away.max())


def shifts_between(
    mixture: Mixture,
    low_Pa: float,
    high_Pa: float,
    miscible: frozenset[tuple[int, int]] = frozenset(),
) -> tuple[Shift, ...]:
    """Return how azeotropes move between two pressures.

    Args:
        mixture: 2 to 5 substances; of four and five only the azeotropes of pairs are followed.
        low_Pa: lower pressure [Pa], above 0.
        high_Pa: higher pressure [Pa]; above 2 bar the neglected gas non-ideality is felt.
        miscible: pairs that are known to mix, from `azeotropes.find_azeotropes`.

    Returns:
        One entry for each azeotrope that exists somewhere in the range; ends of existence within
        half a per cent.

    Raises:
        BadInput: pressures that are not two different positive ones, the lower first.

    Source:
        `azeotropes_search.singular_points` at each pressure.
    """
    if not 0.0 < low_Pa < high_Pa < np.inf:
        raise BadInput("pressures", f"{low_Pa:g}, {high_Pa:g}", "a lower and a higher pressure")
    largest = 2 if len(mixture.substances) > 3 else None

    def at(pressure: float) -> list[SingularPoint]:
        if not np.isfinite(boiling_points(mixture.arrays, pressure)).all():
            return []
        points = singular_points(mixture.arrays, pressure, miscible, largest=largest)
        return [p for p in points if len(p.components) > 1]

    pressures = np.geomspace(low_Pa, high_Pa, _STEPS)
    tracks: list[list[tuple[int, SingularPoint]]] = []
    for k, pressure in enumerate(pressures):
        _continue(tracks, k, at(float(pressure)))

    def edge(point: SingularPoint, inside: float, outside: float) -> float:
        """The pressure between two where an azeotrope ceases to exist, by halving in ln P."""
        for _ in range(_HALVINGS):
            middle = float(np.sqrt(inside * outside))
            there = any(_follows(point, p) for p in at(middle))
            inside, outside = (middle, outside) if there else (inside, middle)
        return float(np.sqrt(inside * outside))

    shifts = []
    for track in tracks:
        first, last = track[0][0], track[-1][0]
        appears = vanishes = None
        if first > 0:
            appears = edge(track[0][1], pressures[first], pressures[first - 1])
        if last < _STEPS - 1:
            vanishes = edge(track[-1][1], pressures[last], pressures[last + 1])
        shifts.append(
            Shift(
                track[0][1].components,
                pressures[[k for k, _ in track]],
                np.array([p.temperature_K for _, p in track]),
                np.array([p.mole_fraction for _, p in track]),
                appears,
                vanishes,
            )
        )
    return tuple(shifts)


def _follows(one: SingularPoint, other: SingularPoint) -> bool:
    near = float(np.abs(one.mole_fraction - other.mole_fraction).max()) < _JUMP
    return one.components == other.components and near


def _continue(
    tracks: list[list[tuple[int, SingularPoint]]], k: int, points: Sequence[SingularPoint]
) -> None:
    """Put the azeotropes of the next pressure at the end of the track that they belong to."""
    for point in points:
        open_tracks = [t for t in tracks if t[-1][0] == k - 1 and _follows(t[-1][1], point)]
        if open_tracks:
            nearest = min(
                open_tracks,
                key=lambda t: float(np.abs(t[-1][1].mole_fraction - point.mole_fraction).max()),
            )
            nearest.append((k, point))
        else:
            tracks.append([(k, point)])
