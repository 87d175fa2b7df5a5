"""Whatever goes wrong as the contract's error object; never a traceback."""

from __future__ import annotations

import sys
import traceback
from typing import Any

from forerun.core.errors import BadInput, CalculationFailed, NotCovered, NotStored

__all__ = ["BAD_INPUT", "NO_ROOM", "OWN_FAILURE", "error_object", "status_of"]

BAD_INPUT, OWN_FAILURE, NO_ROOM = 422, 500, 503
_LONGEST = 200  # characters of a value that are sent back


def status_of(problem: BaseException) -> int:
    """Return 422 for what the user can put right, 503 for a disk that takes no more, else 500."""
    if isinstance(problem, NotStored):
        return NO_ROOM
    return BAD_INPUT if isinstance(problem, BadInput | NotCovered) else OWN_FAILURE


def error_object(problem: BaseException) -> dict[str, Any]:
    """Return ``{"error": {"field", "value", "accepted", "message"}}`` for what was raised."""
    if isinstance(problem, BadInput):
        return _error(problem.field, str(problem.value), problem.accepted, str(problem))
    if isinstance(problem, NotCovered):
        return _error(problem.what, "", problem.advice, str(problem))
    if isinstance(problem, CalculationFailed):
        return _error("", "", problem.advice, str(problem))
    if isinstance(problem, NotStored):
        return _error("", problem.where, "the same once more, after making room", str(problem))
    # the one place where the server tells its own log more than it tells the browser
    traceback.print_exception(problem, file=sys.stderr)
    message = (
        f"forerun itself failed ({type(problem).__name__}); please report it to the project's "
        "issue list with the sheet and with what the server printed."
    )
    return _error("", "", "", message)


def _error(field: str, value: str, accepted: str, message: str) -> dict[str, Any]:
    parts = {"field": field, "value": value[:_LONGEST], "accepted": accepted, "message": message}
    return {"error": parts}
