"""Every error that forerun raises on purpose.

The family::

    ForerunError
    ├── BadInput             a value that the user can put right (exit code 2, HTTP 422)
    ├── NotCovered           the question is sound, the models or data do not reach it
    ├── NotStored            the disk did not take it: nothing was kept, send it again (HTTP 503)
    └── CalculationFailed    our own failure: a solver that did not arrive (exit code 1)
"""

from __future__ import annotations

__all__ = ["BadInput", "CalculationFailed", "ForerunError", "NotCovered", "NotStored"]


class ForerunError(Exception):
    """Base of every error raised on purpose; `str()` is one sentence for a person."""


class BadInput(ForerunError):  # noqa: N818 -- says what happened, not that it is an error
    """A value that cannot be used as given.

    Args:
        field: where it stands, as the user wrote it, e.g. ``charge[1].amount``.
        value: what was given.
        accepted: what would be accepted, e.g. ``an amount with a unit, such as "60 mL"``.
    """

    def __init__(self, field: str, value: object, accepted: str) -> None:
        self.field = field
        self.value = value
        self.accepted = accepted
        stop = "" if accepted.endswith("?") else "."
        super().__init__(f"{field}: {_shown(value)} cannot be used; accepted: {accepted}{stop}")


class NotCovered(ForerunError):  # noqa: N818 -- says what happened, not that it is an error
    """A sound question outside what the models or the data cover.

    Args:
        what: the quantity or case asked for.
        why: what is missing.
        advice: the next step for the user.
    """

    def __init__(self, what: str, why: str, advice: str) -> None:
        self.what = what
        self.why = why
        self.advice = advice
        super().__init__(f"{what} is not covered: {why}. {advice}")


class CalculationFailed(ForerunError):  # noqa: N818 -- says what happened, not that it is an error
    """A solver that did not arrive, with the state that it reached.

    Args:
        what: the calculation.
        state: where it stopped, with units.
        advice: what may help.
    """

    def __init__(self, what: str, state: str, advice: str) -> None:
        self.what = what
        self.state = state
        self.advice = advice
        super().__init__(f"{what} did not finish ({state}). {advice}")


class NotStored(ForerunError):  # noqa: N818 -- says what happened, not that it is an error
    """What was to be kept is not on disk, and nothing of it.

    Args:
        where: the file.
        why: what the disk or the file says.
    """

    def __init__(self, where: str, why: str) -> None:
        self.where = where
        self.why = why
        super().__init__(f"Nothing was stored in {where}: {why}. Make room, then send it again.")


def _shown(value: object, longest: int = 60) -> str:
    text = value if isinstance(value, str) else repr(value)
    text = "".join(c if c.isprintable() else "�" for c in text)
    return f'"{text[: longest - 1]}…"' if len(text) > longest else f'"{text}"'
