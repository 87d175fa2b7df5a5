"""Files of assays: units to SI, places by any of their names, bad rows flagged."""

from __future__ import annotations

import pytest

from forerun.core.errors import BadInput
from forerun.records.assays import METHODS, read_assays

FILE = """cut;method;substance;value;unit;response;temperature_C;sigma
1;mass;;31,20;g;;;0,02
1;gc_area;toluene;12,5;%;0,98;;0,3
cut 2;refractive index;;1,4961;;;25;
2;density;;0,8669;g/mL;;20;
2;titration;water;350;ppm;;;
Residue;mass;;12,0;g;;;
trap;volume;;1,5;mL;;;
"""


def test_units_and_places() -> None:
    found = read_assays(FILE)
    assert found.flags == ()
    assert found.cuts == ("1", "2", "pot", "trap")
    (mass,) = found.of("1", "mass")
    assert (mass.value, mass.sigma) == pytest.approx((0.0312, 2e-5))
    (area,) = found.of("1", "gc_area")
    assert (area.value, area.response, area.sigma) == pytest.approx((0.125, 0.98, 0.003))
    (index,) = found.of("2", "refractive_index")
    assert (index.value, index.temperature_K) == pytest.approx((1.4961, 298.15))
    assert found.of("2", "density")[0].value == pytest.approx(866.9)
    assert found.of("2", "titration")[0].value == pytest.approx(3.5e-4)
    assert found.of("trap", "volume")[0].value == pytest.approx(1.5e-6)


@pytest.mark.parametrize(
    ("row", "column"),
    [
        ("first,mass,,3,g", "cut"),
        ("-1,mass,,3,g", "cut"),
        ("1,smell,,3,g", "method"),
        ("1,mass,,3,mL", "unit"),
        ("1,mass,,-3,g", "value"),
        ("1,gc_mass,toluene,101,wt%", "value"),
        ("1,refractive_index,,13.9,", "value"),
        ("1,density,,0.8,", "unit"),
    ],
)
def test_bad_rows_are_flagged(row: str, column: str) -> None:
    found = read_assays(f"cut,method,substance,value,unit\n{row}\n2,mass,,1,g\n")
    assert [r.cut for r in found.rows] == ["2"]
    (flag,) = found.flags
    assert (flag.row, flag.column) == (2, column)


def test_headings_are_needed() -> None:
    with pytest.raises(BadInput, match="cut, method"):
        read_assays("cut,value\n1,2\n")


def test_every_method_can_be_read() -> None:
    values = {"refractive_index": "1.4", "density": "900", "mass": "1", "volume": "1"}
    units = {"density": "kg/m3", "mass": "g", "volume": "mL"}
    lines = [f"1,{name},toluene,{values.get(name, '50')},{units.get(name, '')}" for name in METHODS]
    found = read_assays("cut,method,substance,value,unit\n" + "\n".join(lines))
    assert [row.method for row in found.rows] == list(METHODS)
