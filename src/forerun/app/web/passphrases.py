"""The pass-phrases of a server that others may ask: kept as salted hashes, never as text.

Each role has one. The file lies in the user's own folder, readable by nobody else.
Source: scrypt, RFC 7914 (2016); the costs are 32 MB of memory and some 0.1 s for each guess.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import json
import os
import secrets
from pathlib import Path

from forerun.core.errors import BadInput
from forerun.core.places import user_folder

__all__ = ["LONGEST", "ROLES", "SHORTEST", "PassPhrases"]

ROLES = ("reader", "bench", "instructor")
"""From the one that may least to the one that may most."""
SHORTEST, LONGEST = 10, 200  # characters
_FILE = "access.json"
_COST, _BLOCK, _LANES, _MEMORY = 2**15, 8, 1, 64 * 2**20
_SALT = 16  # bytes


class PassPhrases:
    """The pass-phrases of this user's server.

    Args:
        folder: where the file is; the user's own when left out.
    """

    def __init__(self, folder: Path | None = None) -> None:
        self._path = (user_folder() if folder is None else folder) / _FILE

    def roles(self) -> tuple[str, ...]:
        """Return the roles that have a pass-phrase."""
        return tuple(role for role in ROLES if role in self._read())

    def put(self, role: str, phrase: str) -> None:
        """Keep a pass-phrase; that of before is gone.

        Raises:
            BadInput: no such role, a phrase too short or long, one that another role has, or a
                folder that cannot be written.
        """
        _must_be_a_role(role)
        if not SHORTEST <= len(phrase) <= LONGEST or len(set(phrase)) < SHORTEST // 2:
            shown = f"one of {len(phrase)} characters"  # never the phrase itself
            accepted = f"{SHORTEST} to {LONGEST} characters, not all the same"
            raise BadInput("pass-phrase", shown, accepted)
        kept = self._read()
        if any(_fits(phrase, kept[other]) for other in kept if other != role):
            raise BadInput("pass-phrase", "that of another role", "one for each role")
        salt = secrets.token_bytes(_SALT)
        kept[role] = {"salt": _text(salt), "hash": _text(_hash(phrase, salt))}
        self._write(kept)

    def drop(self, role: str) -> None:
        """Take the pass-phrase of a role away; nobody comes in as that any more.

        Raises:
            BadInput: no such role, or it has none.
        """
        _must_be_a_role(role)
        kept = self._read()
        if role not in kept:
            raise BadInput("role", role, f"a role with a pass-phrase: {', '.join(kept) or 'none'}")
        del kept[role]
        self._write(kept)

    def fits(self, role: str, phrase: str) -> bool:
        """Return whether this is the pass-phrase of the role; as slow for a role without one."""
        kept = self._read().get(role)
        found = _fits(phrase[:LONGEST], kept or _NOBODY)
        return found and kept is not None

    def _read(self) -> dict[str, dict[str, str]]:
        try:
            kept: dict[str, dict[str, str]] = json.loads(self._path.read_text("utf-8"))
            for row in kept.values():
                base64.b64decode(row["salt"]), base64.b64decode(row["hash"])
        except FileNotFoundError:
            return {}
        except (OSError, ValueError, KeyError, TypeError, AttributeError) as problem:
            accepted = "the file that `forerun passphrase` writes; remove it and set them again"
            raise BadInput("pass-phrases", str(self._path), accepted) from problem
        return kept

    def _write(self, kept: dict[str, dict[str, str]]) -> None:
        aside = self._path.with_suffix(".part")
        try:
            self._path.parent.mkdir(parents=True, exist_ok=True)
            aside.unlink(missing_ok=True)
            handle = os.open(aside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                json.dump(kept, file)
            aside.replace(self._path)
        except OSError as problem:
            reason = (problem.strerror or type(problem).__name__).lower()
            raise BadInput("pass-phrases", str(self._path), f"a folder to write ({reason})") from (
                problem
            )


def _must_be_a_role(role: str) -> None:
    if role not in ROLES:
        raise BadInput("role", role, ", ".join(ROLES))


def _hash(phrase: str, salt: bytes) -> bytes:
    raw = phrase.encode("utf-8", "surrogatepass")
    return hashlib.scrypt(raw, salt=salt, n=_COST, r=_BLOCK, p=_LANES, maxmem=_MEMORY)


def _fits(phrase: str, kept: dict[str, str]) -> bool:
    expected = base64.b64decode(kept["hash"])
    return hmac.compare_digest(_hash(phrase, base64.b64decode(kept["salt"])), expected)


def _text(raw: bytes) -> str:
    return base64.b64encode(raw).decode("ascii")


_NOBODY = {"salt": _text(bytes(_SALT)), "hash": _text(bytes(64))}
