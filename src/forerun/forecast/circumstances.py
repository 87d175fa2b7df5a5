"""What a sheet states and a bench does not keep: the room, the charge, thermometer and bath.

A forecast takes these as the sheet has them.  A fit may not: a slow thermometer or a cold room
would be learned as a heat path, to a hundredth.  So a fit leaves them open beside what the sheet
itself leaves open, and says what it made of them.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from forerun.forecast.drawing import Prior, draw_member
from forerun.forecast.unknowns import Unknown
from forerun.still.inputs import StillInput

__all__ = ["member_of", "with_circumstances"]

Floats = npt.NDArray[np.float64]

# One standard deviation of each; judgements, no source.  On tuning runs two thirds of them or half
# as much again made little difference, none at all a great one (docs/decisions/0028).
_ROOM_K = 4.0
_CHARGE_K = 2.0  # charge and glass at the start, beside the room
_LAG = 0.5  # relative, of the head thermometer's time constant: pocket, depth, contact
_BATH_READ_K = 0.5  # a bath that was read, by one thermometer at one place
_BATH_PLANNED_K = 2.0  # a dial that was turned to what the sheet says


def with_circumstances(prior: Prior, *, bath_read: bool) -> Prior:
    """Return a prior that leaves open what a bench does not keep, after all its own unknowns.

    Args:
        prior: what the sheet leaves open.
        bath_read: whether the run carries its bath as it was measured, not as it was planned.

    Returns:
        The prior with ``room``, ``charge_temperature``, ``thermometer_lag`` and ``bath``; its
        members are drawn by `member_of`.
    """
    origin = "judgement, no source"
    beside = (
        Unknown("room", "normal", _ROOM_K, "K", origin),
        Unknown("charge_temperature", "normal", _CHARGE_K, "K", origin),
        Unknown("thermometer_lag", "log-normal", _LAG, "", origin),
        Unknown("bath", "normal", _BATH_READ_K if bath_read else _BATH_PLANNED_K, "K", origin),
    )
    return replace(prior, unknowns=prior.unknowns + beside)


def member_of(prior: Prior, z: Floats) -> StillInput:
    """Return the input of one member, its circumstances moved as well.

    Args:
        prior: from `with_circumstances`, or any other.
        z: (D,) standard normal deviates [-], one for each unknown.

    Returns:
        As `forerun.forecast.drawing.draw_member`; a bath led by a rule is not moved.
    """
    given = draw_member(prior, z)
    moved = {u.name: u.sigma * float(v) for u, v in zip(prior.unknowns, z, strict=True)}
    bath = given.bath_temperature.copy()
    bath[:, 1] += moved.get("bath", 0.0)
    return replace(
        given,
        bath_temperature=bath,
        room_temperature_K=given.room_temperature_K + moved.get("room", 0.0),
        charge_temperature_K=given.charge_temperature_K + moved.get("charge_temperature", 0.0),
        thermometer_lag_s=given.thermometer_lag_s * math.exp(moved.get("thermometer_lag", 0.0)),
    )
