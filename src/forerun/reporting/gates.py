"""Safety gates for people and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from forerun.planning.gates_model import Gate
from forerun.reporting.paper import Paper
from forerun.reporting.plain import number
from forerun.reporting.table import paragraph

__all__ = ["gate_object", "gate_sentences", "gates_printed"]


def gate_object(gate: Gate) -> dict[str, Any]:
    """Return one gate as the contract names it.

    Args:
        gate: the gate's answer.
    """
    return {
        "name": gate.name,
        "state": gate.state,
        "says": gate.says,
        "computed": {
            key: value if isinstance(value, str) else number(value)
            for key, value in gate.computed.items()
        },
        "guidance": gate.guidance,
        "sources": [str(reference) for reference in gate.references],
        "settle": gate.settle,
        "overridden": gate.overridden,
    }


def gate_sentences(gates: Sequence[Gate], state: str) -> list[str]:
    """Return what the gates of one state say, with the key that would settle it.

    Args:
        gates: all gates.
        state: pass, warn or stop.
    """
    return [
        f"{_words(gate.name)}: {gate.says}" + (f" (sheet: {gate.settle})" if gate.settle else "")
        for gate in gates
        if gate.state == state
    ]


def gates_printed(gates: Sequence[Gate], paper: Paper, *, passed: bool = False) -> list[str]:
    """Return the gates in lines: stops first, then what to look at.

    Args:
        gates: all gates.
        paper: where it is printed.
        passed: whether those that gave no cause are shown too.
    """
    lines = paragraph("STOP", gate_sentences(gates, "stop"), paper, "red", "bold")
    lines += paragraph("Look", gate_sentences(gates, "warn"), paper, "amber", "bold")
    if passed:
        lines += paragraph("Looked at, no cause found", gate_sentences(gates, "pass"), paper)
    return lines


def _words(name: str) -> str:
    text = name.replace("_", " ")
    return text[:1].upper() + text[1:]
