"""A slip for each student of a class with hidden runs: the ticket and the task, to be cut apart."""

from __future__ import annotations

from collections.abc import Sequence

from forerun.reporting.typeset import typeset

__all__ = ["slips_pdf"]


def slips_pdf(title: str, task: Sequence[str], tickets: Sequence[str]) -> bytes:
    """Return slips on A4, two beside each other.

    Args:
        title: of the sheet.
        task: what is told of it, in sentences.
        tickets: one for each student.
    """
    how = 'On the page: "For a class", "I have a slip", then this number.'
    return typeset("slips", {"title": title, "task": list(task), "how": how, "slips": [*tickets]})
