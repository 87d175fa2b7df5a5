"""The passport of a column: kept from runs, used by the next sheet."""

from __future__ import annotations

import itertools
import math
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest

import forerun
from forerun.app.passport import passports
from forerun.core.errors import BadInput
from forerun.equilibrium.band_rules import EIGHTY
from forerun.records.library import open_store
from forerun.records.readings import read_readings
from forerun.reporting.passport import Passport
from forerun.reviewing.fitting_run import Estimate
from forerun.reviewing.passport import log_digest, passport_of, with_passport
from forerun.reviewing.review import Review
from forerun.sheets.resolving import load

_LOGS = itertools.count()
SHEET = """
[[charge]]
substance = "heptane"
amount = "50 mL"
[[charge]]
substance = "toluene"
amount = "50 mL"
[rig]
flask = "250 mL"
column = "Vigreux 30 cm"
passport = "my Vigreux"
"""


def _review(plates: float, half: float, learnt: float = 0.8, log: str = "") -> Review:
    found = Estimate("plates", plates, plates - half, plates + half, learnt)
    return _reviewed(found, log)


def _reviewed(found: Estimate, log: str = "") -> Review:
    number = sum(log.encode()) if log else 1000 + next(_LOGS)
    readings = read_readings(f"time_s,head_C\n0,20.00\n60,{20.0 + 0.01 * number:.2f}\n")
    made: Any = SimpleNamespace(
        fit=SimpleNamespace(estimates=(found,)),
        at_total_reflux=None,
        sheet=load(SHEET),
        readings=readings,
    )
    return cast("Review", made)


def _fitted(alone: float, alone_sigma: float, stated: float, stated_sigma: float) -> Estimate:
    """Return what a fit says that joins what a run shows with what was likely before."""
    w, p = alone_sigma**-2, stated_sigma**-2
    sigma = (w + p) ** -0.5
    value = math.exp((w * math.log(alone) + p * math.log(stated)) / (w + p))
    factor = math.exp(EIGHTY * sigma)
    learnt = 1.0 - sigma / stated_sigma
    return Estimate("plates", value, value / factor, value * factor, learnt, (stated, stated_sigma))


def test_runs_are_joined_by_their_widths() -> None:
    first = passport_of(_review(3.0, 0.6), None, "run 1")
    assert first is not None
    assert first["runs"] == 1
    assert first["column"] == "Vigreux 30 cm"
    second = passport_of(_review(4.0, 0.2), first, "run 2")
    assert second is not None
    assert second["runs"] == 2
    assert 3.6 < second["plates"]["value"] < 4.0
    assert second["plates"]["relative_sigma"] < first["plates"]["relative_sigma"]


def test_many_runs_never_claim_more_than_runs_repeat() -> None:
    found = None
    for _ in range(50):
        found = passport_of(_review(3.0, 0.2), found)
    assert found is not None
    assert found["plates"]["relative_sigma"] == pytest.approx(0.05)


def test_a_run_that_says_nothing_leaves_no_passport() -> None:
    assert passport_of(_review(3.0, 1.0, learnt=0.05), None) is None


def test_a_passport_stands_in_for_what_is_typical_and_narrows_it() -> None:
    sheet = load(SHEET)
    kept = passport_of(_review(2.4, 0.2), None)
    found = with_passport(sheet, kept)
    assert 2.4 < found.rig.plates.value < sheet.rig.plates.value
    before = sheet.rig.plates.sigma / sheet.rig.plates.value
    assert found.rig.plates.sigma / found.rig.plates.value < before
    assert kept is not None
    rough = {**kept, "plates": {"value": 2.4, "relative_sigma": 2.0}}
    hardly = with_passport(sheet, rough).rig.plates
    assert hardly.value == pytest.approx(sheet.rig.plates.value, rel=0.01)
    assert hardly.sigma < sheet.rig.plates.sigma
    assert "my Vigreux" in found.rig.plates.origin
    assert found.rig.holdup_m3 == sheet.rig.holdup_m3
    assert any("my Vigreux" in text for text in found.defaults)


def test_what_the_sheet_states_stays() -> None:
    sheet = load(SHEET.replace('passport = "my', 'plates = 5\npassport = "my'))
    found = with_passport(sheet, passport_of(_review(2.4, 0.2), None))
    assert found.rig.plates.value == 5.0


