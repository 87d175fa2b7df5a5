"""Pairs that the user fitted to points of their own, one file for each in their folder.

A file holds everything: the points as given, the fit with its covariance, the tests, and what the
fit corrects. Handing it on is handing on one file.
"""

from __future__ import annotations

import hashlib
import json
import math
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from forerun.core.errors import BadInput
from forerun.core.places import user_folder

__all__ = ["FORMAT", "OwnPair", "own_pair", "own_pair_file", "own_pairs_folder", "read_own_pair"]

FORMAT = "forerun pair 1"
_TURNED = (2, 1, 0, 5, 4, 3, 8, 7, 6)  # the places of `probe` with the components exchanged
_LARGEST = 2_000_000  # bytes
_WILDEST = 20.0  # of a coefficient: ln gamma of e^20 belongs to no liquid


@dataclass(frozen=True, slots=True)
class OwnPair:
    """A fitted pair of the user's library.

    Args:
        components: InChIKeys, or what stands for one, of the first and the second component.
        names: their names.
        smiles: their structures.
        terms: a, b of A_k = a + b (350 K/T - 1), first minus second component [-].
        covariance: of a0, b0, a1, … [-].
        base_models: the activity models whose mean is corrected.
        scatter_K: standard deviation about a run that was not fitted [K].
        label: how the user calls the points, or where they are printed.
        points: the rows: temperature_K [K], pressure_Pa [Pa], x1, y1 [-] (None where not
            measured), row.
        rms: temperature_K [K] and vapour_mole_fraction [-], with the base alone and corrected.
        consistency: name, passed, value, limit of each test.
        probe: ln P of the base at nine places [-].
        notes: sentences about conversions and doubts.
        references: what the conversions rest on.
    """

    components: tuple[str, str]
    names: tuple[str, str]
    smiles: tuple[str, str]
    terms: tuple[tuple[float, float], ...]
    covariance: tuple[tuple[float, ...], ...]
    base_models: tuple[str, ...]
    scatter_K: float
    label: str
    points: tuple[Mapping[str, float | None], ...]
    rms: Mapping[str, float | None]
    consistency: tuple[Mapping[str, Any], ...]
    probe: tuple[float, ...]
    notes: tuple[str, ...] = ()
    references: tuple[str, ...] = ()

    def flipped(self) -> OwnPair:
        """Return the same with the components exchanged: odd terms change sign."""
        terms = tuple((a, b) if k % 2 == 0 else (-a, -b) for k, (a, b) in enumerate(self.terms))
        signs = [(-1.0) ** (k // 2) for k in range(2 * len(terms))]
        covariance = tuple(
            tuple(v * signs[i] * signs[j] for j, v in enumerate(row))
            for i, row in enumerate(self.covariance)
        )
        return replace(
            self,
            components=self.components[::-1],
            names=self.names[::-1],
            smiles=self.smiles[::-1],
            terms=terms,
            covariance=covariance,
            probe=tuple(self.probe[k] for k in _TURNED) if len(self.probe) == len(_TURNED) else (),
        )

    def text(self) -> str:
        """Return the content of its file."""
        return json.dumps({"format": FORMAT, **asdict(self)}, indent=1, ensure_ascii=False) + "\n"


def own_pairs_folder() -> Path:
    """Return the folder of the user's fitted pairs; it need not exist."""
    return user_folder() / "pairs"


def own_pair_file(first: str, second: str) -> Path:
    """Return the file of a pair in the user's folder.

    Args:
        first: InChIKey, or what stands for one.
        second: the same of the other component; their order does not matter.
    """
    digest = hashlib.sha256("\n".join(sorted((first, second))).encode()).hexdigest()
    return own_pairs_folder() / f"{digest[:24]}.json"


def own_pair(first: str, second: str) -> OwnPair | None:
    """Return the user's own fit of a pair, oriented as asked, or None.

    Args:
        first: InChIKey of the component that x_i - x_j counts positive.
        second: InChIKey of the other.

    Raises:
        BadInput: the file is there and cannot be used.
    """
    file = own_pair_file(first, second)
    if not file.is_file():
        return None
    found = read_own_pair(file)
    return found if found.components[0] == first else found.flipped()


def read_own_pair(file: Path, field: str = "") -> OwnPair:
    """Return the pair in a file, of the user's folder or handed on by somebody.

    Args:
        file: its path.
        field: where its name stands, for the message; the path itself when left out.

    Raises:
        BadInput: no such file, not such a file, or numbers that cannot be right.
    """
    place = field or "fitted pair"
    accepted = f'a file that forerun fit wrote ("format": "{FORMAT}")'
    try:
        if file.stat().st_size > _LARGEST:
            raise BadInput(place, str(file), f"{accepted}, smaller than 2 MB")
        body = json.loads(file.read_text("utf-8"))
    except (OSError, ValueError) as problem:
        raise BadInput(place, str(file), accepted) from problem
    if not isinstance(body, dict) or body.pop("format", None) != FORMAT:
        raise BadInput(place, str(file), accepted)
    try:
        found = _built(body)
    except (KeyError, TypeError, ValueError) as problem:
        raise BadInput(place, str(file), f"{accepted}; this one lacks a part") from problem
    _refuse_wild(found, place, str(file))
    return found


def _built(body: dict[str, Any]) -> OwnPair:
    def pair(key: str) -> tuple[str, str]:
        first, second = body[key]
        return str(first), str(second)

    return OwnPair(
        components=pair("components"),
        names=pair("names"),
        smiles=pair("smiles"),
        terms=tuple((float(a), float(b)) for a, b in body["terms"]),
        covariance=tuple(tuple(float(v) for v in row) for row in body["covariance"]),
        base_models=tuple(str(m) for m in body["base_models"]),
        scatter_K=float(body["scatter_K"]),
        label=re.sub(r"\s+", " ", str(body["label"]))[:200],
        points=tuple(dict(row) for row in body["points"]),
        rms=dict(body["rms"]),
        consistency=tuple(dict(row) for row in body["consistency"]),
        probe=tuple(float(v) for v in body["probe"]),
        notes=tuple(str(n) for n in body.get("notes", ())),
        references=tuple(str(r) for r in body.get("references", ())),
    )


def _refuse_wild(found: OwnPair, place: str, name: str) -> None:
    numbers = [v for term in found.terms for v in term]
    square = [len(row) for row in found.covariance] == [len(numbers)] * len(numbers)
    sane = numbers and len(found.terms) <= 5 and all(abs(v) <= _WILDEST for v in numbers)
    spread = [v for row in found.covariance for v in row] + [found.scatter_K]
    if not (sane and square and all(math.isfinite(v) for v in spread) and found.scatter_K > 0.0):
        raise BadInput(place, name, "one to five terms of a sane size with their covariance")
