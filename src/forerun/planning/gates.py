"""The safety gates, all of them, in the order in which they are asked.

A gate that passes says what was looked at; none of them is a promise that nothing can happen.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from forerun.planning.gates_charge import azide, energetic, peroxides, toxic_vapour, warm_room
from forerun.planning.gates_glass import scale, solid_plug, vacuum_glass, vent_path
from forerun.planning.gates_heat import bath, dryness, hot_liquid, order
from forerun.planning.gates_model import Gate, GateCase

__all__ = ["GATES", "gates_of", "stopping"]

GATES: tuple[Callable[[GateCase], Gate], ...] = (
    vent_path,
    solid_plug,
    peroxides,
    dryness,
    energetic,
    azide,
    bath,
    vacuum_glass,
    order,
    hot_liquid,
    warm_room,
    toxic_vapour,
    scale,
)


def gates_of(case: GateCase) -> tuple[Gate, ...]:
    """Return every gate's answer.

    Args:
        case: sheet, forecast and day.

    Returns:
        One for each gate; a stop that the sheet overrides with a reason becomes a warning that
        carries the reason.
    """
    reasons = dict(case.sheet.safety.overrides)
    return tuple(_overridden(gate(case), reasons) for gate in GATES)


def stopping(gates: Sequence[Gate]) -> tuple[Gate, ...]:
    """Return the gates that say stop.

    Args:
        gates: from `gates_of`.
    """
    return tuple(gate for gate in gates if gate.state == "stop")


def _overridden(gate: Gate, reasons: dict[str, str]) -> Gate:
    reason = reasons.get(gate.name, "")
    if gate.state != "stop" or not reason:
        return gate
    says = f"{gate.says} Passed all the same: {reason}"
    return replace(gate, state="warn", says=says, overridden=reason)
