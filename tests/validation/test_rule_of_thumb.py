"""Why boiling points alone do not decide: the figures of an ideal pair, reproduced.

The table was computed for an equimolar ideal feed whose lighter component boils at 77 °C
(760 mmHg), no hold-up, total reflux: upper bounds for any real column of so many plates.
Vapour pressures by Trouton's rule, mixing by Raoult's law, the pot by Rayleigh's equation.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from forerun.planning.plates import relative_volatility_trouton1884
from forerun.planning.shortcut import (
    batch_path,
    top_of_trouton_pair,
)

TABLE = json.loads((Path(__file__).parent / "data" / "rule_of_thumb.json").read_text("utf-8"))
LIGHT = 77.0 + 273.15


@pytest.mark.parametrize("row", TABLE["rows"], ids=lambda r: f"{r['difference_K']} K")
def test_volatility_and_first_drop(row: dict[str, float]) -> None:
    found = relative_volatility_trouton1884(LIGHT, LIGHT + row["difference_K"])
    assert found == pytest.approx(row["relative_volatility"], rel=0.005)
    assert 100.0 * found / (1.0 + found) == pytest.approx(row["first_drop_mol_percent"], abs=0.6)


@pytest.mark.parametrize(
    ("row", "plates"),
    [(row, int(plates)) for row in TABLE["rows"] for plates in row["recovery_percent_by_plates"]],
    ids=lambda v: str(v if isinstance(v, int) else v["difference_K"]),
)
def test_share_recovered_in_one_cut_of_95_percent(row: dict[str, object], plates: int) -> None:
    wanted = row["recovery_percent_by_plates"][str(plates)]  # type: ignore[index]
    top = top_of_trouton_pair(LIGHT, LIGHT + float(str(row["difference_K"])), plates)
    path = batch_path([1.0, 1.0], top, 250)
    share = path.so_far[1:, 0] / path.so_far[1:].sum(axis=1)
    above = np.flatnonzero(share >= 0.95)
    found = 0.0
    if above.size:
        k = int(above[-1])
        ends = path.so_far[k + 1 : k + 3, 0]
        part = (share[k] - 0.95) / (share[k] - share[k + 1]) if k + 1 < share.size else 0.0
        found = 100.0 * float(ends[0] + part * (ends[-1] - ends[0]))
    assert found == pytest.approx(wanted, abs=TABLE["tolerance_percent"])
