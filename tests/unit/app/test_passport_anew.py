"""A passport reckoned again from the runs of the library, and a log that was exported again."""

from __future__ import annotations

from pathlib import Path

import pytest

import forerun
from forerun.app.passport import passport_anew
from forerun.core.errors import BadInput
from forerun.records.library import open_store

SHEET = """
[[charge]]
substance = "heptane"
amount = "50 mL"
[[charge]]
substance = "toluene"
amount = "50 mL"
[rig]
flask = "250 mL"
column = "glass helices 20 cm"
passport = "my helices"
"""
LOG = "time_s,head_C,distillate_mL\n0,20.0,0\n1800,98.6,0\n3600,98.7,0\n4200,98.9,5\n"
SAMPLES = """cut,method,substance,value,unit
head,gc_mass,heptane,{},wt%
pot,gc_mass,heptane,40,wt%
"""


def _kept(log: str = LOG, head: float = 85.0) -> str:
    found = forerun.review(
        SHEET, readings=log, assays=SAMPLES.format(head), fit=False, members=4, keep=True
    )
    return found.standing


def test_a_log_that_was_exported_again_counts_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FORERUN_DATA", str(tmp_path))
    first = _kept()
    again = _kept("time_min,head_C,distillate_mL\n0,20,0\n30,98.60,0\n60,98.70,0\n70,98.90,5.0\n")
    assert forerun.passport("my helices").brief()["runs"] == 1
    assert again.split(". ", 1)[1] == first.split(". ", 1)[1]  # the score of one run, not of two
    _kept(LOG.replace("98.7", "98.8"))
    assert forerun.passport("my helices").brief()["runs"] == 2


def test_a_passport_of_before_is_reckoned_again_from_its_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FORERUN_DATA", str(tmp_path))
    with pytest.raises(BadInput, match="none is kept yet"):
        passport_anew("my helices")
    _kept()
    _kept(LOG.replace("98.7", "98.8"), 80.0)
    wanted = forerun.passport("my helices").states[-1]
    with open_store() as store:
        old = {key: wanted[key] for key in ("plates", "column")}
        old["plates"] = {"value": 30.0, "relative_sigma": 0.01}
        store.keep_passport("my helices", {**old, "runs": 3, "last": "run 99"})
    before = forerun.passport("my helices")
    assert "--anew" in before.warnings[0]
    found = passport_anew("my helices")
    assert found.states[-1]["plates"] == wanted["plates"]
    assert found.brief()["runs"] == 2
    assert found.warnings == ("Not counted, as they could not be reviewed again: run 99.",)
    assert "--anew" not in " ".join(forerun.load(SHEET).warnings)
