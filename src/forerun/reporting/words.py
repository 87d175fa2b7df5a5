"""Small matters of language."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["WHOLE_DEGREE", "capital", "listed", "shortened"]

WHOLE_DEGREE = 5.0  # K; the band for which a temperature is written without decimals

_SMALL = ("n", "o", "m", "p", "tert", "sec", "cis", "trans", "alpha", "beta", "gamma")


def capital(name: str) -> str:
    """Return a name as it starts a sentence; n-, tert- and digits in front stay as they are."""
    prefix, hyphen, _ = name.partition("-")
    if hyphen and prefix in _SMALL:
        return name
    return name[:1].upper() + name[1:]


def listed(words: Sequence[str], last: str = "and") -> str:
    """Return ``a, b and c``; empty for none."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"


def shortened(text: str, longest: int) -> str:
    """Return a text of at most so many characters, an ellipsis where it was cut."""
    return text if len(text) <= longest else f"{text[: longest - 1].rstrip(' ,;')}…"
