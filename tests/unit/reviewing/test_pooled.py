"""A class of 24 with faults: who stands apart is found, who does not is left in peace."""

from __future__ import annotations

import csv
import io

import numpy as np
import pytest

from forerun.core.errors import BadInput
from forerun.records.readings import Reading, Readings, readings_of
from forerun.reviewing.findings import Cause, Diagnosis, Finding
from forerun.reviewing.fitting_run import Estimate
from forerun.reviewing.pooled import pooled


def _bench(
    rng: np.random.Generator, shift: float = 0.0, steep: float = 1.0, end: float = 40e-6
) -> Readings:
    over = np.linspace(0.0, end, 60)
    # between two boiling points, as a simple still climbs
    head = 353.0 + 25.0 * steep * (over / 40e-6) ** 2 + shift + rng.normal(0.0, 0.2)
    noise = rng.normal(0.0, 0.1, over.size)
    return readings_of(
        [
            Reading(60.0 * k, head_K=float(h), distillate_m3=float(v))
            for k, (h, v) in enumerate(zip(head + noise, over, strict=True))
        ]
    )


def _class() -> dict[str, Readings]:
    rng = np.random.default_rng(24)
    benches = {f"B{k:02d}": _bench(rng) for k in range(21)}
    benches["low"] = _bench(rng, shift=-4.0)
    benches["plates"] = _bench(rng, steep=0.4)
    benches["leak"] = _bench(rng, end=25e-6)
    return benches


def test_a_class_of_24_with_three_faults() -> None:
    found = pooled(_class())
    causes = {a.bench: a.cause for a in found.apart}
    assert set(causes) == {"low", "plates", "leak"}
    assert "thermometer" in causes["low"]
    assert "shape" in causes["plates"]
    assert "less came over" in causes["leak"]
    low = next(a for a in found.apart if a.bench == "low")
    assert low.head_K == pytest.approx(-4.0, abs=0.7)


def test_quantiles_and_the_one_table() -> None:
    found = pooled(_class())
    assert (found.p10_K <= found.p50_K).all()
    assert (found.p50_K <= found.p90_K).all()
    rows = list(csv.DictReader(io.StringIO(found.csv())))
    of_one = [row for row in rows if row["bench"] == "B00"]
    assert len(of_one) == found.volume_m3.size
    assert float(of_one[0]["p50_K"]) == pytest.approx(float(found.p50_K[0]))
    assert float(of_one[3]["head_K"]) == pytest.approx(float(found.heads_K[0, 3]))
    short = [row for row in rows if row["bench"] == "leak"]
    assert len(short) < len(of_one)
    assert "less came over" in short[0]["cause"]
    assert of_one[0]["plates"] == of_one[0]["cause"] == ""


def _estimate(value: float) -> Estimate:
    return Estimate("plates", value, value - 0.4, value + 0.4, 0.5)


def test_plates_and_the_diagnosis_name_the_cause_where_they_can() -> None:
    benches = _class()
    plates = {code: _estimate(1.2 if code == "plates" else 3.0) for code in benches}
    cause = Cause("thermometer_offset", "bulb too high", 0.8)
    finding = Finding("thermometer_offset", 0.7, (cause,), "seen", "", "test", "remedy", 0.0)
    found = pooled(benches, plates, {"low": Diagnosis((finding,), (), ())})
    apart = {a.bench: a for a in found.apart}
    assert apart["low"].cause == "bulb too high, 70 %"
    assert apart["low"].basis == "diagnosis"
    assert apart["plates"].cause == "fewer plates: 1.2 (0.8 to 1.6) against 3.0"
    assert apart["leak"].basis == "shape"
    row = next(r for r in csv.DictReader(io.StringIO(found.csv())) if r["bench"] == "plates")
    assert float(row["plates_low"]) == pytest.approx(0.8)


def test_three_benches_are_too_few_to_call_one_of_them_odd() -> None:
    rng = np.random.default_rng(1)
    few = {"a": _bench(rng), "b": _bench(rng), "c": _bench(rng, shift=-8.0)}
    assert pooled(few).apart == ()


def test_a_bench_without_readings_is_named() -> None:
    with pytest.raises(BadInput, match="bench c"):
        pooled({"c": readings_of([Reading(0.0, head_K=300.0)])})
    with pytest.raises(BadInput, match="benches"):
        pooled({})
