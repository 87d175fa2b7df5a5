"""Files that an answer rests on, kept in its question and laid out again for another look."""

from __future__ import annotations

import base64
import binascii
import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from forerun.core.errors import BadInput

__all__ = ["files_asked", "laid_out"]

_NAME = re.compile(r"(?:[A-Za-z0-9-]{1,16}/)?[A-Za-z0-9-]{1,16}\.(?:csv|toml)")
_ACCEPTED = 'names such as "B07.csv" or "S01/answer.toml", each with its text'


def files_asked(folder: Path, paths: Sequence[Path]) -> dict[str, Any]:
    """Return what files hold, by their names within a folder.

    Args:
        folder: that they lie in.
        paths: of the files; those that cannot be read are left out.

    Returns:
        Their text; what is no UTF-8 as a table with ``base64``.
    """
    found: dict[str, Any] = {}
    for path in paths:
        try:
            raw = path.read_bytes()
        except OSError:
            continue  # whoever reads it for the answer says so there
        try:
            held: Any = raw.decode("utf-8")
        except UnicodeDecodeError:
            held = {"base64": base64.b64encode(raw).decode("ascii")}
        found[path.relative_to(folder).as_posix()] = held
    return found


@contextmanager
def laid_out(files: Any, field: str) -> Iterator[Path]:
    """Lay files out in a folder that is gone afterwards.

    Args:
        files: as `files_asked` returned them; from a file that anybody may have written.
        field: what they are called in messages.

    Raises:
        BadInput: a name that leads elsewhere, or something that is no text.
    """
    if not isinstance(files, Mapping):
        raise BadInput(field, str(files)[:60], _ACCEPTED)
    with TemporaryDirectory(prefix="forerun-") as name:
        for place, held in files.items():
            if not _NAME.fullmatch(place):
                raise BadInput(field, place[:60], _ACCEPTED)
            path = Path(name, place)
            path.parent.mkdir(exist_ok=True)
            path.write_bytes(_raw(held, field))
        yield Path(name)


def _raw(held: Any, field: str) -> bytes:
    try:
        if isinstance(held, Mapping):
            return base64.b64decode(held["base64"], validate=True)
        if isinstance(held, str):
            return held.encode("utf-8")
    except (KeyError, TypeError, ValueError, binascii.Error) as problem:
        raise BadInput(field, str(held)[:60], _ACCEPTED) from problem
    raise BadInput(field, str(held)[:60], _ACCEPTED)
