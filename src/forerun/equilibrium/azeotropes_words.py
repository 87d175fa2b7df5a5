"""What is said of an azeotrope that may or may not exist: the same words in every answer."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["close_to_words", "likely_words", "undecided_words"]


def close_to_words(near: Sequence[str]) -> str:
    """Return what an azeotrope that may exist would be close to.

    Args:
        near: the name of a pure liquid, or those of what forms another azeotrope.
    """
    return f"close to pure {near[0]}" if len(near) == 1 else f"close to that of {_joined(near)}"


def undecided_words(names: Sequence[str], kind: str, probability: float, at: str = "") -> str:
    """Return that an azeotrope may or may not exist, in the words that every answer uses.

    Args:
        names: of what would form it.
        kind: ``minimum``, ``maximum`` or ``saddle``.
        probability: that it exists [-].
        at: the pressure in words; may be empty.

    Returns:
        A clause that begins with the names.

    Not a published model: words only.
    """
    where = f" at {at}" if at else ""
    likely = likely_words(probability)
    return f"{_joined(names)} may or may not have a {kind} azeotrope{where} ({likely})"


def likely_words(probability: float) -> str:
    """Return a probability in words.

    Args:
        probability: [-].

    Returns:
        ``probability 49 %``.

    Not a published model: words only.
    """
    return f"probability {100.0 * probability:.0f} %"


def _joined(names: Sequence[str]) -> str:
    return " and ".join((", ".join(names[:-1]), names[-1])) if len(names) > 1 else names[0]
