"""Measured equilibrium points in ThermoML, the open XML of IUPAC for thermodynamic data.

Files of boiling temperatures and of vapour pressures are valid under the published schema, version
4.0 (docs/how-to/own-points.md says how that was looked at).

Source: Frenkel and others, Pure Appl. Chem. 83 (2011) 1937, doi:10.1351/PAC-REC-11-05-01 (IUPAC
Recommendations 2011; from memory), and its schema ThermoML.xsd.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from xml.etree import ElementTree as ET

from forerun.equilibrium.fitting_own import OwnPoints
from forerun.substances.model import Substance

__all__ = ["NAMESPACE", "thermoml_of"]

NAMESPACE = "http://www.iupac.org/namespaces/ThermoML"
_DIGITS = 5  # significant ones that are written: more than a bench measures
_X, _GIVEN = 1, 2  # numbers of the variables: liquid fraction, and what was held or read beside it
_BOILING, _Y = 1, 2  # numbers of the properties
_TEMPERATURE, _PRESSURE = "Temperature, K", "Pressure, kPa"
_BOILS = {
    True: ("Boiling temperature at pressure P, K", _PRESSURE, "ePressure"),
    False: ("Vapor or sublimation pressure, kPa", _TEMPERATURE, "eTemperature"),
}


def thermoml_of(
    pair: Sequence[Substance], points: OwnPoints, label: str, *, isobaric: bool = True
) -> str:
    """Return measured boiling points of a pair as a ThermoML file.

    Args:
        pair: the two substances; fractions are of the first.
        points: as measured.
        label: where they are from, in words.
        isobaric: whether boiling temperatures were measured at given pressures; else pressures at
            given temperatures.

    Returns:
        The text of the file. A point gives only what was measured: no value is filled in.
    """
    ET.register_namespace("", NAMESPACE)
    root = ET.Element(_name("DataReport"))
    version = _add(root, "Version")
    _add(version, "nVersionMajor", "4")
    _add(version, "nVersionMinor", "0")
    citation = _add(root, "Citation")
    _add(citation, "eType", "unspecified")
    _add(citation, "sTitle", label)
    for number, substance in enumerate(pair, 1):
        _compound(root, number, substance)
    data = _add(root, "PureOrMixtureData")
    _add(data, "nPureOrMixtureDataNumber", "1")
    for number in (1, 2):
        _registered(_add(data, "Component"), number)
    _add(data, "eExpPurpose", "Principal objective of the work")
    boils, given, kind = _BOILS[isobaric]
    has_y = any(math.isfinite(y) for y in points.vapour_fraction)
    _property(data, _BOILING, "VaporPBoilingTAzeotropTandP", boils, "Liquid")
    if has_y:
        _property(data, _Y, "CompositionAtPhaseEquilibrium", "Mole fraction", "Gas", 1)
    for phase in ("Liquid", "Gas"):
        _add(_add(data, "PhaseID"), "ePhase", phase)
    _variable(data, _X, "eComponentComposition", "Mole fraction", 1)
    _variable(data, _GIVEN, kind, given, None)
    for t, p, x, y in zip(
        points.temperature_K,
        points.pressure_Pa,
        points.liquid_fraction,
        points.vapour_fraction,
        strict=True,
    ):
        kilopascals = 1e-3 * float(p)
        held, found = (kilopascals, float(t)) if isobaric else (float(t), kilopascals)
        _point(data, float(x), held, found, float(y))
    ET.indent(root, " ")
    head = '<?xml version="1.0" encoding="UTF-8"?>\n'
    return head + ET.tostring(root, encoding="unicode") + "\n"


def _name(tag: str) -> str:
    return f"{{{NAMESPACE}}}{tag}"


def _add(parent: ET.Element, tag: str, words: str | None = None) -> ET.Element:
    found = ET.SubElement(parent, _name(tag))
    found.text = words
    return found


def _registered(parent: ET.Element, number: int) -> None:
    _add(_add(parent, "RegNum"), "nOrgNum", str(number))


def _compound(root: ET.Element, number: int, substance: Substance) -> None:
    compound = _add(root, "Compound")
    _registered(compound, number)
    _add(compound, "sStandardInChIKey", substance.inchikey)
    _add(compound, "sCommonName", substance.name)
    _add(compound, "sFormulaMolec", substance.formula)


def _property(
    data: ET.Element, number: int, group: str, words: str, phase: str, of: int | None = None
) -> None:
    found = _add(data, "Property")
    _add(found, "nPropNumber", str(number))
    method = _add(found, "Property-MethodID")
    inside = _add(_add(method, "PropertyGroup"), group)
    _add(inside, "ePropName", words)
    _add(inside, "sMethodName", "as the owner of the points states")
    if of is not None:
        _registered(method, of)
    _add(_add(found, "PropPhaseID"), "ePropPhase", phase)
    _add(found, "ePresentation", "Direct value, X")


def _variable(data: ET.Element, number: int, kind: str, words: str, of: int | None) -> None:
    found = _add(data, "Variable")
    _add(found, "nVarNumber", str(number))
    named = _add(found, "VariableID")
    _add(_add(named, "VariableType"), kind, words)
    if of is not None:
        _registered(named, of)
    _add(_add(found, "VarPhaseID"), "eVarPhase", "Liquid")


def _point(data: ET.Element, x: float, held: float, found: float, y: float) -> None:
    """Add what one point has; a point without anything measured is left out."""
    measured = [(n, v) for n, v in ((_BOILING, found), (_Y, y)) if math.isfinite(v)]
    if not measured:
        return
    values = _add(data, "NumValues")
    for number, value in ((_X, x), (_GIVEN, held)):
        if math.isfinite(value):
            _value(values, "VariableValue", "Var", number, value)
    for number, value in measured:
        _value(values, "PropertyValue", "Prop", number, value)


def _value(values: ET.Element, tag: str, short: str, number: int, value: float) -> None:
    cell = _add(values, tag)
    _add(cell, f"n{short}Number", str(number))
    _add(cell, f"n{short}Value", f"{value:.{_DIGITS}g}")
    _add(cell, f"n{short}Digits", str(_DIGITS))