def test_another_column_or_none_is_said() -> None:
    sheet = load(SHEET)
    kept = passport_of(_review(2.4, 0.2), None)
    assert kept is not None
    other = with_passport(sheet, {**kept, "column": "Vigreux 60 cm"})
    assert other.rig == sheet.rig
    assert "is of a Vigreux 60 cm" in other.warnings[-1]
    assert "No passport is kept" in with_passport(sheet, None).warnings[-1]


def test_loading_a_sheet_looks_it_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FORERUN_DATA", str(tmp_path))
    assert "No passport" in forerun.load(SHEET).warnings[-1]
    with open_store() as store:
        kept = passport_of(_review(2.4, 0.2), None)
        assert kept is not None
        store.keep_passport("my Vigreux", kept)
    assert forerun.load(SHEET).rig.plates.value < load(SHEET).rig.plates.value


def test_what_each_run_showed_is_kept_beside_what_is_known() -> None:
    first = passport_of(_review(3.0, 0.6), None, "run 1")
    second = passport_of(_review(4.0, 0.2), first, "run 2")
    assert second is not None
    assert second["own"] == {"plates": {"value": 4.0, "low": 3.8, "high": 4.2}}


def test_a_passport_is_listed_printed_and_drawn(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FORERUN_DATA", str(tmp_path))
    assert passports().to_json()["passports"] == []
    with pytest.raises(BadInput, match="none is kept yet"):
        forerun.passport("my Vigreux")
    state = None
    with open_store() as store:
        for k, plates in enumerate((3.0, 3.4), 1):
            state = passport_of(_review(plates, 0.5), state, f"run {k}")
            assert state is not None
            store.keep_passport("my Vigreux", state)
    found = forerun.passport("my Vigreux")
    assert found.finding.startswith("my Vigreux (Vigreux 30 cm), after 2 runs: plates 3.")
    assert len(found.to_json()["states"]) == 2
    drawing = found.drawing()
    assert drawing.count("<circle") == 3  # one each run, one in the legend
    assert "run 2" in drawing
    assert [p["passport"] for p in passports().to_json()["passports"]] == ["my Vigreux"]


def test_what_was_likely_before_is_not_counted_once_for_each_run() -> None:
    """Five runs of 20 % each are joined to 9 %, however the sheet they started from leant."""
    state = None
    for shown in (3.0, 3.1, 2.9, 3.05, 2.95):
        believed = 6.0 if state is None else float(state["plates"]["value"])
        state = passport_of(_reviewed(_fitted(shown, 0.2, believed, 0.3)), state)
    assert state is not None
    assert state["plates"]["value"] == pytest.approx(3.0, rel=1e-3)
    width = math.hypot(0.2, 0.05) / math.sqrt(5.0)
    assert state["plates"]["relative_sigma"] == pytest.approx(width, rel=1e-6)


def test_a_run_that_says_next_to_nothing_by_itself_is_not_kept() -> None:
    assert passport_of(_reviewed(_fitted(3.0, 1.5, 6.0, 0.3)), None) is None


def test_a_run_reviewed_again_takes_the_place_of_its_first_review() -> None:
    first = passport_of(_review(3.0, 0.6, log="a"), None, "run 1")
    other = passport_of(_review(3.4, 0.6, log="b"), first, "run 2")
    again = passport_of(_review(3.2, 0.3, log="a"), other, "run 3")
    assert again is not None
    assert again["runs"] == 2
    assert [look["run"] for look in again["looks"]] == ["run 2", "run 3"]
    straight = passport_of(
        _review(3.2, 0.3, log="a"), passport_of(_review(3.4, 0.6, log="b"), None, "run 2"), "run 3"
    )
    assert straight is not None
    assert again["plates"] == straight["plates"]


def test_the_order_of_runs_does_not_matter() -> None:
    one = passport_of(_review(4.0, 0.2), passport_of(_review(3.0, 0.6), None))
    other = passport_of(_review(3.0, 0.6), passport_of(_review(4.0, 0.2), None))
    assert one is not None
    assert other is not None
    assert one["plates"]["value"] == pytest.approx(other["plates"]["value"], rel=1e-12)


def test_a_passport_without_its_looks_goes_on_as_one() -> None:
    """As those are that were kept before looks were."""
    found = passport_of(_review(3.0, 0.3), _OLD, "run 4")
    assert found is not None
    assert found["runs"] == 4
    assert found["plates"]["relative_sigma"] < 0.1


def _digest(text: str) -> str:
    made: Any = SimpleNamespace(readings=read_readings(text))
    return log_digest(cast("Review", made))


def test_a_log_that_was_exported_again_is_the_same_log() -> None:
    """Other time heading, decimals, order of columns, remarks, rounded pressure, separators."""
    first = "time_s,head_C,pressure_mmHg,distillate_mL\n0,20.1,760,0\n90,78.25,760,1.5\n"
    for again in (
        "time_min,remark,distillate_mL,head_C\n0.0,start,0.0,20.10\n1.5,,1.50,78.250\n",
        "time_s;head_C;distillate_mL;pressure_mbar\n0;20,1;0;1013\n90;78,25;1,5;1013\n",
        "time,head_C,distillate_mL\n2026-05-04T10:00:07,20.1,0\n2026-05-04T10:01:37,78.25,1.5\n",
        "time_s,head_C,distillate_mL,remark\n-60,,,bath on\n0,20.1,0,\n90,78.25,1.5,\n",
    ):
        assert _digest(again) == _digest(first), again
    for other in (
        first.replace("78.25", "78.26"),
        first.replace("90,", "92,"),
        first.replace(",1.5", ",1.52"),
    ):
        assert _digest(other) != _digest(first), other


def test_a_later_review_that_says_little_takes_the_earlier_look_away() -> None:
    first = passport_of(_review(3.0, 0.6, log="a"), None, "run 1")
    other = passport_of(_review(3.4, 0.6, log="b"), first, "run 2")
    alone = passport_of(_review(3.4, 0.6, log="b"), None, "run 2")
    less = passport_of(_review(9.0, 0.6, learnt=0.05, log="a"), other, "run 3")
    assert less is not None
    assert alone is not None
    assert less["plates"] == alone["plates"]
    assert less["runs"] == 1
    assert [look["run"] for look in less["looks"]] == ["run 2"]


def test_a_passport_whose_only_run_was_taken_away_is_of_no_run() -> None:
    first = passport_of(_review(3.0, 0.6, log="a"), None, "run 1")
    none = passport_of(_review(3.0, 0.6, learnt=0.05, log="a"), first, "run 2")
    assert none is not None
    assert none["runs"] == 0
    assert "plates" not in none
    sheet = load(SHEET)
    found = with_passport(sheet, none)
    assert found.rig == sheet.rig
    assert "holds no run any more" in found.warnings[-1]
    shown = Passport("my Vigreux", (cast("Any", first), none))
    assert shown.finding.endswith("after 0 runs: nothing known")
    assert shown.table()[1][1][1] == "– | –"
    assert "run 2" in shown.drawing()


def test_a_review_that_did_not_look_takes_nothing_away() -> None:
    first = passport_of(_review(3.0, 0.6, log="a"), None, "run 1")
    quick: Any = _review(3.0, 0.6, log="a")
    quick.fit = None
    assert passport_of(cast("Review", quick), first, "run 2") is None


_OLD = {
    "plates": {"value": 3.0, "relative_sigma": 0.1},
    "column": "Vigreux 30 cm",
    "runs": 3,
    "last": "run 3",
}


def test_a_passport_without_looks_is_doubted_in_words_until_it_is_reckoned_again() -> None:
    later = passport_of(_review(3.0, 0.3), _OLD, "run 4")
    assert later is not None
    for kept in (_OLD, later):
        said = with_passport(load(SHEET), kept).warnings[-1]
        assert said.startswith('3 runs of the passport "my Vigreux" came from before')
        assert 'forerun passport "my Vigreux" --anew' in said
        assert said in Passport("my Vigreux", (kept,)).warnings
    new = passport_of(_review(3.0, 0.3), None, "run 4")
    assert not any("too narrow" in text for text in with_passport(load(SHEET), new).warnings)
