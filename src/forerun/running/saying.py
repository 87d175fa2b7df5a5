"""Whether the readings decide, in one plain sentence."""

from __future__ import annotations

import math

__all__ = ["said_of"]

_FITS = 2.0  # root mean square miss over its error from which readings and sheet disagree
_NARROWED = 0.8  # of the width before: less has not been narrowed


def said_of(read: bool, misfit: float, narrowed: float) -> tuple[str, str]:
    """Return state and sentence.

    Args:
        read: whether there are readings enough to teach anything.
        misfit: root mean square of readings less members, over their errors [-].
        narrowed: width of the next event's time over that before any reading [-]; not-a-number
            where there is nothing to compare.

    Returns:
        ``waiting``, ``undecided`` or ``decided``, and why.
    """
    if not read:
        return "waiting", "Too few readings yet: this is the forecast of the sheet."
    if misfit > _FITS:
        return "undecided", (
            f"The readings miss the corrected forecast by {misfit:.1f} times their errors: "
            "something happens that the sheet does not describe. Trust the readings, look at the "
            "still, and do not switch by this forecast alone."
        )
    if math.isfinite(narrowed) and narrowed > _NARROWED:
        return "undecided", (
            "The readings do not decide yet: the time of the next event is hardly better known "
            "than before the run."
        )
    return "decided", "The readings have corrected the forecast."
