"""Small matters of language."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["WHOLE_DEGREE", "agreement", "bath_words", "capital", "listed", "shortened"]

WHOLE_DEGREE = 5.0  # K; the band for which a temperature is written without decimals

_SMALL = ("n", "o", "m", "p", "tert", "sec", "cis", "trans", "alpha", "beta", "gamma")


_NO_BATH = {"metal block": "metal block", "mantle": "heating mantle", "hot air": "hot-air bath"}
_EXACT = 1e-6  # share from which a difference is worth its own number


def bath_words(heater: str) -> str:
    """Return what heats the flask as it is called at the bench: ``water bath``.

    Args:
        heater: its name in the drawer.
    """
    return _NO_BATH.get(heater, f"{heater} bath")


def agreement(difference: float) -> str:
    """Return how well two sums agree, in per cent.

    Args:
        difference: between them, as a share [-].
    """
    if difference < _EXACT:
        return f"better than {100.0 * _EXACT:.4f} %"
    return f"{100.0 * difference:.1g} %"


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
