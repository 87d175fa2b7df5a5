"""Measured points as ThermoML: what was measured stands there, and nothing else does."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import numpy as np
import pytest

from forerun.equilibrium.fitting_own import OwnPoints
from forerun.reporting.thermoml import NAMESPACE, thermoml_of
from forerun.substances.catalogue import find

_N = {"t": NAMESPACE}
_NAN = float("nan")


def _points(temperature: list[float]) -> OwnPoints:
    return OwnPoints(
        np.array(temperature),
        np.array([101325.0, 101325.0, 101325.0]),
        np.array([0.1, 0.5, 0.9]),
        np.array([0.35, _NAN, 0.95]),
        (1, 2, 3),
        ("a", "a", "a"),
    )


def _read(*, isobaric: bool, temperature: list[float]) -> ET.Element:
    pair = (find("ethanol"), find("water"))
    return ET.fromstring(
        thermoml_of(pair, _points(temperature), "<own> & points", isobaric=isobaric)
    )


def _cells(root: ET.Element, kind: str) -> list[dict[int, float]]:
    short = "Prop" if kind == "PropertyValue" else "Var"
    return [
        {
            int(cell.findtext(f"t:n{short}Number", "", _N)): float(
                cell.findtext(f"t:n{short}Value", "", _N)
            )
            for cell in row.findall(f"t:{kind}", _N)
        }
        for row in root.findall(".//t:NumValues", _N)
    ]


def test_boiling_temperatures_and_vapour_come_back_as_measured() -> None:
    root = _read(isobaric=True, temperature=[359.5, 352.9, _NAN])
    assert root.tag == f"{{{NAMESPACE}}}DataReport"
    keys = [e.text for e in root.findall(".//t:sStandardInChIKey", _N)]
    assert keys == [find("ethanol").inchikey, find("water").inchikey]
    assert root.findtext("t:Citation/t:sTitle", "", _N) == "<own> & points"
    assert _cells(root, "VariableValue")[0] == {1: 0.1, 2: pytest.approx(101.325, abs=0.006)}
    # the second has no vapour, the third no temperature: nothing is filled in
    assert _cells(root, "PropertyValue") == [{1: 359.5, 2: 0.35}, {1: 352.9}, {2: 0.95}]


def test_where_the_temperature_was_held_the_pressure_is_the_property() -> None:
    root = _read(isobaric=False, temperature=[323.15, 323.15, 323.15])
    names = [e.text for e in root.findall(".//t:ePropName", _N)]
    assert names == ["Vapor or sublimation pressure, kPa", "Mole fraction"]
    assert [c[2] for c in _cells(root, "VariableValue")] == [323.15] * 3
    assert _cells(root, "PropertyValue")[1] == {1: pytest.approx(101.325, abs=0.006)}


def test_every_value_names_a_declared_property_or_variable() -> None:
    root = _read(isobaric=True, temperature=[359.5, 352.9, 351.4])
    declared = {e.text for e in root.findall(".//t:Property/t:nPropNumber", _N)}
    used = {e.text for e in root.findall(".//t:PropertyValue/t:nPropNumber", _N)}
    assert used == declared == {"1", "2"}
    held = {e.text for e in root.findall(".//t:Variable/t:nVarNumber", _N)}
    assert {e.text for e in root.findall(".//t:VariableValue/t:nVarNumber", _N)} == held
