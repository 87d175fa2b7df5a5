"""What to do now: one instruction, and what it rests on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from forerun.running.estimate import Span

__all__ = ["Action", "Answer", "Instruction"]

Action = Literal["wait", "hold", "switch", "heat_more", "heat_less", "stop", "look", "answer_test"]


@dataclass(frozen=True, slots=True)
class Answer:
    """What was said to an instruction.

    Args:
        said: ``done``, ``not_now`` or ``no``.
        time_s: when [s of the run].
    """

    said: str
    time_s: float


@dataclass(frozen=True, slots=True)
class Instruction:
    """One thing to do.

    Args:
        id: of this occurrence; the same until what to do changes.
        key: what is to be done, without its numbers.
        action: kind.
        text: in large type.
        why: what it rests on, one or two sentences.
        probability: that it is right, where it was computed [-].
        in_s: how long until it is to be done, or until the next event [s].
        in_m3: the same in distillate [m3].
        since_s: when it came up [s of the run].
    """

    id: str
    key: str
    action: Action
    text: str
    why: str
    probability: float | None = None
    in_s: Span | None = None
    in_m3: Span | None = None
    since_s: float = 0.0

    def to_json(self) -> Mapping[str, Any]:
        """Return the contract's object."""
        return {
            "id": self.id,
            "action": self.action,
            "text": self.text,
            "why": self.why,
            "probability": self.probability,
            "in_s": None if self.in_s is None else self.in_s.to_json(),
            "in_m3": None if self.in_m3 is None else self.in_m3.to_json(),
            "since_s": self.since_s,
        }
