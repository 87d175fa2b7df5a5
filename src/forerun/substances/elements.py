"""What a reader of structures must know of the elements: number, weight, usual valences."""

from __future__ import annotations

__all__ = ["AROMATIC", "ATOMIC_WEIGHT", "OUTER_ELECTRONS", "VALENCES", "atomic_number"]

# Conventional atomic weights [g/mol]; Prohaska, T. and others, Standard atomic weights of the
# elements 2021, Pure Appl. Chem. 94 (2022) 573-600, doi:10.1515/pac-2019-0603.
ATOMIC_WEIGHT: dict[str, float] = {
    "H": 1.008,
    "B": 10.81,
    "C": 12.011,
    "N": 14.007,
    "O": 15.999,
    "F": 18.998,
    "Si": 28.086,
    "P": 30.974,
    "S": 32.06,
    "Cl": 35.45,
    "Se": 78.971,
    "Br": 79.904,
    "I": 126.904,
}
_NUMBERS = {
    "H": 1,
    "B": 5,
    "C": 6,
    "N": 7,
    "O": 8,
    "F": 9,
    "Si": 14,
    "P": 15,
    "S": 16,
    "Cl": 17,
    "Se": 34,
    "Br": 35,
    "I": 53,
}

# Valences up to which hydrogen is added to an atom written without brackets (OpenSMILES 3.1);
# the first one is the ordinary valence.
VALENCES: dict[str, tuple[int, ...]] = {
    "H": (1,),
    "B": (3,),
    "C": (4,),
    "N": (3, 5),
    "O": (2,),
    "F": (1,),
    "Si": (4,),
    "P": (3, 5),
    "S": (2, 4, 6),
    "Cl": (1,),
    "Se": (2, 4, 6),
    "Br": (1,),
    "I": (1,),
}
OUTER_ELECTRONS: dict[str, int] = {
    "H": 1,
    "B": 3,
    "C": 4,
    "N": 5,
    "O": 6,
    "F": 7,
    "Si": 4,
    "P": 5,
    "S": 6,
    "Cl": 7,
    "Se": 6,
    "Br": 7,
    "I": 7,
}
AROMATIC = {"b": "B", "c": "C", "n": "N", "o": "O", "p": "P", "s": "S", "se": "Se"}


def atomic_number(symbol: str) -> int:
    """Return the number of an element that is known here.

    Args:
        symbol: such as ``Cl``.
    """
    return _NUMBERS[symbol]
