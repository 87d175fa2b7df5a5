"""The shipped groups: complete for the catalogue, right for molecules with a trap, checked."""

from __future__ import annotations

from pathlib import Path

import pytest

from forerun.core.errors import CalculationFailed
from forerun.equilibrium import datafiles
from forerun.equilibrium.datafiles import load_data
from forerun.equilibrium.groups import MODEL_NAMES, group_model, groups_of
from forerun.substances.catalogue import all_substances, find

DATA = Path(datafiles.__file__).parent / "data"


def test_every_liquid_of_the_catalogue_was_looked_at():
    """If not: run tools/equilibrium/build_tables.py again."""
    seen = load_data("groups.json.gz")["molecules"]
    assert [s.name for s in all_substances() if s.inchikey not in seen] == []


def test_at_least_nine_liquids_in_ten_have_a_model():
    described = [bool(groups_of(s)) for s in all_substances()]
    assert sum(described) > 0.9 * len(described)


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("1,4-dioxane", ({2: 2, 25: 2}, {27: 2}, {25: 1, 27: 1, 78: 1})),
        ("tetrahydrofuran", ({2: 3, 27: 1}, {27: 1, 78: 2}, {27: 1, 78: 2})),
        ("NMP", ({85: 1}, {86: 1}, {86: 1})),
        ("tert-butanol", ({1: 3, 4: 1, 14: 1}, {1: 3, 4: 1, 82: 1}, {1: 3, 4: 1, 82: 1})),
        ("chlorobenzene", ({9: 5, 53: 1}, {9: 5, 53: 1}, {9: 5, 53: 1})),
        ("pyridine", ({37: 1}, {9: 3, 37: 1}, {9: 3, 37: 1})),
        ("MEK", ({1: 1, 2: 1, 18: 1}, {1: 1, 2: 1, 18: 1}, {1: 1, 2: 1, 18: 1})),
        ("ethyl formate", ({1: 1, 2: 1, 23: 1}, {1: 1, 2: 1, 23: 1}, {1: 1, 2: 1, 23: 1})),
        ("1,2-dichloroethane", ({44: 2}, {44: 2}, {44: 2})),
    ],
)
def test_groups_of_molecules_that_are_easily_cut_wrongly(
    name: str, expected: tuple[dict[int, int], ...]
):
    assert groups_of(find(name)) == dict(zip(MODEL_NAMES, expected, strict=True))


def test_tables_hold_only_what_the_papers_publish():
    for name in MODEL_NAMES:
        model = group_model(name)
        assert model.sources
        main = {group.main_group for group in model.subgroups.values()}
        assert max(main) <= {"unifac": 55, "dortmund": 56, "nist": 96}[name]
        known = {m for pair in model.interactions for m in pair}
        assert known <= main


def test_a_damaged_file_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    folder = tmp_path / "data"
    folder.mkdir()
    (folder / "groups.json.gz").write_bytes((DATA / "groups.json.gz").read_bytes() + b"\0")
    (folder / "groups.json.gz.sha256").write_text((DATA / "groups.json.gz.sha256").read_text())
    monkeypatch.setattr(datafiles, "files", lambda _: tmp_path)
    with pytest.raises(CalculationFailed, match="checksum"):
        load_data("groups.json.gz")
