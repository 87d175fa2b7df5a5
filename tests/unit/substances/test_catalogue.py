"""Finding a substance by what people write."""

from __future__ import annotations

import contextlib
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from forerun.core.errors import BadInput
from forerun.substances.catalogue import all_substances, find, index_of, references_of
from forerun.substances.store import index, records

SAME = {
    "2-butanone": ("MEK", "mek", "methyl ethyl ketone", "Methyl-Ethyl-Ketone", "78-93-3"),
    "4-methyl-2-pentanone": ("MIBK", "methyl isobutyl ketone", "CC(C)CC(C)=O"),
    "tetrahydrofuran": ("THF", "thf", "C1CCOC1", "O1CCCC1", "WYURNTSHIVDZCO-UHFFFAOYSA-N"),
    "N,N-dimethylformamide": ("DMF", "dimethylformamide", "n,n-dimethyl formamide", "CN(C)C=O"),
    "dimethyl sulfoxide": ("DMSO", "CS(C)=O", "67-68-5"),
    "tert-butyl methyl ether": ("MTBE", "methyl tert-butyl ether", "COC(C)(C)C"),
    "1,4-dioxane": ("dioxane", "1,4 Dioxane", "p-dioxane"),
    "isooctane": ("2,2,4-trimethylpentane", "iso-octane", "540-84-1"),
    "hexane": ("n-hexane", "n hexane", "HEXANE", "CCCCCC"),
    "tert-butanol": ("t-butanol", "tert butanol", "tBuOH", "CC(C)(C)O"),
    "2-propanol": ("isopropanol", "i-propanol", "IPA", "iPrOH"),
    "alpha-pinene": ("α-pinene", "alpha pinene"),
    "o-xylene": ("ortho-xylene", "o xylene"),
    "ethanol": ("EtOH", "CCO", "OCC", "64-17-5", "LFQSCWFLJHTTHZ-UHFFFAOYSA-N"),
    "benzene": ("c1ccccc1", "C1=CC=CC=C1"),
    "water": ("O", "7732-18-5"),
    "1-phenylethanol": ("1-phenylethanol (phenyl methyl carbinol)",),
}


@pytest.mark.parametrize(("name", "text"), [(n, t) for n, ts in SAME.items() for t in ts])
def test_one_substance_by_many_names(name: str, text: str) -> None:
    assert find(text).name == name


@pytest.mark.parametrize(
    ("systematic", "name"),
    [
        ("propan-2-one", "acetone"),
        ("4-methylpentan-2-one", "4-methyl-2-pentanone"),
        ("2-methylpropan-2-ol", "tert-butanol"),
        ("ethane-1,2-diol", "ethylene glycol"),
        ("hex-1-ene", "1-hexene"),
        ("ethyl ethanoate", "ethyl acetate"),
    ],
)
def test_systematic_names_are_understood(systematic: str, name: str) -> None:
    assert find(systematic).name == name


def test_every_substance_answers_to_all_it_is_called() -> None:
    for s in all_substances():
        for text in (s.name, s.cas, s.inchikey, s.smiles, *s.synonyms):
            assert find(text) is s, text


def test_index_of_the_file_is_the_one_of_its_records() -> None:
    assert index() == index_of(records()), "run tools/substances/packing.py"


def test_enough_liquids() -> None:
    assert len(all_substances()) >= 500


def test_names_and_numbers_are_unique() -> None:
    for field in ("name", "cas", "inchikey", "smiles"):
        values = [record[field] for record in records()]
        assert len(values) == len(set(values)), field


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("aceton", "did you mean acetone"),
        ("etanol", "ethanol"),
        ("cyclohexanne", "cyclohexane"),
        ("64-17-6", "check digit"),
        ("50-78-2", "this CAS number is not in it"),
        ("AAAAAAAAAAAAAA-UHFFFAOYSA-N", "this InChIKey is not in it"),
        ("CC(=O)C(F)(Cl", "opened and not closed"),
        ("", "a name, synonym, CAS number"),
        ("xyzzyplugh", "a name, synonym, CAS number"),
        ("hexanez", "did you mean hexane"),
        ("cyclohexan3", "or a name: did you mean cyclohexane"),
        ("benzene2", "or a name: did you mean benzene"),
        ("OC1CC", "ring 1 is opened and not closed)."),
    ],
)
def test_unknown_is_refused_with_advice(text: str, said: str) -> None:
    with pytest.raises(BadInput) as caught:
        find(text, field="charge[1].substance")
    assert said in str(caught.value)
    assert "charge[1].substance" in str(caught.value)


def test_at_most_three_suggestions() -> None:
    with pytest.raises(BadInput) as caught:
        find("methylbutanole")
    assert caught.value.accepted.count(" or ") <= 4  # two stand in the list of what is accepted


def test_stereoisomers_are_not_guessed() -> None:
    with pytest.raises(BadInput, match="one substance; this fits"):
        find("ClC=CCl")


@given(st.text(max_size=40))
def test_any_text_is_found_or_refused(text: str) -> None:
    with contextlib.suppress(BadInput):  # any other error fails
        assert find(text).name


def test_references_are_those_of_the_values() -> None:
    keys = [r.key for r in references_of(find("toluene"))]
    assert len(keys) == len(set(keys))
    assert keys[-1].startswith("doi:")
    assert {"crc_constants", "iec60079", "zabransky1996"} <= set(keys)
    assert all(r.citation for r in references_of(find("water")))


def test_import_is_light() -> None:
    source = str(Path(__file__).parents[3] / "src")
    code = (
        "import sys; sys.path.insert(0, sys.argv[1]);"
        "import forerun.substances.catalogue as c; c.find('THF');"
        "print([m for m in ('numpy', 'scipy', 'numba', 'difflib') if m in sys.modules])"
    )
    run = subprocess.run(
        [sys.executable, "-c", code, source], capture_output=True, text=True, check=True
    )
    assert run.stdout.strip() == "[]"
