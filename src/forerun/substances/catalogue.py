"""Finding a substance by what people write: name, synonym, CAS, InChIKey or SMILES."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any

from forerun.core.errors import BadInput
from forerun.core.references import Reference
from forerun.substances.model import Substance
from forerun.substances.store import index, record_at, records, reference, substance_of

__all__ = [
    "all_substances",
    "find",
    "index_of",
    "is_known",
    "looks_like_structure",
    "references_of",
]

ACCEPTED = "a name, synonym, CAS number or InChIKey of a substance in the file, or any SMILES"

GREEK = {"α": "alpha", "β": "beta", "γ": "gamma", "δ": "delta", "ω": "omega", "µ": "mu"}
PREFIXES = tuple(
    (re.compile(pattern), instead)
    for pattern, instead in (
        (r"^(n|normal)[-\s]+(?!n\b)", ""),
        (r"^i[-\s]+", "iso"),
        (r"^(t|tertiary)[-\s]+", "tert"),
        (r"^(s|secondary)[-\s]+", "sec"),
        (r"^ortho[-\s]+", "o"),
        (r"^meta[-\s]+", "m"),
        (r"^para[-\s]+", "p"),
        (r"\s*\([^()]*\)\s*$", ""),  # a remark in brackets
        # the locant before the ending or before the parent: butan-2-one, 2-butanone
        (
            r"((?:cyclo)?(?:meth|eth|prop|but|pent|hex|hept|oct|non|dec)(?:ane?)?)"
            r"-(\d(?:,\d)*)-((?:di|tri)?(?:ol|one|amine|thiol|ene))$",
            r"-\2-\1\3",
        ),
        # systematic and common names of the lower acids' esters
        (r"\bmethanoate$", "formate"),
        (r"\bethanoate$", "acetate"),
        (r"\bpropanoate$", "propionate"),
        (r"\bbutanoate$", "butyrate"),
    )
)
NOT_PLAIN = re.compile(r"[^a-z0-9+]")
CAS = re.compile(r"^\d{2,7}-\d{2}-\d$")
INCHIKEY = re.compile(r"^[A-Z]{14}-[A-Z]{10}-[A-Z]$")
STRUCTURE = re.compile(r"^[A-Za-z0-9@+\-\[\]()=#$/\\%.:*]+$")
# a text of atoms alone, such as CCOC(C)C without its bracket; and the signs of a structure
ATOMS_ALONE = re.compile(r"^(?:Cl|Br|[CNOPSFI])*C(?![a-z])(?:Cl|Br|[CNOPSFI])*$")
BONDED = re.compile(r"[=#()\[\]]|[A-Za-z]\d|\S\.\S")
BOND_SIGNS = re.compile(r"[=#()\[\]]")  # in a structure, and hardly ever in a name
ATOM = re.compile(r"^(?:Cl|Br|[BCNOPSFIbcnops]|\[)")
SUGGESTIONS = 3


@cache
def find(text: str, field: str = "substance") -> Substance:
    """Return the substance that a text names.

    Case, hyphens, spaces, Greek letters and the prefixes n-, i-, t-, s- do not matter in a name.

    Args:
        text: name, synonym, CAS number, InChIKey or SMILES.
        field: where the text stands, for the message.

    Raises:
        BadInput: nothing fits (with what comes nearest), or more than one substance does.
    """
    written = text.strip()
    if not written:
        raise BadInput(field, text, ACCEPTED)
    for look_up in (_by_identifier, _by_name, _by_smiles):
        candidates = look_up(written)
        if len(candidates) == 1:
            return _built(candidates[0])
        if candidates:
            names = " or ".join(record_at(k)["name"] for k in candidates)
            raise BadInput(field, text, f"one substance; this fits {names}")
    if not looks_like_structure(written):
        raise BadInput(field, text, _advice(written))
    try:
        return _by_graph(written, field)
    except BadInput as refused:
        near = [] if BOND_SIGNS.search(written) else _nearest(written)
        if not near:
            raise
        told = f"{refused.accepted}, or a name: did you mean {' or '.join(near)}?"
        raise BadInput(field, text, told) from None


def is_known(text: str) -> bool:
    """Tell whether a text names a substance of the file, without building it.

    Args:
        text: name, synonym, CAS number, InChIKey or SMILES.
    """
    written = text.strip()
    return any(look_up(written) for look_up in (_by_identifier, _by_name, _by_smiles))


def looks_like_structure(text: str) -> bool:
    """Tell whether a text that is no known name was meant as a SMILES.

    Args:
        text: as written.

    Returns:
        True for signs of bonds, branches and rings, or for a text of atoms alone with a carbon
        in it.
    """
    if not STRUCTURE.match(text) or CAS.match(text) or INCHIKEY.match(text.upper()):
        return False
    return bool(ATOMS_ALONE.match(text)) or (bool(BONDED.search(text)) and bool(ATOM.match(text)))


def _by_graph(text: str, field: str) -> Substance:
    """Return the substance of the file with this structure, else one estimated from it."""
    from forerun.substances.canonical import canonical_smiles  # noqa: PLC0415 -- few names pay
    from forerun.substances.smiles import molecule_from_smiles  # noqa: PLC0415
    from forerun.substances.structures import substance_from_smiles  # noqa: PLC0415

    molecule = molecule_from_smiles(text, field)
    key = canonical_smiles(molecule)
    same = [
        k
        for k, record in enumerate(records())
        if record["formula"] == molecule.formula
        and canonical_smiles(molecule_from_smiles(record["smiles"])) == key
    ]
    if len(same) == 1:
        return _built(same[0])
    if same:
        names = " or ".join(records()[k]["name"] for k in same)
        raise BadInput(field, text, f"one substance, by name; this structure fits {names}")
    return substance_from_smiles(text, field)


def all_substances() -> tuple[Substance, ...]:
    """Return every substance of the file in its order."""
    return tuple(_built(k) for k in range(len(records())))


def references_of(substance: Substance) -> tuple[Reference, ...]:
    """Return every reference that a substance rests on, each once, papers of points last."""
    keys: set[str] = {key for hazard in substance.hazards for key in hazard.sources}
    for name in substance.__dataclass_fields__:
        keys.update(getattr(getattr(substance, name), "sources", ()))
    return tuple(
        reference(key) for key in sorted(keys, key=lambda key: (key.startswith("doi:"), key))
    )


@cache
def _built(position: int) -> Substance:
    return substance_of(record_at(position))


def _plain(name: str) -> str:
    text = name.casefold()
    if not text.isascii():
        text = unicodedata.normalize("NFKD", text)
        text = "".join(GREEK.get(c, c) for c in text)
    return NOT_PLAIN.sub("", text)


def _variants(name: str) -> list[str]:
    low = name.casefold().strip()
    changed = (pattern.sub(instead, low) for pattern, instead in PREFIXES)
    return [_plain(low), *(_plain(text) for text in changed if text not in ("", low))]


def index_of(found: Sequence[Mapping[str, Any]]) -> dict[str, dict[str, list[int]]]:
    """Return where names and numbers lead, to be kept in the data file.

    Args:
        found: raw records.

    Returns:
        Under "names" the places of every plain name, under "identifiers" that of every CAS number
        and InChIKey.
    """
    names: dict[str, set[int]] = {}
    for k, record in enumerate(found):
        for name in (record["name"], *record["synonyms"]):
            names.setdefault(_plain(name), set()).add(k)
    for k, record in enumerate(found):  # a name beats a synonym of another
        names[_plain(record["name"])] = {k}
    return {
        "names": {key: sorted(where) for key, where in names.items()},
        "identifiers": {
            record[kind]: [k] for k, record in enumerate(found) for kind in ("cas", "inchikey")
        },
    }


@cache
def _structures() -> dict[str, tuple[int, ...]]:
    found: dict[str, set[int]] = {}
    for k, record in enumerate(records()):
        for text in record["spellings"]:
            found.setdefault(text, set()).add(k)
    for k, record in enumerate(records()):
        found[record["smiles"]] = {k}
    return {text: tuple(sorted(where)) for text, where in found.items()}


def _by_identifier(text: str) -> tuple[int, ...]:
    upper = text.upper()
    if not (CAS.match(upper) or INCHIKEY.match(upper)):
        return ()
    return tuple(index()["identifiers"].get(upper, ()))


def _by_name(text: str) -> tuple[int, ...]:
    names = index()["names"]
    for variant in _variants(text):
        if variant and variant in names:
            return tuple(names[variant])
    return ()


def _by_smiles(text: str) -> tuple[int, ...]:
    return _structures().get(text, ())


def _advice(text: str) -> str:
    if CAS.match(text):
        digits = text.replace("-", "")
        total = sum(int(d) * k for k, d in enumerate(reversed(digits[:-1]), 1))
        if total % 10 != int(digits[-1]):
            return f"{ACCEPTED}; the check digit of this CAS number is wrong"
        return f"{ACCEPTED}; this CAS number is not in it"
    if INCHIKEY.match(text.upper()):
        return f"{ACCEPTED}; this InChIKey is not in it"
    near = _nearest(text)
    if near:
        return f"{ACCEPTED}; did you mean {' or '.join(near)}?"
    return ACCEPTED


def _nearest(text: str) -> list[str]:
    from difflib import get_close_matches  # noqa: PLC0415 -- only a wrong name pays for it

    names = index()["names"]
    out: list[str] = []
    for close in get_close_matches(_plain(text), list(names), n=12, cutoff=0.75):
        for k in names[close]:
            name = record_at(k)["name"]
            if name not in out:
                out.append(name)
    return out[:SUGGESTIONS]
