"""A mixture ready for the kernels: which models speak, for which pairs, on whose authority."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput
from forerun.core.references import Reference
from forerun.equilibrium.arrays import MixtureArrays, scratch_for
from forerun.equilibrium.corrections import FittedPair, false_splits, fitted_pair
from forerun.equilibrium.coverage import CARRIED_TERMS, Coverage, PairBasis, coverage_of
from forerun.equilibrium.groups import MODEL_NAMES, group_model
from forerun.equilibrium.kernels import ln_activity
from forerun.equilibrium.mixture_warnings import warnings_for
from forerun.equilibrium.sources import EQUILIBRIUM_REFERENCES
from forerun.equilibrium.tables import model_table, no_models, stack_models

if TYPE_CHECKING:
    from forerun.equilibrium.own_pairs import OwnPair
    from forerun.substances.model import Substance

__all__ = ["Mixture", "PairBasis", "mixture_of"]

Floats = npt.NDArray[np.float64]
Pair = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Mixture:
    """Substances with everything that their equilibrium needs.

    Args:
        substances: (C,) the components.
        arrays: what the kernels read.
        models: (M,) names of the activity models behind `arrays`, empty when none knows all pairs.
        pairs: one `PairBasis` for every pair.
        references: what was really used.
        warnings: sentences that belong beside every result.
        miscible_pairs: pairs that are known to mix although models split them.
        corrected: whether what was measured and printed of single pairs is in it.
    """

    substances: tuple[Substance, ...]
    arrays: MixtureArrays
    models: tuple[str, ...]
    pairs: tuple[PairBasis, ...]
    references: tuple[Reference, ...]
    warnings: tuple[str, ...]
    miscible_pairs: tuple[Pair, ...] = ()
    corrected: bool = True

    @property
    def names(self) -> tuple[str, ...]:
        """(C,) names of the components."""
        return tuple(s.name for s in self.substances)

    def scratch(self) -> Floats:
        """Return working space for one caller of the kernels [-]."""
        return scratch_for(self.arrays)

    def alone(self, model: int) -> MixtureArrays:
        """Return the arrays with one activity model only, pair corrections left out.

        Args:
            model: index into `models`.

        Returns:
            Arrays for the same kernels.
        """
        weights = np.zeros(len(self.arrays.weights))
        weights[model] = 1.0
        return self.arrays._replace(
            weights=weights, pair_correction=np.zeros_like(self.arrays.pair_correction)
        )

    def ln_activity(self, temperature: float, x: npt.ArrayLike) -> Floats:
        """Return ln gamma, models and pair corrections together.

        Args:
            temperature: [K], tables span 180-600 K.
            x: (C,) mole fractions [-], summing to 1.

        Returns:
            (C,) ln gamma [-].

        Source:
            See `forerun.equilibrium.kernels.ln_activity`.
        """
        result = np.empty(len(self.substances))
        composition = np.array(x, dtype=np.float64)
        ln_activity(temperature, composition, self.arrays, self.scratch(), result)
        return result


def mixture_of(
    substances: Sequence[Substance],
    models: Sequence[str] = MODEL_NAMES,
    *,
    corrections: bool = True,
    own: OwnPair | None = None,
) -> Mixture:
    """Return a mixture ready for the kernels.

    The activity coefficient is the mean of ln gamma over all models that know every pair, plus
    the fitted corrections of single pairs.  A model that lacks an interaction or is known to
    split a pair wrongly is left out; where no model knows the whole mixture, each pair that some
    model knows is carried by Redlich-Kister terms and the others are ideal, and a warning says so.

    Args:
        substances: (C,) the components, C >= 1, all different.
        models: names of the activity models to consider.
        corrections: False leaves the fitted pair corrections out.
        own: a pair that is used before what the user's library and the package hold.

    Returns:
        The mixture with its references and warnings.

    Raises:
        BadInput: for no component or for two equal ones.
    """
    substances = tuple(substances)
    _refuse_doubles(substances)
    keys = [s.inchikey for s in substances]
    pairs = list(combinations(range(len(substances)), 2))
    coverage = coverage_of(substances, models)
    splits = false_splits(keys)
    fitted = {
        p: f
        for p in pairs
        if corrections
        and (f := fitted_pair(keys[p[0]], keys[p[1]], own)) is not None
        and set(f.base) <= set(coverage.knowing(p))
    }
    used = _without_splitters(coverage.complete(), splits, fitted)

    basis = [_basis(p, coverage, used, fitted.get(p)) for p in pairs]
    arrays = _arrays(
        substances, coverage, used, _correction(len(keys), basis, coverage, used, fitted)
    )
    return Mixture(
        substances,
        arrays,
        used,
        tuple(basis),
        _references(substances, basis),
        (
            *warnings_for(substances, basis, splits, used, models, coverage),
            *(w for p, f in fitted.items() if (w := _outdated(p, f, substances))),
        ),
        tuple(splits),
        corrections,
    )


def _outdated(pair: Pair, fit: FittedPair, substances: Sequence[Substance]) -> str:
    """Return a sentence where one's own fit was made on models that are other ones now."""
    if not fit.probe:
        return ""
    from forerun.equilibrium.pairs import DRIFT_ALLOWED, base_probe  # noqa: PLC0415 -- a cycle

    two = [substances[k] for k in pair]
    now = base_probe(mixture_of(two, corrections=False).arrays)
    if max(abs(a - b) for a, b in zip(now, fit.probe, strict=True)) <= DRIFT_ALLOWED:
        return ""
    names = " and ".join(s.name for s in two)
    return f"Your own fit of {names} was made on models that have changed since: fit them again."


