"""Every sign is found where it is, named first, and not found when its rule is taken away."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from forerun.running.case import Case, Weighed
from forerun.running.diagnosing import RULES, diagnose_case
from unit.running.logs import (
    BLEND,
    FREEZING,
    PAIR,
    SIMPLE,
    VACUUM,
    case,
    halted,
    log_of,
    ramp,
    when_at,
    without,
)


def nothing_comes() -> Case:
    log = log_of()
    log["head_K"] = np.full_like(log["head_K"], 294.0)
    log["pot_K"] = np.minimum(log["pot_K"], 360.0)
    log["distillate_m3"] *= 0.0
    return case(log)


def exhausted() -> Case:
    log = log_of()
    begin = when_at(log, 0.5)
    log["head_K"] -= 40.0 * ramp(log["time_s"], begin, 300.0)
    halted(log, begin)
    return case(log)


def heater_off() -> Case:
    log = log_of()
    begin = when_at(log, 0.2)
    log["bath_K"] -= 40.0 * ramp(log["time_s"], begin - 300.0, 900.0)
    log["head_K"] -= 40.0 * ramp(log["time_s"], begin, 300.0)
    halted(log, begin)
    return case(log)


def bulb_high() -> Case:
    log = log_of()
    log["head_K"] -= 4.0
    return case(log)


def low_barometer() -> Case:
    log = log_of()
    log["head_K"] -= 2.6
    log["pot_K"] -= 2.6
    return case(without(log, "pressure_Pa"))


def azeotrope() -> Case:
    return case(log_of(BLEND), BLEND)


def few_plates() -> Case:
    return case(log_of(of=FREEZING.replace("plates = 8", "plates = 0")), FREEZING)


def bursts() -> Case:
    log = log_of(every=4.0)
    on = (log["time_s"] > 3600.0) & (log["time_s"] < 5400.0)
    log["head_K"] += on * 2.0 * np.sin(2.0 * np.pi * log["time_s"] / 30.0)
    return case(log)


def cycling() -> Case:
    log = log_of(every=10.0)
    on = log["time_s"] > 3600.0
    wave = np.sin(2.0 * np.pi * log["time_s"] / 240.0)
    log["bath_K"] += on * 4.0 * wave
    log["head_K"] += on * 2.0 * np.roll(wave, 3)
    return case(log)


def thrown() -> Case:
    log = log_of()
    begin = when_at(log, 0.3)
    on = (log["time_s"] >= begin) & (log["time_s"] < begin + 60.0)
    log["head_K"] += 7.0 * on
    return case(log)


def flooded() -> Case:
    log = log_of()
    begin = when_at(log, 0.3)
    log["distillate_m3"] += 12e-6 * ramp(log["time_s"], begin, 180.0)
    log["pot_K"] += 3.0 * ramp(log["time_s"], begin - 120.0, 180.0)
    halted(log, begin + 180.0)
    return case(log)


def leak() -> Case:
    log = log_of(VACUUM)
    begin = when_at(log, 0.4, VACUUM)
    risen = 3000.0 * ramp(log["time_s"], begin, 1200.0)
    log["pressure_Pa"] += risen
    log["head_K"] += 1.6e-3 * risen
    log["pot_K"] += 1.6e-3 * risen
    return case(log, VACUUM)


def gas() -> Case:
    log = log_of(VACUUM)
    begin = when_at(log, 0.4, VACUUM)
    log["pot_K"] += 20.0 * ramp(log["time_s"], begin, 900.0)
    return case(without(log, "pressure_Pa"), VACUUM, [(begin, "pot darkens, gas evolved")])


def isolated(levels: bool) -> Case:
    log = log_of(VACUUM)
    begin = when_at(log, 0.4, VACUUM)
    since = np.clip(log["time_s"] - begin, 0.0, 600.0)
    log["pressure_Pa"] += 800.0 * ((1.0 - np.exp(-since / 90.0)) if levels else since / 600.0)
    remarks = [(begin, "isolated from the pump"), (begin + 600.0, "valve open")]
    return case(log, VACUUM, remarks)


def passes_condenser() -> Case:
    log = log_of(VACUUM)
    begin = when_at(log, 0.4, VACUUM)
    log["pressure_Pa"] -= 8000.0 * ramp(log["time_s"], begin, 300.0)
    halted(log, begin + 200.0)
    return case(log, VACUUM)


def plug() -> Case:
    log = log_of(FREEZING)
    begin = when_at(log, 0.3, FREEZING)
    log["pot_K"] += 6.0 * ramp(log["time_s"], begin, 600.0)
    halted(log, begin)
    return case(log, FREEZING)


def wet() -> Case:
    log = log_of()
    early = 1.0 - ramp(log["time_s"], when_at(log, 0.12), 120.0)
    log["head_K"] -= 12.0 * early * (log["head_K"] > 350.0)
    return case(log, remarks=[(when_at(log, 0.03), "cloudy drops")])


def layers() -> Case:
    log = log_of()
    return case(log, remarks=[(when_at(log, 0.4), "two layers in the receiver")])


def low_pot() -> Case:
    log = log_of()
    log["distillate_m3"] *= 1.28
    return case(log)


def too_hot() -> Case:
    log = log_of()
    log["head_K"] = np.where(log["head_K"] > 360.0, log["head_K"] + 25.0, log["head_K"])
    return case(log)


def runaway() -> Case:
    log = log_of()
    begin = when_at(log, 0.3)
    log["pot_K"] += 60.0 * ramp(log["time_s"], begin, 900.0)
    return case(log)


def lost() -> Case:
    return case(log_of(), weighed=Weighed(0.093, 0.084))


def gained() -> Case:
    return case(log_of(), weighed=Weighed(0.093, 0.097))


SIGNS: list[tuple[str, str, Callable[[], Case]]] = [
    ("nothing comes over", "heat_loss", nothing_comes),
    ("the head falls", "light_exhausted", exhausted),
    ("the head falls", "heater_fault", heater_off),
    ("the bath fails", "heater_fault", heater_off),
    ("plateaus too low", "thermometer_offset", bulb_high),
    ("head and pot too low", "barometer", low_barometer),
    ("constant below every boiling point", "azeotrope", azeotrope),
    ("the head swings", "bumping", bursts),
    ("the head swings", "heater_cycling", cycling),
    ("the bath swings", "heater_cycling", cycling),
    ("parts nothing", "too_few_plates", few_plates),
    ("a jump of the head", "carry_over", thrown),
    ("flooding", "flooding", flooded),
    ("the pressure rises", "leak", leak),
    ("gas from the pot", "decomposition", gas),
    ("pressure of the isolated apparatus", "solvent_vapour", lambda: isolated(levels=True)),
    ("pressure of the isolated apparatus", "leak", lambda: isolated(levels=False)),
    ("vapour passes the condenser", "condenser_breakthrough", passes_condenser),
    ("solid in the condenser", "solid_plug", plug),
    ("first drops too cold", "water", wet),
    ("two layers", "two_liquids", layers),
    ("the pot runs low", "near_dry", low_pot),
    ("superheated vapour", "superheated_vapour", too_hot),
    ("the pot outruns the bath", "exotherm", runaway),
    ("mass lost", "lost_mass", lost),
    ("more out than in", "gained_mass", gained),
]


@pytest.mark.parametrize(("rule", "name", "made"), SIGNS, ids=[f"{r}: {n}" for r, n, _ in SIGNS])
def test_a_sign_is_found_and_not_without_its_rule(
    rule: str, name: str, made: Callable[[], Case]
) -> None:
    log = made()
    found = diagnose_case(log).findings
    assert name in {f.name for f in found}
    finding = next(f for f in found if f.name == name)
    assert finding.causes[0].name == name
    assert finding.test
    assert finding.remedy
    assert log.time[0] <= finding.since_s <= log.time[-1]
    alone = diagnose_case(log, [r for r in RULES if r.name == rule]).findings
    left = diagnose_case(log, [r for r in RULES if r.name != rule]).findings
    assert name in {f.name for f in alone}
    assert not {f.seen for f in alone} & {f.seen for f in left}


@pytest.mark.parametrize("sheet", [PAIR, SIMPLE, VACUUM, FREEZING])
@pytest.mark.parametrize("every", [4.0, 10.0, 60.0, 240.0])
def test_a_run_that_goes_well_has_no_finding(sheet: str, every: float) -> None:
    found = diagnose_case(case(log_of(sheet, every), sheet))
    assert [(f.name, f.seen) for f in found.findings] == []
    assert len(found.examined) + len(found.not_examined) == len(RULES)


def _falls(share: float, depth: float, length: float, risen: float) -> str:
    log = log_of(VACUUM)
    begin = when_at(log, share, VACUUM)
    log["head_K"] -= depth * ramp(log["time_s"], begin, length)
    log["pressure_Pa"] += risen * ramp(log["time_s"], begin - 60.0, 240.0)
    halted(log, begin + 60.0)
    found = diagnose_case(case(log, VACUUM)).findings
    return next(f.name for f in found if f.name in {"leak", "light_exhausted"})


def test_a_leak_is_never_taken_for_the_end_of_a_fraction() -> None:
    draw = np.random.default_rng(3)
    for _ in range(50):
        share, depth, length = 0.45 + 0.02 * draw.standard_normal(), draw.uniform(10, 30), 240.0
        assert _falls(share, depth, length, 200.0) == "leak"
        assert _falls(share, depth, length, 0.0) == "light_exhausted"


def test_cautions_come_first() -> None:
    log = log_of(every=4.0)
    on = (log["time_s"] > 3600.0) & (log["time_s"] < 5400.0)
    log["head_K"] += on * 1.1 * np.sin(2.0 * np.pi * log["time_s"] / 30.0)
    found = diagnose_case(
        case(log, remarks=[(4000.0, "two layers")], weighed=Weighed(0.093, 0.04))
    ).findings
    assert [f.name for f in found if f.caution] == [found[0].name] == ["bumping"]
    assert "cool" in found[0].caution
    assert found[0].probability < found[1].probability


def test_what_was_not_read_is_said() -> None:
    log = log_of()
    found = diagnose_case(case(without(log, "pressure_Pa", "pot_K", "distillate_m3")))
    assert dict(found.not_examined)["the pressure rises"] == "the pressure"
    assert "flooding" in dict(found.not_examined)
    assert found.findings == ()


@pytest.mark.parametrize("seed", range(12))
def test_nonsense_in_a_log_is_no_failure(seed: int) -> None:
    draw = np.random.default_rng(seed)
    count = int(draw.integers(3, 200))
    log = {name: values[:count].copy() for name, values in log_of().items()}
    log["time_s"] = np.sort(draw.choice([0.0, 5.0, 60.0, 4000.0, 9000.0], count))
    for name in [name for name in log if name != "time_s"]:
        kind = draw.integers(0, 4)
        values = draw.uniform(1e-6, 500.0, count)
        log[name] = [values, log[name], np.full(count, np.nan), np.full(count, 300.0)][kind]
        log[name][draw.random(count) < 0.3] = np.nan
    words = ["cloudy", "isolated", "gas evolved", "foam", "flooding", "in the trap", "layers"]
    remarks = [(float(draw.uniform(0, 9000)), str(draw.choice(words))) for _ in range(4)]
    for finding in diagnose_case(case(log, remarks=remarks)).findings:
        assert 0.0 <= finding.probability <= 1.0
        assert np.isfinite(finding.since_s)
