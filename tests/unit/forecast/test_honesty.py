"""The proof of honest bands, made small: what `tools/proofs/forecast.py` runs at length."""

from __future__ import annotations

import importlib.util
import json
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from forerun.forecast.drawing import prior_of
from forerun.sheets.resolving import load
from forerun.still.from_sheet import prepare

ROOT = Path(__file__).resolve().parents[3]


@pytest.fixture(scope="module")
def proof() -> ModuleType:
    spec = importlib.util.spec_from_file_location("proof", ROOT / "tools/proofs/forecast.py")
    assert spec is not None
    assert spec.loader is not None
    found = importlib.util.module_from_spec(spec)
    sys.modules["proof"] = found  # a dataclass looks its module up
    spec.loader.exec_module(found)
    return found


def test_bands_hold_unseen_runs_of_the_prior(proof: ModuleType) -> None:
    kept = proof.kept_promises(("simple-still",), 40, 64, 2, False)
    for name in ("first drop", "first switch"):
        found = proof.figures(kept[name])
        assert found["runs"] == 40
        # 40 runs: a share of 0.9 is met within 0.05 (one standard deviation)
        assert 0.75 <= found["coverage_90"][0] <= 1.0
        assert 0.6 < found["spread_skill"] < 1.6


def test_a_band_of_half_the_width_is_found_out(proof: ModuleType) -> None:
    random = np.random.default_rng(1)
    kept = proof.Kept()
    for _ in range(200):
        kept.add("one", random.standard_normal(64), float(2.0 * random.standard_normal()))
    found = proof.figures(kept)
    assert found["spread_skill"] < 0.65
    assert found["coverage_90"][2] < 0.8
    assert not found["pit_inside"]


def test_a_strange_still_differs_where_it_should(proof: ModuleType) -> None:
    prior = prior_of(prepare(load("class-pair")))
    random = np.random.default_rng(3)
    found = [proof.richer_truth(prior, random) for _ in range(6)]
    assert len({given.room_temperature_K for given in found}) == 6
    assert all(given.pressure.shape[0] > 1 for given in found)
    slower = [given.thermometer_lag_s / prior.prepared.still.thermometer_lag_s for given in found]
    assert min(slower) >= 1.0
    assert max(slower) <= 3.0


def test_the_page_tells_the_figures(proof: ModuleType) -> None:
    report = json.loads(proof.FIGURES.read_text(encoding="utf-8"))
    head, mark, tables = proof.PAGE.read_text(encoding="utf-8").partition(proof.MARK)
    assert head
    assert mark
    assert tables.strip() == proof._tables(report).strip()
    assert min(one["runs"] for one in report["own"].values()) >= 200
