"""What must be said beside every result of a mixture."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations
from typing import TYPE_CHECKING

from forerun.equilibrium.coverage import Coverage, PairBasis
from forerun.equilibrium.groups import group_model

if TYPE_CHECKING:
    from forerun.substances.model import Substance

__all__ = ["warnings_for"]

Pair = tuple[int, int]

_ONE_OF_TEN = 1.2816  # half-width of the middle 80 % of a normal distribution, in sigmas
# amines, pyridines and formamides have the same numbers in all three tables
_BASIC_MAIN_GROUPS = frozenset({14, 15, 16, 18, 39})


def warnings_for(
    substances: Sequence[Substance],
    basis: Sequence[PairBasis],
    splits: Mapping[Pair, frozenset[frozenset[str]]],
    used: Sequence[str],
    models: Sequence[str],
    coverage: Coverage,
) -> list[str]:
    """Return a sentence for everything in this mixture that a reader must know."""

    def pair_name(pair: Pair) -> str:
        return " and ".join(substances[k].name for k in pair)

    sentences = [note for substance in substances for note in substance.notes]
    sentences += _without_groups(substances, coverage)
    if len(substances) > 1:
        sentences += [
            f"Bands beside boiling points and azeotropes do not hold the error of the vapour "
            f"pressure of {s.name}, whose boiling point is good to "
            f"{_ONE_OF_TEN * s.vapour_pressure.temperature_spread:.0f} K."
            for s in substances
            if s.origin == "structure"
        ]
    for entry in basis:
        if entry.basis == "ideal":
            sentences.append(
                f"No model knows {pair_name(entry.components)}: they are taken as ideal "
                "(Raoult's law), which can be far off."
            )
    if len(substances) > 1 and not used and any(e.basis != "ideal" for e in basis):
        sentences.append(
            "No model knows the whole mixture: it is put together from its pairs, which is rough "
            "where water is present."
        )
    left_out = [m for m in models if m in coverage.models and m not in used]
    if used and left_out:
        lacking = [m for m in left_out if coverage.missing[m]]
        if lacking:
            sentences.append(
                f"Left out for want of parameters: {', '.join(lacking)}; the spread between "
                f"models rests on {', '.join(used)} alone."
            )
    fitted = {entry.components for entry in basis if entry.basis == "fitted"}
    for pair, sets in splits.items():
        if pair not in fitted and frozenset(used) in sets:
            sentences.append(
                f"{pair_name(pair)} mix in all proportions, but every model at hand splits them "
                "into two liquids; treat boiling points of this pair with care."
            )
    sentences += [
        f"{pair_name(pair)} form an acid-base complex that no model knows: boiling points of this "
        "pair can come out several kelvin high."
        for pair in _acid_base_pairs(substances, coverage)
        if pair not in fitted
    ]
    away = [m for m in left_out if not coverage.missing[m]]
    if used and away:
        mixing = [pair_name(p) for p in splits if p not in fitted]
        sentences.append(
            f"Left out: {', '.join(away)}, which with the others would split "
            f"{'; '.join(mixing)} into two liquids, although they mix."
        )
    return sentences


def _without_groups(substances: Sequence[Substance], coverage: Coverage) -> list[str]:
    """Return what keeps a new structure out of all models, atom by atom."""
    from forerun.equilibrium.fragments import MODELS, uncovered  # noqa: PLC0415 -- few need it

    sentences = []
    for substance, groups in zip(substances, coverage.groups, strict=True):
        if substance.origin == "structure" and not groups:
            atoms = dict.fromkeys(a for model in MODELS for a in uncovered(substance.smiles, model))
            what = "; ".join(atoms) or "its atoms taken together"
            sentences.append(f"No activity model has groups for {substance.name}: {what}.")
    return sentences


def _acid_base_pairs(substances: Sequence[Substance], coverage: Coverage) -> list[Pair]:
    """Return the pairs of an acid that pairs up in the vapour and an amine, pyridine or formamide.

    Measured: formic acid + dimethylformamide comes out 5 K high; against the azeotrope of acetic
    acid + pyridine as remembered, 3 K.
    """
    acids = {k for k, s in enumerate(substances) if s.dimerisation is not None}
    bases = {
        k
        for k, groups in enumerate(coverage.groups)
        if any(
            group_model(name).subgroups[number].main_group in _BASIC_MAIN_GROUPS
            for name, counts in groups.items()
            for number in counts
        )
    }
    return [
        (i, j)
        for i, j in combinations(range(len(substances)), 2)
        if (i in acids and j in bases) or (i in bases and j in acids)
    ]
