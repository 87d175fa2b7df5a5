"""Runs that go well, with glass, charge and instruments a little other than the sheet says."""

from __future__ import annotations

import numpy as np
import pytest

from forerun.running.diagnosing import diagnose_case
from unit.running.logs import FREEZING, PAIR, SIMPLE, VACUUM, case, log_of


def _another(sheet: str, draw: np.random.Generator) -> str:
    """Return the sheet with amounts, plates, hold-up and loss as they may truly have been."""
    for _ in range(2):
        sheet = sheet.replace('"60 mL"', f'"{draw.normal(60.0, 1.2):.1f} mL"', 1)
    return (
        sheet.replace("plates = 8", f"plates = {draw.integers(6, 11)}")
        .replace("0.1 W/K", f"{draw.uniform(0.05, 0.18):.2f} W/K")
        .replace('"2 mL"', f'"{draw.uniform(1.2, 3.0):.1f} mL"')
    )


@pytest.mark.parametrize("seed", range(16))
def test_no_alarm_where_only_the_sheet_is_a_little_wrong(seed: int) -> None:
    draw = np.random.default_rng(seed)
    sheet = [PAIR, VACUUM, FREEZING, SIMPLE][seed % 4]
    log = log_of(sheet, float(draw.choice([5.0, 15.0, 60.0, 180.0])), of=_another(sheet, draw))
    log["head_K"] += draw.normal(0.0, 0.5)
    log["pressure_Pa"] += draw.normal(0.0, 100.0)
    assert [f.name for f in diagnose_case(case(log, sheet)).findings] == []
