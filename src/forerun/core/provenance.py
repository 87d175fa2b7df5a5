"""What made a result: the versions of what computed it, and a checksum of the shipped data."""

from __future__ import annotations

import hashlib
import platform
from collections.abc import Mapping
from functools import cache
from importlib import metadata
from pathlib import Path
from typing import Any

__all__ = ["data_files", "data_sha256", "made_by", "signed"]

_PACKAGE = Path(__file__).resolve().parents[1]
_COMPUTES = ("numpy", "scipy", "llvmlite")  # numba leaves its traces in what llvmlite places


def data_files() -> tuple[Path, ...]:
    """Return every shipped file of data that a number may rest on, sorted."""
    return tuple(sorted(path for path in _PACKAGE.glob("*/data/*") if path.is_file()))


@cache
def data_sha256() -> str:
    """Return one checksum over names and contents of all shipped data, 64 hex digits."""
    digest = hashlib.sha256()
    for path in data_files():
        name = path.relative_to(_PACKAGE).as_posix()
        digest.update(f"{name}\0{hashlib.sha256(path.read_bytes()).hexdigest()}\n".encode())
    return digest.hexdigest()


@cache
def made_by() -> dict[str, str]:
    """Return versions by name, the kind of machine and the checksum of the data."""
    return {
        "forerun": metadata.version("forerun"),
        "python": platform.python_version(),
        **{name: metadata.version(name) for name in _COMPUTES},
        "machine": f"{platform.system()} {platform.machine()}",
        "data_sha256": data_sha256(),
    }


def signed(found: Mapping[str, Any], asked: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """Return an answer's object with what made it and, where it is known whole, the question.

    Args:
        found: the object.
        asked: the question, so that `forerun reproduce` can ask it again.
    """
    question = {"asked": dict(asked)} if asked else {}
    return {**found, **question, "made_by": made_by()}
