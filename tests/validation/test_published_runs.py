"""Records of real distillations as they were published, read in by file and reviewed."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from forerun.records.assays import read_assays
from forerun.records.readings import read_readings
from forerun.reporting.review import Reviewed
from forerun.reviewing.review import Review, review_run
from forerun.sheets.resolving import load

_FILE = Path(__file__).resolve().parents[2] / "tools" / "proofs" / "measured_runs.json"
RECORDS: dict[str, dict[str, Any]] = {
    record["id"]: record for record in json.loads(_FILE.read_text(encoding="utf-8"))
}
_NO_ASSAYS = "cut,method,substance,value,unit\n"


@cache
def _reviewed(name: str) -> Review:
    record = RECORDS[name]
    charge = [{"substance": s, "amount": amount} for s, amount in record["charge"]]
    rate = record["rate_mL_min"]
    sheet = {
        "title": record["what"],
        "charge": charge,
        "rig": record["rig"],
        "programme": {"keep": {"rate": f"{rate} mL/min"}, "stop": {"residue": "1 mL"}},
    }
    rows = [
        f"{20 + v / rate:.2f},{t},{v}"
        for v, t in zip(record["volume_mL"], record["head_C"], strict=True)
    ]
    log = "\n".join(["time_min,head_C,distillate_mL", *rows, ""])
    return review_run(
        load(sheet), read_readings(log.encode()), read_assays(_NO_ASSAYS.encode()), fit=False
    )


@pytest.mark.parametrize("name", RECORDS)
def test_it_is_read_whole_and_every_gram_has_a_place(name: str) -> None:
    review, record = _reviewed(name), RECORDS[name]
    assert len(review.readings.rows) == len(record["volume_mL"])
    assert not review.readings.flags
    found = Reviewed(review).to_json()
    (cut,) = found["cuts"]
    assert 1e6 * cut["volume_read_m3"] == pytest.approx(record["volume_mL"][-1], rel=0.02)
    lines = {line["place"]: line["mass_kg"] for line in found["ledger"]["lines"]}
    charged = lines.pop("charge") if "charge" in lines else sum(lines.values())
    assert sum(lines.values()) == pytest.approx(charged, rel=1e-6)
    lighter = min(review.sheet.charge, key=lambda p: p.substance.boiling_point.value)
    assert cut["mole_fraction"][lighter.substance.name] > 0.4


@pytest.mark.parametrize("name", RECORDS)
def test_the_range_is_written_as_chemists_write_it(name: str) -> None:
    heads = RECORDS[name]["head_C"]
    (cut,) = Reviewed(_reviewed(name)).to_json()["cuts"]
    first, _, rest = cut["boiling_range"].partition("–")
    assert float(first) == pytest.approx(heads[0], abs=1.0)
    if heads[-1] - heads[-2] < 5:  # a last jump is smoothed
        assert float(rest.split("\N{NARROW NO-BREAK SPACE}")[0]) == pytest.approx(
            heads[-1], abs=1.0
        )
    assert rest.endswith("/760\N{NARROW NO-BREAK SPACE}mmHg")