def _refuse_doubles(substances: Sequence[Substance]) -> None:
    if not substances:
        raise BadInput("mixture", "", "at least one substance")
    seen: set[str] = set()
    for substance in substances:
        if substance.inchikey in seen:
            raise BadInput("mixture", substance.name, "each substance once")
        seen.add(substance.inchikey)


def _without_splitters(
    complete: Sequence[str],
    splits: Mapping[Pair, frozenset[frozenset[str]]],
    fitted: Mapping[Pair, FittedPair],
) -> tuple[str, ...]:
    """Return the most models whose mean splits no pair wrongly that no fit mends, else all."""
    wrong = [sets for pair, sets in splits.items() if pair not in fitted]
    for size in range(len(complete), 0, -1):
        for models in combinations(complete, size):
            if not any(frozenset(models) in sets for sets in wrong):
                return models
    return tuple(complete)


def _basis(
    pair: Pair, coverage: Coverage, used: Sequence[str], fit: FittedPair | None
) -> PairBasis:
    if fit is not None:
        return PairBasis(
            pair,
            "fitted",
            fit.base,
            fit.scatter,
            fit.sources,
            fit.origin,
            fit.papers,
            fit.printed,
        )
    speaking = tuple(used) or coverage.knowing(pair)
    return PairBasis(pair, "predicted" if speaking else "ideal", speaking)


def _correction(
    components: int,
    basis: Sequence[PairBasis],
    coverage: Coverage,
    used: Sequence[str],
    fitted: dict[Pair, FittedPair],
) -> Floats:
    """Return (C, C, K, 2): what has to be added to the mean of `used` for every pair.

    A fit corrects the mean of the models that it was made with.  Where the mixture as a whole is
    carried by others, the difference of the two for that pair is added in Redlich-Kister terms.
    """
    terms: dict[Pair, Floats] = {}
    for entry in basis:
        pair = entry.components
        total = np.zeros((CARRIED_TERMS, 2))
        if pair in fitted:
            total[: len(fitted[pair].terms)] += fitted[pair].terms
        if entry.models and set(entry.models) != set(used):
            total += coverage.binary(pair, entry.models)
            if used:
                total -= coverage.binary(pair, used)
        terms[pair] = total
    longest = max(
        (np.flatnonzero(t.any(axis=1)).max(initial=-1) for t in terms.values()), default=-1
    )
    correction = np.zeros((components, components, max(int(longest) + 1, 1), 2))
    for (i, j), total in terms.items():
        correction[i, j] = total[: correction.shape[2]]
    return correction


def _arrays(
    substances: Sequence[Substance],
    coverage: Coverage,
    used: Sequence[str],
    correction: Floats,
) -> MixtureArrays:
    pressures = np.array(
        [
            [
                *s.vapour_pressure.coefficients,
                s.vapour_pressure.temperature_low,
                s.vapour_pressure.temperature_high,
            ]
            for s in substances
        ]
    )
    dimers = np.zeros((len(substances), 3))
    for row, substance in zip(dimers, substances, strict=True):
        if substance.dimerisation is not None:
            row[:] = 1.0, *substance.dimerisation.coefficients
    if not used:
        return no_models(pressures, correction, dimers)
    tables = [
        model_table(coverage.models[name], [g[name] for g in coverage.groups]) for name in used
    ]
    weights = np.full(len(used), 1.0 / len(used))
    return stack_models(tables, weights, pressures, correction, dimers)


def _references(
    substances: Sequence[Substance], basis: Sequence[PairBasis]
) -> tuple[Reference, ...]:
    keys: list[str] = []
    for name in MODEL_NAMES:
        if any(name in entry.models for entry in basis):
            keys += group_model(name).sources
    if any(s.dimerisation is not None for s in substances):
        keys.append("marek1954")
    if any(entry.basis == "fitted" for entry in basis):
        keys.append("redlich1948")
    own = dict.fromkeys(
        label for entry in basis if entry.origin == "own points" for label in entry.sources
    )
    papers = dict.fromkeys(doi for entry in basis for doi in entry.sources if doi not in own)
    measured = [Reference(doi, "measured equilibrium", doi) for doi in papers]
    measured += [Reference(label, f"own points: {label}") for label in own]
    printed = dict.fromkeys(source for entry in basis for source in entry.printed)
    measured += [Reference(source, f"azeotrope in print: {source}") for source in printed]
    return (*(EQUILIBRIUM_REFERENCES[key] for key in keys), *measured)
