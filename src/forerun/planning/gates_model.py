"""What a safety gate looks at and what it says."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

import numpy as np
import numpy.typing as npt

from forerun.core.references import Reference
from forerun.sheets.model import RunSheet
from forerun.still.results import Run
from forerun.substances.model import Sourced, Substance

__all__ = ["GATE_REFERENCES", "GUIDANCE", "Gate", "GateCase", "State", "Verdict", "lowest_value"]

State = Literal["pass", "warn", "stop"]

GATE_REFERENCES: Mapping[str, Reference] = {
    "prudent2011": Reference(
        "prudent2011",
        "National Research Council, Prudent Practices in the Laboratory (2011)",
        provenance="named from memory",
    ),
    "nfpa45": Reference(
        "nfpa45",
        "NFPA 45, Fire Protection for Laboratories Using Chemicals",
        provenance="named from memory",
    ),
    "nfpa30": Reference(
        "nfpa30",
        "NFPA 30, Flammable and Combustible Liquids Code",
        provenance="named from memory",
    ),
    "iec60079": Reference(
        "iec60079",
        "IEC 60079-0, temperature classes T1 to T6",
        provenance="copy of the source seen",
    ),
    "iowastate": Reference(
        "iowastate",
        "Iowa State University, Environmental Health and Safety: peroxide-forming chemicals",
        provenance="copy of the source seen",
    ),
    "peroxide_lists": Reference(
        "peroxide_lists",
        "institutional guidance on peroxide formers (Univ. of Nevada Reno, Ohio Univ., "
        "Univ. of Kentucky)",
        provenance="copy of the source seen",
    ),
    "practice": Reference("practice", "common practice, no source", provenance="from memory"),
}

GUIDANCE = (
    "This is advisory: your institution's stricter rule wins; ask your safety office where in "
    "doubt."
)


@dataclass(frozen=True, slots=True)
class Gate:
    """One gate's answer.

    Args:
        name: as in `forerun.sheets.resolving_safety.GATE_NAMES`.
        state: ``pass`` (what was looked at gave no cause), ``warn`` or ``stop``.
        says: what was computed and what follows, in one or two sentences.
        computed: the figures behind it, SI, the unit in the key.
        guidance: the rule that was applied.
        sources: keys of `GATE_REFERENCES`.
        settle: the key of the sheet that would settle what is not known; empty where none would.
        overridden: the reason that somebody gave for passing a stop; empty where nobody did.
    """

    name: str
    state: State
    says: str
    computed: Mapping[str, float | str | None]
    guidance: str
    sources: tuple[str, ...]
    settle: str = ""
    overridden: str = ""

    @property
    def references(self) -> tuple[Reference, ...]:
        """What the rule rests on."""
        return tuple(GATE_REFERENCES[key] for key in self.sources)


@dataclass(frozen=True, slots=True)
class Verdict:
    """A state with its sentence.

    Args:
        state: pass, warn or stop.
        says: what was found.
        settle: the key of the sheet that would settle it.
    """

    state: State
    says: str
    settle: str = ""


@dataclass(frozen=True, slots=True)
class GateCase:
    """What the gates look at.

    Args:
        sheet: the run sheet.
        run: its forecast; None where there is none, then the gates that need it look at the
            sheet alone and say so.
        today: the day on which it is asked.
        residue_low_m3: low end of the band of what is left in the pot [m3]; None without band.
    """

    sheet: RunSheet
    run: Run | None
    today: date = field(default_factory=date.today)
    residue_low_m3: float | None = None

    @property
    def substances(self) -> tuple[Substance, ...]:
        """The components of the charge."""
        return tuple(portion.substance for portion in self.sheet.charge)

    @property
    def lowest_pressure(self) -> float:
        """Lowest pressure of the programme [Pa]."""
        return min(value for _, value in self.sheet.programme.pressure_Pa.points)

    @property
    def highest_bath(self) -> float:
        """Hottest point that the bath really reaches, or of its programme without a run [K]."""
        if self.run is not None:
            return float(np.nanmax(self.run.trace.bath_temperature_K))
        return max(value for _, value in self.sheet.programme.bath_K.points)

    @property
    def peak_share(self) -> npt.NDArray[np.float64] | None:
        """(C,) highest mole fraction of each component in what drips [-]; None without a run."""
        if self.run is None or self.run.first_drop_s is None:
            return None
        drips = self.run.trace.distillate_mole_fraction
        seen = drips[np.isfinite(drips).all(axis=1)]
        return None if seen.size == 0 else np.asarray(seen.max(axis=0), dtype=np.float64)


def lowest_value(constant: Sourced) -> float:
    """Return the lowest value among the sources, the one that a safety limit takes.

    Args:
        constant: of the substance.
    """
    return constant.value if constant.lowest is None else constant.lowest
