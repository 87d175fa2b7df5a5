"""The bands hold on pairs that took no part, and the committed page says so.

The figures are read from docs/explain/bands.md, which is generated; what ships is measured anew.
"""

from __future__ import annotations

import importlib
import importlib.util
import re
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest

from forerun.equilibrium.bands import boiling_band
from forerun.equilibrium.mixture import mixture_of
from forerun.substances.catalogue import find

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "docs" / "explain" / "bands.md"

LOW, HIGH = 75.0, 85.0  # % that an 80 % band may hold
KINDS = [
    f"{origin}, {quantity}"
    for origin in ("models", "several papers", "one paper")
    for quantity in ("boiling point", "vapour")
]
# 17 and 15 pairs, most of them with one substance: thirds of so few say nothing, the whole does.
FEW = ["one model, boiling point", "one model, vapour"]


@cache
def _page() -> dict[str, list[float]]:
    """Return the percentages of every row of the coverage table."""
    found = {}
    for line in PAGE.read_text(encoding="utf-8").splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if len(cells) == 8 and cells[0] in {*KINDS, *FEW}:
            found[cells[0]] = [float(p) for p in re.findall(r"([\d.]+)%", " ".join(cells[3:]))]
    return found


@cache
def _tool() -> ModuleType:
    path = ROOT / "tools" / "docs" / "bands_page.py"
    spec = importlib.util.spec_from_file_location("bands_page", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@cache
def _evidence() -> Any:
    tool = _tool().calibration()
    return tool, tool.evidence()


@pytest.mark.parametrize("kind", KINDS)
def test_held_back_pairs_lie_inside_as_often_as_claimed_in_each_third_too(kind: str) -> None:
    whole, narrow, middle, wide, shipped = _page()[kind]
    assert all(LOW <= share <= HIGH for share in (whole, narrow, middle, wide, shipped))


@pytest.mark.parametrize("kind", FEW)
def test_one_model_alone_is_held_as_a_whole(kind: str) -> None:
    assert LOW <= _page()[kind][0] <= HIGH


@pytest.mark.parametrize("kind", KINDS)
def test_what_ships_still_covers_what_the_page_says(kind: str) -> None:
    tool, evidence = _evidence()
    found = tool.coverage(kind, evidence[kind], tool.shipped(kind, evidence[kind]))
    assert 100.0 * found.whole == pytest.approx(_page()[kind][4], abs=0.3)
    assert all(LOW - 2.0 <= 100.0 * share <= HIGH + 2.0 for share in found.thirds)


def test_vapours_of_left_out_papers_are_met_better_than_by_the_models() -> None:
    """Mean |dy| of a pair, against what the measured boiling line of the left-out paper tells."""
    _evidence()
    means = importlib.import_module("band_evidence").vapour_means()
    left_out, models, lone, ships = means.values()
    assert left_out.size == models.size >= 60
    assert left_out.mean() <= 0.007
    assert left_out.mean() < 0.9 * models.mean()
    assert lone.mean() <= 0.011
    assert ships.mean() <= 0.005
    page = PAGE.read_text(encoding="utf-8")
    assert f"| {left_out.size} | {left_out.mean():.4f} |" in page


def test_what_the_package_says_of_a_mixture_is_what_was_calibrated() -> None:
    """`boiling_band` and the widths of the tool are the same numbers."""
    tool, _ = _evidence()
    mixture = mixture_of([find("heptane"), find("toluene")], corrections=False)
    band = boiling_band([0.4, 0.6], 101325.0, mixture)
    assert band.spread is not None
    own = tool.boiling_half_width(
        mixture.pairs[0], tool.rule_of(mixture.pairs[0]), band.spread, 0.96
    )
    assert own <= band.half_width <= np.hypot(own, 0.3)
