"""Read a data file of this room and prove that it is the one that was built."""

from __future__ import annotations

import gzip
import hashlib
import json
from importlib.resources import files
from typing import Any

from forerun.core.errors import CalculationFailed

__all__ = ["load_data"]


def load_data(name: str) -> Any:
    """Return the content of ``data/<name>``, a gzipped JSON file with its checksum beside it.

    Args:
        name: file name, e.g. ``groups.json.gz``.

    Returns:
        The decoded JSON tree.

    Raises:
        CalculationFailed: when the bytes are not those that the checksum was taken of.
    """
    folder = files("forerun.equilibrium") / "data"
    data = (folder / name).read_bytes()
    stated = (folder / f"{name}.sha256").read_text(encoding="utf-8").split()[0]
    if hashlib.sha256(data).hexdigest() != stated:
        raise CalculationFailed(
            f"reading {name}",
            "its checksum differs from the one stated",
            "Install the package again; a built data file is never edited by hand.",
        )
    return json.loads(gzip.decompress(data))
