"""A sheet of a small still that runs fast: two liquids, one switch, some doubt about the charge."""

from __future__ import annotations

__all__ = ["SHEET"]

SHEET = """
[[charge]]
substance = "cyclohexane"
amount = "10 ± 0.3 mL"
[[charge]]
substance = "toluene"
amount = "10 mL"
[rig]
flask = "50 mL"
heat_loss = "0.04 W/K"
[programme]
pressure = "760 mmHg"
bath = [["0 min", "25 °C"], ["5 min", "140 °C"]]
stop = { residue = "4 mL", time = "40 min" }
[[switch]]
head = "92 °C"
"""
