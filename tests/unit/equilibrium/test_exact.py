"""The written-out models against textbooks and against another implementation."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from forerun.equilibrium.exact import activity_exact
from forerun.equilibrium.groups import MODEL_NAMES, group_model
from forerun.equilibrium.tables import missing_pairs, model_table

INDEPENDENT = json.loads((Path(__file__).parent / "independent_activity.json").read_text())["rows"]


def test_acetone_in_pentane():
    """Poling, Prausnitz & O'Connell, 5th ed. (2001), example 8-12 (from memory)."""
    ln_gamma = activity_exact(
        307.0, np.array([0.047, 0.953]), [{1: 1, 18: 1}, {1: 2, 2: 3}], group_model("unifac")
    )
    np.testing.assert_allclose(np.exp(ln_gamma), [4.99, 1.005], rtol=2e-3)


def test_diethylamine_in_heptane():
    """Smith, Van Ness & Abbott, 7th ed. (2005), appendix H, example (from memory)."""
    ln_gamma = activity_exact(
        308.15,
        np.array([0.4, 0.6]),
        [{1: 2, 2: 1, 32: 1}, {1: 2, 2: 5}],
        group_model("unifac"),
    )
    np.testing.assert_allclose(np.exp(ln_gamma), [1.133, 1.047], atol=6e-4)


@pytest.mark.parametrize("row", INDEPENDENT, ids=lambda r: f"{r['model']}-{len(r['x'])}")
def test_another_implementation_gives_the_same(row: dict):
    molecules = [{int(k): n for k, n in m.items()} for m in row["groups"]]
    found = activity_exact(
        row["temperature_K"], np.array(row["x"]), molecules, group_model(row["model"])
    )
    np.testing.assert_allclose(found, row["ln_gamma"], atol=1e-9)


@pytest.mark.parametrize("name", MODEL_NAMES)
def test_every_table_of_psi_agrees_with_the_formula(name: str):
    """Error in psi, or against 0.01 where psi is less and does not count any more.

    Below 1e-7 for 98 % of the interactions; the rest has coefficients of 5000 K and more, the
    worst of which is off by 4e-5 at 180 K and by 1e-5 above 250 K.
    """
    model = group_model(name)
    one = {group.main_group: number for number, group in model.subgroups.items() if group.surface}
    errors = []
    temperature = np.arange(180.5, 600.0, 7.0)
    n, s = np.divmod(temperature - 180.0, 1.0)
    for m, k in model.interactions:
        if m >= k or (k, m) not in model.interactions:
            continue
        table = model_table(model, [{one[m]: 1}, {one[k]: 1}])
        powers = np.stack([np.ones_like(s), s, s**2, s**3], axis=1)
        for row, (first, second) in enumerate(((m, k), (k, m))):
            found = (table.interaction[n.astype(int), :, row, 1 - row] * powers).sum(axis=1)
            a, b, c = model.interactions[first, second]
            exact = np.exp(-(a / temperature + b + c * temperature))
            errors.append(np.abs(found - exact) / np.maximum(exact, 0.01))
    warm = np.array(errors)[:, temperature > 250.0]
    assert (np.max(errors, axis=1) < 1e-7).mean() > 0.98
    assert np.max(errors) < 4e-5
    assert warm.max() < 1e-5


def test_missing_interactions_and_missing_groups_are_found():
    model = group_model("unifac")
    carbon_disulphide, nitrobenzene, water = {58: 1}, {9: 5, 57: 1}, {16: 1}
    expected = (28, 7) in model.interactions
    assert (missing_pairs(model, [carbon_disulphide, water]) == set()) is expected
    assert missing_pairs(model, [water, None, nitrobenzene]) >= {(0, 1), (1, 2)}


def test_chlorobenzene_and_carbon_tetrachloride_have_main_groups_of_their_own():
    """The NIST-modified table carries them under the numbers of two other main groups."""
    model = group_model("nist")
    assert model.subgroups[52].main_group == 24
    assert model.subgroups[53].main_group == 25
    assert all(
        g.main_group not in (24, 25) for n, g in model.subgroups.items() if n not in (52, 53)
    )
