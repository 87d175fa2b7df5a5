"""Amounts of a charge as they are typed, as mole fractions."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput
from forerun.core.quantities import parse_quantity
from forerun.substances.model import Substance

__all__ = ["charge_from"]

Floats = npt.NDArray[np.float64]

_ACCEPTED = (
    'one amount for each substance: mole fractions such as "0.3, 0.7", or "30 wt%, 70 wt%", or '
    '"20 g, 50 mL, 0.1 mol"'
)
_SUM_WITHIN = 2e-3  # three decimals of three fractions may miss 1 by this much


def charge_from(text: str | Sequence[float], found: Sequence[Substance]) -> Floats:
    """Read what is in the pot.

    Args:
        text: mole fractions, shares by weight (``wt%``) or amounts (g, mL, mol), one for each
            substance, with commas between them; or a sequence of mole fractions.
        found: the substances.

    Returns:
        (C,) mole fractions [-].

    Raises:
        BadInput: not one amount for each, no amount at all, fractions that do not add up to 1.
    """
    parts = text.replace(";", ",").split(",") if isinstance(text, str) else [f"{x!r}" for x in text]
    parts = [part.strip() for part in parts]
    if len(parts) != len(found):
        raise BadInput("--charge", text, _ACCEPTED)
    if all(_is_number(part) for part in parts):
        shares = np.array([float(part) for part in parts])
        if abs(float(shares.sum()) - 1.0) > _SUM_WITHIN:
            raise BadInput("--charge", text, _ACCEPTED)
        moles = shares
    elif all(part.replace(" ", "").endswith("wt%") for part in parts):
        shares = np.array([_percent(part, text) for part in parts])
        if abs(float(shares.sum()) - 100.0) > 100.0 * _SUM_WITHIN:
            raise BadInput("--charge", text, 'shares that add up to "100 wt%"')
        moles = shares / np.array([s.molar_mass for s in found])
    else:
        moles = np.array([_moles(part, s) for part, s in zip(parts, found, strict=True)])
    if not np.isfinite(moles).all() or (moles < 0.0).any() or not moles.sum() > 0.0:
        raise BadInput("--charge", text, _ACCEPTED)
    fractions: Floats = moles / moles.sum()
    return fractions


def _is_number(part: str) -> bool:
    try:
        float(part)
    except ValueError:
        return False
    return True


def _percent(part: str, text: object) -> float:
    try:
        return float(part.replace(" ", "").removesuffix("wt%"))
    except ValueError as problem:
        raise BadInput("--charge", text, _ACCEPTED) from problem


def _moles(part: str, substance: Substance) -> float:
    amount = parse_quantity(part, ("volume", "mass", "amount"), "--charge")
    per_unit = {
        "amount": 1.0,
        "mass": 1.0 / substance.molar_mass,
        "volume": 1.0 / substance.molar_volume.v0,
    }
    return amount.value * per_unit[amount.dimension]
