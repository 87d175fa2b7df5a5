"""The first sentence says what was found, against the aim where there is one."""

from __future__ import annotations

import pytest

from forerun.planning.gates import gates_of
from forerun.planning.gates_model import GateCase
from forerun.reporting.bands import Span
from forerun.reporting.cautions import cautions_of_run, cautions_of_substance
from forerun.reporting.cut_rows import CutSpans
from forerun.reporting.finding import foreseen
from forerun.reporting.gates import gates_printed
from forerun.reporting.paper import Paper
from forerun.sheets.model import RunSheet
from forerun.sheets.resolving import load
from forerun.still.results import Run
from forerun.substances.catalogue import find
from unit.reporting.sample_run import dry_run, run

_THIN = "\N{NARROW NO-BREAK SPACE}"
_CHARGE = """
[[charge]]
substance = "acetone"
amount = "0.4 mol"
[[charge]]
substance = "ethanol"
amount = "0.6 mol"
[rig]
flask = "250 mL"
[programme]
bath = [["0 min", "25 °C"], ["20 min", "100 °C"]]
"""


def _sheet(aim: str = "") -> RunSheet:
    return load(f"{_CHARGE}\n[aim]\n{aim}" if aim else _CHARGE)


def _found(aim: str = "", of: Run | None = None, spans: tuple[CutSpans | None, ...] = ()) -> str:
    return foreseen(_sheet(aim), of or run(), spans).replace(_THIN, " ")


def test_without_an_aim_the_first_cut_is_named() -> None:
    assert _found() == "First cut: 25 mL, 97.0 mol % acetone, switch at 61 °C"


def test_bands_stand_beside_the_numbers() -> None:
    fractions = (Span(0.96, 0.98), Span(0.02, 0.04))
    found = _found(spans=(CutSpans(Span(23e-6, 27e-6), fractions), None, None))
    assert found == "First cut: 25 ± 2 mL, 97 ± 1 mol % acetone, switch at 61 °C"


def test_an_aim_that_is_met_names_its_cut_and_what_it_recovers() -> None:
    found = _found('substance = "ethanol"\npurity = "90 mol%"')
    assert found.startswith("Cut 2: 45 mL, 95.0 mol % ethanol, ")
    amount = 45e-6 * 790.0 / 0.05 * 0.95
    assert f"{100 * amount / 0.6:.0f} % of what was charged" in found


def test_a_recovery_that_falls_short_is_said() -> None:
    aim = 'substance = "acetone"\npurity = "90 mol%"\nrecovery = "99 %"'
    assert "(wanted: 99 %)" in _found(aim)


def test_an_aim_that_is_missed_names_the_best_cut() -> None:
    found = _found('substance = "acetone"\npurity = "99 mol%"')
    assert found == "No cut reaches 99.0 mol % acetone: the best, cut 1, is 25 mL at 97.0 mol %"


def test_purity_is_compared_in_its_own_basis() -> None:
    """97 mol% acetone in ethanol are less by volume: 97 x 73.4 mL against 3 x 58.4 mL."""
    assert "No cut reaches" not in _found('substance = "acetone"\npurity = "97.5 vol%"')
    assert "No cut reaches" in _found('substance = "acetone"\npurity = "97.8 vol%"')


def test_nothing_over_is_a_finding() -> None:
    assert _found(of=dry_run()) == "Nothing comes over: the pot reaches 61 °C"


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("diethyl ether", "peroxides"),
        ("diethyl ether", "near the room's own temperature"),
        ("toluene", "no flame or spark"),
        ("benzene", "Listed hazards"),
    ],
)
def test_cautions_of_a_substance(name: str, words: str) -> None:
    assert any(words in caution for caution in cautions_of_substance(find(name)))


def test_nothing_reassures() -> None:
    """Water gives no cause for a caution, and that alone is said: local rules stay."""
    (only,) = cautions_of_substance(find("water"))
    assert "stricter rule wins" in only


def test_flash_points_below_the_bath_are_a_caution() -> None:
    assert any("no flame or spark" in caution for caution in cautions_of_run(_sheet(), run()))


def _gate_lines(text: str) -> str:
    sheet = load(text)
    gates = gates_of(GateCase(sheet, run()))
    return " ".join(line.strip() for line in gates_printed(gates, Paper(width=100)))


def test_a_small_residue_is_printed_among_the_gates() -> None:
    text = _CHARGE.replace("0.4 mol", "4 mol").replace("250 mL", "1 L")
    assert "never distil to dryness" in _gate_lines(text)


def test_a_solid_that_meets_cold_coolant_is_printed_among_the_gates() -> None:
    text = _CHARGE.replace('"ethanol"', '"tert-butanol"').replace(
        "[rig]", '[rig]\ncoolant = "8 °C"'
    )
    assert "plug the condenser" in _gate_lines(text)
    assert "STOP" in _gate_lines(text)
    assert "plug" not in _gate_lines(_CHARGE)
