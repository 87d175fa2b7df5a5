"""A substance from its structure alone, every constant estimated and said to be."""

from __future__ import annotations

from functools import cache

from forerun.core.errors import BadInput, NotCovered
from forerun.substances.canonical import canonical_smiles
from forerun.substances.elements import OUTER_ELECTRONS
from forerun.substances.estimates import Estimate, Estimates, estimates_of
from forerun.substances.model import (
    Dimerisation,
    HeatCapacity,
    LatentHeat,
    MolarVolume,
    Sourced,
    Substance,
    VapourPressureFit,
)
from forerun.substances.molecules import Molecule
from forerun.substances.smiles import molecule_from_smiles
from forerun.substances.structure_signs import acid_groups, energetic_groups, peroxide_signs

__all__ = ["NOT_COMPUTED", "substance_from_smiles"]

NOT_COMPUTED = "not computed: "  # before the SMILES that stands in place of an InChIKey
_WATSON = 0.38
_NORMAL_QUANTILE_90 = 1.2815515655446004


def substance_from_smiles(text: str, field: str = "substance") -> Substance:
    """Return a substance that is known by its structure only.

    Args:
        text: the structure as SMILES.
        field: where it stands, for the message.

    Returns:
        The substance; `Substance.origin` is ``structure``, its notes say what cannot be known.

    Raises:
        BadInput: the SMILES cannot be read, or is no neutral molecule of one piece with carbon.
        NotCovered: a part of it has no contribution, which is named.
    """
    molecule = molecule_from_smiles(text, field)
    _refuse(molecule, text, field)
    try:
        return _built(canonical_smiles(molecule))
    except NotCovered as error:
        raise NotCovered(f"{field}: the structure {text}", error.why, error.advice) from error


def _refuse(molecule: Molecule, text: str, field: str) -> None:
    if molecule.parts() > 1:
        raise BadInput(field, text, "one molecule; give the parts of a mixture one by one")
    if molecule.charge or any(
        a.charge and not _neighbour_charge(molecule, k) for k, a in enumerate(molecule.atoms)
    ):
        raise BadInput(field, text, "a molecule without charge: salts do not distil")
    if "C" not in molecule.counts:
        raise BadInput(field, text, "a molecule with carbon; others have no estimates")
    electrons = sum(OUTER_ELECTRONS[e] * n for e, n in molecule.counts.items())
    if electrons % 2:
        raise BadInput(field, text, "a molecule without an unpaired electron")


def _neighbour_charge(molecule: Molecule, k: int) -> bool:
    """Tell whether a charge is balanced next door, as in a nitro group."""
    return any(molecule.atoms[o].charge * molecule.atoms[k].charge < 0 for o in molecule.near(k))


@cache
def _built(smiles: str) -> Substance:
    molecule = molecule_from_smiles(smiles)
    found = estimates_of(molecule)
    fit = found.vapour_pressure
    heat, capacity, volume = found.latent_heat, found.heat_capacity, found.volume
    return Substance(
        name=smiles,
        synonyms=(),
        cas="",
        inchikey=NOT_COMPUTED + smiles,
        smiles=smiles,
        formula=molecule.formula,
        molar_mass=molecule.molar_mass,
        melting_point=None,
        boiling_point=_sourced(found.boiling_point),
        critical_temperature=_sourced(found.critical_temperature),
        critical_pressure=_sourced(found.critical_pressure),
        vapour_pressure=VapourPressureFit(
            coefficients=fit.coefficients,
            temperature_low=fit.low,
            temperature_high=fit.high,
            data_low=fit.low,
            data_high=fit.high,
            spread=fit.spread,
            sources=fit.sources,
            temperature_spread=fit.temperature_spread,
            method="estimated",
        ),
        latent_heat=LatentHeat(
            heat.value,
            found.boiling_point.value,
            _WATSON,
            heat.spread,
            heat.sources,
            "estimated",
        ),
        heat_capacity=HeatCapacity(
            capacity.value,
            found.heat_capacity_slope,
            capacity.spread,
            capacity.sources,
            "estimated",
        ),
        molar_volume=MolarVolume(*found.molar_volume, volume.spread, volume.sources, "estimated"),
        refractive_index=None
        if found.refractive_index is None
        else _sourced(found.refractive_index),
        flash_point=None if found.flash_point is None else _safe(found.flash_point),
        autoignition=None,
        lower_flammable_fraction=None
        if found.lower_flammable_fraction is None
        else _safe(found.lower_flammable_fraction),
        peroxide_class=None,
        peroxide_signs=peroxide_signs(molecule),
        energetic_groups=energetic_groups(molecule),
        hazards=(),
        dimerisation=None
        if found.dimer is None
        else Dimerisation(found.dimer, ("flow1999",), "estimated"),
        origin="structure",
        notes=_notes(smiles, molecule, found),
    )


def _sourced(estimate: Estimate) -> Sourced:
    return Sourced(estimate.value, estimate.spread, estimate.sources, "estimated")


def _safe(estimate: Estimate) -> Sourced:
    """Return a limit of fire with the value that nine in ten exceed beside it."""
    lowest = estimate.value - _NORMAL_QUANTILE_90 * estimate.spread
    return Sourced(estimate.value, estimate.spread, estimate.sources, "estimated", lowest)


def _notes(smiles: str, molecule: Molecule, found: Estimates) -> tuple[str, ...]:
    notes = [
        f"{smiles} is not on file: all its constants are estimated from its structure; measure "
        "its boiling point before you rely on them.",
        f"Nothing was measured of {smiles}: its melting point, its stability and its hazards are "
        "not known.",
    ]
    if acid_groups(molecule) > 1:
        notes.append(f"{smiles} has several carboxyl groups: its vapour is taken as unpaired.")
    notes += [f"{smiles}: {text}." for text in found.missing]
    return tuple(notes)
