"""Nothing in the shipped equilibrium data comes from anywhere but papers and stated practice."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from importlib.resources import files
from typing import Any

import pytest

from forerun.equilibrium.datafiles import load_data
from forerun.equilibrium.sources import EQUILIBRIUM_REFERENCES

# Publishers of journals, by the prefix of a DOI: Elsevier, ACS, Springer, RSC; no data bank.
PUBLISHERS = {"10.1016", "10.1021", "10.1007", "10.1039"}
ARCHIVE = "10.18434/mds2-2422"
STATED = re.compile(r"common practice, no source|from memory|seen in|copy of")
MODELS = {"unifac", "dortmund", "nist"}


def _dois(node: Any) -> Iterator[str]:
    """Yield everything that a table or a correction names as its paper."""
    for row in node:
        yield row["doi"]


def _papers() -> dict[str, set[str]]:
    measured, evidence = load_data("pairs_measured.json.gz"), load_data("pairs_evidence.json.gz")
    return {
        "measured": set(_dois(measured["tables"])),
        "solubility": set(_dois(evidence["solubility"])),
        "enthalpy": set(_dois(evidence["enthalpy"])),
        "pairs": {d for r in load_data("pairs.json.gz") for d in (*r["papers"], *r["evidence"])},
    }


@pytest.mark.parametrize("kind", ["measured", "solubility", "enthalpy", "pairs"])
def test_every_point_has_a_paper_of_a_journal(kind: str) -> None:
    papers = _papers()[kind]
    assert papers
    assert {doi.partition("/")[0] for doi in papers} <= PUBLISHERS


def test_corrections_rest_on_shipped_points_alone() -> None:
    papers = _papers()
    assert papers["pairs"] <= papers["measured"] | papers["solubility"] | papers["enthalpy"]


def test_the_archive_of_the_points_is_the_public_one() -> None:
    assert load_data("pairs_measured.json.gz")["archive"]["data_doi"] == ARCHIVE


def test_group_tables_come_from_the_papers_that_publish_them() -> None:
    models = load_data("groups.json.gz")["models"]
    assert set(models) == MODELS
    for model in models.values():
        assert model["sources"]
        for key in model["sources"]:
            assert EQUILIBRIUM_REFERENCES[key].doi.partition("/")[0] in PUBLISHERS | {"10.1002"}


def test_miscibility_is_a_paper_or_stated_practice() -> None:
    text = (files("forerun.equilibrium") / "data" / "miscibility.json").read_text("utf-8")
    for row in json.loads(text)["pairs"]:
        if isinstance(row["source"], str):
            assert STATED.search(row["source"]), row
        else:
            assert row["source"]
            assert {doi.partition("/")[0] for doi in row["source"]} <= PUBLISHERS, row
