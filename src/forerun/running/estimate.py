"""What is believed of a run while it drips: bands, the next switch, what is where."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

__all__ = ["Course", "Estimate", "NextSwitch", "Portion", "Span"]

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Span:
    """The middle 80 % of a number.

    Args:
        low: 10 % quantile [SI].
        middle: median [SI].
        high: 90 % quantile [SI].
    """

    low: float
    middle: float
    high: float

    def to_json(self) -> list[float]:
        """Return the three numbers, the lowest first."""
        return [self.low, self.middle, self.high]


@dataclass(frozen=True, slots=True)
class Course:
    """A quantity against time, as a fan.

    Args:
        p10: (n,) 10 % quantile [SI]; not-a-number where most members have ended.
        p50: (n,) median [SI].
        p90: (n,) 90 % quantile [SI].
    """

    p10: Floats
    p50: Floats
    p90: Floats

    def to_json(self) -> dict[str, list[float | None]]:
        """Return the fan as plain lists."""
        return {name: _plain(getattr(self, name)) for name in ("p10", "p50", "p90")}


@dataclass(frozen=True, slots=True)
class NextSwitch:
    """The next change of the receiver.

    Args:
        receiver: number of the one in place.
        probability: share of the members that come to it before they end [-].
        due: share of the members in which its moment has come already [-].
        time_s: from now [s]; None where none comes to it.
        volume_m3: distillate from now [m3], likewise.
        drops: the same in drops [-]; None where nobody said how many make a millilitre.
        within: share of the members in which it comes within 2 mL or 2 min [-].
        mole_fraction: of each component in the receiver at that moment [-].
        creep_s: how much later it would be if the head thermometer read 0.2 K low then [s]; None
            where no head decides, or none comes to it.
    """

    receiver: int
    probability: float
    due: float
    time_s: Span | None
    volume_m3: Span | None
    drops: Span | None
    within: float
    mole_fraction: Mapping[str, Span]
    creep_s: float | None = None

    def to_json(self) -> dict[str, Any]:
        """Return the contract's object."""
        return {
            "receiver": self.receiver,
            "probability": self.probability,
            "due": self.due,
            "time_s": _span(self.time_s),
            "volume_m3": _span(self.volume_m3),
            "drops": _span(self.drops),
            "within_2_mL_or_2_min": self.within,
            "mole_fraction": _spans(self.mole_fraction),
        }


@dataclass(frozen=True, slots=True)
class Portion:
    """What one vessel holds now.

    Args:
        volume_m3: [m3]; None where it is not known.
        mole_fraction: of each component [-]; empty where it holds nothing.
    """

    volume_m3: Span | None
    mole_fraction: Mapping[str, Span]

    def to_json(self) -> dict[str, Any]:
        """Return the contract's object."""
        return {"volume_m3": _span(self.volume_m3), "mole_fraction": _spans(self.mole_fraction)}


@dataclass(frozen=True, slots=True)
class Estimate:
    """What readings and the sheet together say of a run.

    Args:
        now_s: since the start of the run [s].
        readings: how many stand behind it [-].
        took_s: how long it took to compute [s].
        state: ``waiting`` (too few readings), ``undecided`` (they do not narrow the forecast yet,
            or do not fit it) or ``decided``.
        says: the same in one sentence.
        time_s: (n,) of the fans [s].
        head_K: fan of the head thermometer [K].
        distillate_m3: fan of the distillate [m3].
        first_drop_s: when the first drop falls or fell [s]; None where in most members none does.
        next_switch: None where no receiver is to be changed any more.
        dripping: what comes over now.
        receiver: number of the receiver in place and what it holds.
        pot: what is in the pot.
        residue_m3: liquid left in the pot [m3].
        end_s: when the run ends [s].
        rate_m3_s: what drips now [m3/s].
        load: vapour over the most that the column carries, now [-]; None without a limit.
        misfit: root mean square of readings less members, over their errors [-].
        learned: what the readings taught, as sentences.
        warnings: sentences that the user should read.
    """

    now_s: float
    readings: int
    took_s: float
    state: str
    says: str
    time_s: Floats
    head_K: Course
    distillate_m3: Course
    first_drop_s: Span | None
    next_switch: NextSwitch | None
    dripping: Mapping[str, Span]
    receiver: tuple[int, Portion]
    pot: Portion
    residue_m3: Span
    end_s: Span
    rate_m3_s: Span
    load: Span | None
    misfit: float
    learned: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """Return the contract's object."""
        number, held = self.receiver
        return {
            "now_s": self.now_s,
            "reading": self.readings,
            "took_s": self.took_s,
            "state": self.state,
            "says": self.says,
            "fan": {
                "time_s": _plain(self.time_s),
                "head_temperature_K": self.head_K.to_json(),
                "distillate_volume_m3": self.distillate_m3.to_json(),
            },
            "first_drop_s": _span(self.first_drop_s),
            "next_switch": None if self.next_switch is None else self.next_switch.to_json(),
            "dripping": {"mole_fraction": _spans(self.dripping)},
            "receiver": {"number": number, **held.to_json()},
            "pot": self.pot.to_json(),
            "residue_m3": self.residue_m3.to_json(),
            "end_s": self.end_s.to_json(),
            "rate_m3_s": self.rate_m3_s.to_json(),
            "load": _span(self.load),
            "misfit": self.misfit,
            "learned": list(self.learned),
            "warnings": list(self.warnings),
        }


def _span(span: Span | None) -> list[float] | None:
    return None if span is None else span.to_json()


def _spans(spans: Mapping[str, Span]) -> dict[str, list[float]]:
    return {name: span.to_json() for name, span in spans.items()}


def _plain(values: Floats) -> list[float | None]:
    return [float(value) if np.isfinite(value) else None for value in values]
