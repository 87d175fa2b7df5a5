"""A column that was measured twice, and files of a run that measures it again; invented."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from forerun.records.library import open_store
from forerun.reviewing.fitting_run import Estimate
from forerun.reviewing.passport import passport_from

NAME = "my Vigreux"
SHEET: dict[str, Any] = {
    "charge": [{"substance": "acetone", "amount": "60 mL"}],
    "rig": {"flask": "250 mL", "column": "Vigreux 30 cm", "coolant": "15 °C", "passport": NAME},
}
_MOLAR_MASS = {"cyclohexane": 84.16, "toluene": 92.14, "heptane": 100.2}  # g/mol, IUPAC 2021


def keep_two_states(folder: Path, name: str = NAME, column: str = "Vigreux 30 cm") -> None:
    """Keep what two runs showed of a column, in the library of a folder."""
    store = open_store(folder)
    before = None
    for k, (plates, loss) in enumerate(((3.4, 0.31), (3.0, 0.27)), 1):
        seen = (
            Estimate("plates", plates, 0.8 * plates, 1.2 * plates, 0.6),
            Estimate("heat_loss_W_K", loss, 0.7 * loss, 1.3 * loss, 0.5),
        )
        before = passport_from(seen, column, before, f"run {k}")
        assert before is not None
        store.keep_passport(name, before)
    store.close()


def calibration_files(guide: dict[str, Any]) -> tuple[str, str]:
    """Return a log that stood still, and samples as the guide expects them, both as CSV."""
    head = guide["head_temperature_K"] - 273.15
    rows = [f"{t},{20 if t < 20 else head:.2f},{head + 10:.2f}" for t in range(0, 121, 10)]
    light, heavy = (_MOLAR_MASS[name] for name in guide["pair"])
    lines = guide["assays"].splitlines()
    samples = [lines[0]]
    for line, key in zip(lines[1:], ("head_mole_fraction", "pot_mole_fraction"), strict=True):
        x = guide[key][1]
        percent = 100.0 * x * light / (x * light + (1.0 - x) * heavy)
        samples.append(line.replace(",,", f",{percent:.2f},"))
    return "\n".join(("time_min,head_C,pot_C", *rows, "")), "\n".join((*samples, ""))
